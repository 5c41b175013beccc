"""Notebook entries sorted into readings."""

import pandas as pd
import pytest

from shaftwright.files.notebook import parse_notebook
from shaftwright.measure.brace import creep
from shaftwright.measure.compare import compare
from shaftwright.measure.frames import frames
from shaftwright.measure.sweep import sweep

NOTEBOOK = """\
- {kind: chrono, speed: 171 fps, arrow_mass: 505 gr, string: A, stringing: 1}
- {kind: chrono, speed: 172 fps, arrow_mass: 505 gr, string: A, stringing: 1}
- {kind: chrono, speed: 52 m/s, arrow_mass: 505 gr, string: B, stringing: 1}
- {kind: chrono, speed: 170 fps, string: B, stringing: 1, rig_state: {brace: 7 1/4 in}}
- {kind: sound, level: 84.2 dB, weighting: A, response: max, background: 55 dB, string: A, stringing: 1}
- {kind: change, what: limbs, note: lighter set, rig_state: {limbs_id: heron-2, draw_weight: 47 lb}}
- {kind: brace, brace: 7 3/8 in, shots_on: 60, twists: 20}
- kind: bareshaft
  build: {shaft: MARSH-400, length: 29 1/2 in}
  distance: 20 yd
  bare: [[-3.0, 0.5], [-2.0, 1.0]]
  rig_state: {brace: 7 1/2 in}
"""


def test_every_kind_lands_in_its_table():
    found = frames(parse_notebook(NOTEBOOK, "notebook").entries)
    assert found.speeds["speed_fps"].tolist() == pytest.approx([171, 172, 52 / 0.3048, 170])
    assert found.speeds["brace_in"].tolist()[3] == 7.25
    assert found.levels["background_db"].tolist() == [55.0]
    assert found.braces[["brace_in", "shots_on", "twists", "period"]].values.tolist() == [
        [7.375, 60, 20, 1]
    ]
    assert found.bare[["brace_in", "x_in", "y_in"]].values.tolist() == [
        [7.5, -3.0, 0.5],
        [7.5, -2.0, 1.0],
    ]


def test_tables_feed_what_follows():
    found = frames(parse_notebook(NOTEBOOK, "notebook").entries)
    result = compare(found.speeds, sound=found.levels).to_dict()
    assert [g["name"] for g in result["groups"]] == ["A", "B"]
    assert result["sound"]["groups"][0]["n"] == 1
    assert creep(found.braces).n == 1
    assert sweep(found.speeds, found.levels, found.bare).speed is not None


def test_an_empty_notebook_gives_empty_tables():
    found = frames([])
    assert all(isinstance(f, pd.DataFrame) and not len(f) for f in vars(found).values())
    assert "stringing" in found.speeds.columns
