"""A notebook whose last change tells of another bow than the rig file is pointed out."""

from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from shaftwright.cli.main import cli
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.belief import prior_belief
from shaftwright.inference.evidence.learn import learn
from shaftwright.inference.notebook_rig import rig_now
from shaftwright.records.notebook import BareShaft
from shaftwright.rules.sizes import shipped

RIG = "examples/heron_marsh/rig.yaml"


def notebook(tmp_path, **state):
    text = Path("examples/heron_marsh/notebook.yaml").read_text(encoding="utf-8")
    path = tmp_path / "n.yaml"
    entry = [{"kind": "change", "what": "limbs", "rig_state": state}] if state else []
    path.write_text(
        text.rstrip() + "\n" + (yaml.safe_dump(entry) if entry else ""), encoding="utf-8"
    )
    return path


def test_the_example_agrees_with_its_notebook(tmp_path):
    rig = load_rig(RIG)
    assert rig_now(rig, load_notebook(notebook(tmp_path)).entries) == (rig, ())


@pytest.mark.parametrize(
    ("state", "part", "field"),
    [({"draw_weight": "43 lb"}, "draw weight 43 lb, the rig file 47 lb", "draw_weight"),
     ({"limbs_id": "heron-9"}, "limbs heron-9, the rig file heron-2", "limbs_id"),
     ({"nocking_point": "3/4 in"}, "nocking point 3/4 in, the rig file 3/8 in", "nocking_point")],
)  # fmt: skip
@pytest.mark.slow
def test_what_was_changed_last_counts_and_is_named(tmp_path, state, part, field):
    path = notebook(tmp_path, **state)
    rig = load_rig(RIG)
    now, remarks = rig_now(rig, load_notebook(path).entries)
    assert getattr(now.bow, field) != getattr(rig.bow, field)
    assert len(remarks) == 1
    assert part in remarks[0]
    shown = CliRunner().invoke(
        cli,
        [
            "choose",
            RIG,
            "--notebook",
            str(path),
            "--stock",
            "examples/heron_marsh/stock.csv",
            "--full",
        ],
    )
    assert shown.exit_code == 0, shown.stderr
    assert part in " ".join(shown.stdout.split())


def test_a_new_draw_length_and_release_count(tmp_path):
    rig = load_rig(RIG)
    path = notebook(tmp_path, draw_length="27 in", release="three_under")
    now, remarks = rig_now(rig, load_notebook(path).entries)
    assert (now.archer.draw_length_in, now.archer.release) == (27.0, "three_under")
    assert [r.split(",")[0].rpartition(" says ")[2] for r in remarks] == [
        "draw length 27 in", "release three under"
    ]  # fmt: skip
    # what was weighed at the draw before is not what is held at another
    assert now.bow.draw_weight.at == rig.archer.draw_length_in
    written = load_rig(RIG, ("archer.draw_length=27 in", "archer.release=three_under"))
    assert rig_now(written, load_notebook(path).entries) == (written, ())


def test_a_rig_file_edited_since_counts(tmp_path):
    path = notebook(tmp_path, draw_weight="43 lb")
    rig = load_rig(RIG, ("bow.draw_weight={lb: 40, at: own_draw}",))
    now, remarks = rig_now(rig, load_notebook(path).entries)
    assert now == rig
    assert "the rig file counts" in remarks[0]


def test_a_scale_that_repeats_to_half_a_pound_is_no_other_bow(tmp_path):
    path = notebook(tmp_path, draw_weight="47.5 lb")
    rig = load_rig(RIG)
    assert rig_now(rig, load_notebook(path).entries) == (rig, ())


def test_every_reading_of_a_build_that_cannot_be_made_is_named():
    entries = [
        BareShaft.model_validate(
            {"build": {"shaft": "NOWHERE"}, "distance": "15 yd", "reads": "weak"}
        )
        for _ in range(2)
    ]
    rig = load_rig(RIG)
    found = learn(
        rig,
        shipped(),
        prior_belief(shipped()),
        entries,
        load_stock("examples/heron_marsh/stock.csv"),
        None,
        None,
        [3, 9],
    )
    told = [line for line in found.warnings if "left out" in line]
    assert [line.split(":")[0] for line in told] == ["line 3", "line 9"]


@pytest.mark.slow
def test_a_file_in_a_folder_that_is_not_there_is_named_as_it_was_given(tmp_path):
    said = CliRunner().invoke(cli, ["report", RIG, "--html", str(tmp_path / "no" / "r.html")])
    assert said.exit_code == 2
    assert said.stderr.startswith(f"{tmp_path}/no/r.html: no such file")


def test_a_stock_of_wood_alone_is_not_told_to_buy_inserts(tmp_path):
    rows = Path("examples/heron_marsh/stock.csv").read_text(encoding="utf-8").splitlines()
    kept = [
        r
        for r in rows
        if ",wood," in r or not any(k in r for k in (",shaft,", ",insert,", ",outsert,"))
    ]
    path = tmp_path / "wood.csv"
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    said = CliRunner().invoke(cli, ["choose", "examples/long_fen/rig.yaml", "--stock", str(path)])
    assert said.exit_code == 0, said.stderr
    assert "inserts" not in said.stdout


def test_the_field_at_fault_is_named_where_the_kind_has_a_fields_name(tmp_path):
    said = CliRunner().invoke(
        cli, ["note", str(tmp_path / "n.yaml"), "brace", "--brace", "7 3/8 in", "--shots-on", "-4"]
    )
    assert said.exit_code == 2
    assert "shots_on" in said.stderr
    assert "brace:" not in said.stderr
