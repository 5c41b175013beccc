"""What is noted from Python is what the command notes, and says as much."""

from __future__ import annotations

import shutil
from datetime import date, timedelta

import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.files.notebook import load_notebook

pytestmark = pytest.mark.slow


@pytest.fixture
def folders(tmp_path):
    """The same bow twice, its rig not put aside yet."""
    both = [shutil.copytree("examples/heron_marsh", tmp_path / name) for name in ("one", "other")]
    for folder in both:
        (folder / "before.yaml").unlink()
    return both


def typed(folder, *words):
    result = CliRunner().invoke(cli, ["note", str(folder), *words])
    assert result.exit_code == 0, result.output
    return result


def test_shots_noted_from_python_are_the_commands(folders):
    """Also how the bow stood, without which a later change of the rig file would change what was shot."""
    python, command = folders
    after = shaftwright.open(python).note_bareshaft(fletched=[[0, 0], [1, -1]], bare=[[2, 0]])
    hits = ("--fletched", "0,0", "--fletched", "1,-1", "--bare", "2,0")
    typed(command, "bareshaft", *hits)
    assert after.entries[-1].rig_state.brace_height_in == 7.5
    assert after.entries == load_notebook(command / "notebook.yaml").entries
    assert after.noted.line == after.lines[-1]
    higher = after.note_bareshaft(fletched=[[0, 0]], bare=[[2, 0]], rig_state={"brace": "8 in"})
    typed(command, "bareshaft", "--fletched", "0,0", "--bare", "2,0", "--brace", "8 in")
    assert higher.entries == load_notebook(command / "notebook.yaml").entries


def test_other_limbs_put_the_old_rig_aside_from_python_too(folders):
    python, command = folders
    state = {"limbs_id": "heron-3", "draw_weight": "44 lb"}
    after = shaftwright.open(python).note("change", what="limbs", rig_state=state)
    told = typed(command, "change", "limbs", "--limbs-id", "heron-3", "--draw-weight", "44 lb")
    assert after.entries == load_notebook(command / "notebook.yaml").entries
    assert (python / "before.yaml").read_bytes() == (command / "before.yaml").read_bytes()
    assert after.noted.old_rig is True
    assert after.before is not None
    said = " ".join(told.stdout.split())
    assert after.noted.edits
    for edit in (*after.noted.taken, *after.noted.edits):
        assert " ".join(edit.split()) in said


def test_what_is_hardly_meant_is_a_warning(folders):
    bow = shaftwright.open(folders[0])
    arrow = {"shaft": "MARSH-500", "length": "29 1/2 in", "point": "P175", "insert": "I25"}
    with pytest.warns(UserWarning, match="No arrow is proven yet"):
        after = bow.note("dozen", build=arrow, made=12)
    assert after.noted.besides == ("2 MARSH-500 were in hand: 10 more are taken as bought.",)
    day = (date.today() + timedelta(days=3)).isoformat()
    with pytest.warns(UserWarning, match="still to come"):
        assert bow.note("have", item="MARSH-400", count=2, date=day).noted.doubts


def test_a_bow_of_what_if_notes_nothing(folders):
    other = shaftwright.open(folders[0]).what_if("string.material=polyester")
    before = (folders[0] / "notebook.yaml").read_bytes()
    with pytest.raises(InputError, match=r"string\.material=polyester.*what_if"):
        other.note("have", item="MARSH-400", count=2)
    with pytest.raises(InputError, match="what_if"):
        other.note_bareshaft(reads="weak")
    assert (folders[0] / "notebook.yaml").read_bytes() == before


def test_counts_taken_in_from_another_file_stand_instead_of_the_earlier(folders, tmp_path):
    folder = folders[0]
    typed(folder, "have", "MARSH-400", "2", "--date", "2026-05-30")
    file = tmp_path / "other.yaml"
    file.write_text("- {kind: have, date: 2026-05-30, item: MARSH-400, count: 3}\n")
    result = CliRunner().invoke(cli, ["note", str(folder), "--from", str(file)])
    assert "struck out" in result.output
    entries = load_notebook(folder / "notebook.yaml").entries
    day = date(2026, 5, 30)
    assert [e.count for e in entries if (e.kind, e.date) == ("have", day)] == [3]
