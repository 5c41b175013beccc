"""A notebook whose last change tells of another bow than the rig file is pointed out."""

from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from shaftwright.cli.main import cli
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.match.notebook_rig import unlike_rig

RIG = "examples/heron_marsh.yaml"


def notebook(tmp_path, **state):
    text = Path("examples/heron_marsh.notebook.yaml").read_text(encoding="utf-8")
    path = tmp_path / "n.yaml"
    entry = [{"kind": "change", "what": "limbs", "rig_state": state}] if state else []
    path.write_text(
        text.rstrip() + "\n" + (yaml.safe_dump(entry) if entry else ""), encoding="utf-8"
    )
    return path


def test_the_example_agrees_with_its_notebook(tmp_path):
    assert unlike_rig(load_rig(RIG), load_notebook(notebook(tmp_path)).entries) == ()


@pytest.mark.parametrize(
    ("state", "part"),
    [({"draw_weight": "43 lb"}, "draw weight 43 lb, the rig file 47 lb"),
     ({"limbs_id": "heron-9"}, "limbs heron-9, the rig file heron-2"),
     ({"nocking_point": "3/4 in"}, "nocking point 3/4 in")],
)  # fmt: skip
def test_another_bow_is_named(tmp_path, state, part):
    path = notebook(tmp_path, **state)
    told = unlike_rig(load_rig(RIG), load_notebook(path).entries)
    assert len(told) == 1
    assert part in told[0]
    shown = CliRunner().invoke(
        cli, ["choose", RIG, "--notebook", str(path), "--stock", "examples/stock.csv"]
    )
    assert shown.exit_code == 0, shown.stderr
    assert part in " ".join(shown.stdout.split())


def test_a_scale_that_repeats_to_half_a_pound_is_no_other_bow(tmp_path):
    path = notebook(tmp_path, draw_weight="47.5 lb")
    assert unlike_rig(load_rig(RIG), load_notebook(path).entries) == ()
