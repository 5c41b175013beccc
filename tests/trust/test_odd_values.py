"""Values that no archer means: refused in one line that names file, line and field."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig

HERON = Path("examples/heron_marsh")


def refused(*words):
    done = CliRunner().invoke(cli, [str(word) for word in words])
    assert isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code == 2
    (line,) = done.stderr.splitlines()
    return line


@pytest.mark.parametrize("value", ["nan", "NaN", "inf", "-inf", "1e999", "1e12"])
@pytest.mark.parametrize(
    "words",
    [("shop", "--chance"), ("shop", "--breakage"), ("shop", "--budget"), ("choose", "--chance"),
     ("shop", "--arrows"), ("choose", "--top"), ("launch", "--draws"), ("report", "--arrows"),
     ("flight", "--slope"), ("flight", "--wind"), ("flight", "--pressure"), ("flight", "--humidity"),
     ("efficiency", "--masses"), ("compare", "--distance")],
)  # fmt: skip
def test_no_number_option_takes_what_is_no_number(words, value):
    line = refused(words[0], HERON, words[1], value)
    assert words[1] in line


@pytest.mark.parametrize(
    ("words", "told"),
    [(("choose", HERON, "--set", "rig=\udcff"), "bytes that are no text"),
     (("build", HERON, "--shaft", "\udcff"), "--shaft"),
     (("card", HERON, "--date", "0"), "--date"),
     (("note", HERON, "chrono", "--speed", "171", "--date", "0"), "--date"),
     (("note", HERON, "chrono", "--speed", "171", "--remark", "\udcff"), "remark")],
)  # fmt: skip
def test_bytes_of_no_text_and_days_of_no_year_are_refused(words, told):
    before = (HERON / "notebook.yaml").read_bytes()
    assert told in refused(*words)
    assert (HERON / "notebook.yaml").read_bytes() == before


@pytest.mark.parametrize(
    "day", ["0", "2026", "20260531", "'0'", "1.5", "2026-13-01", "true", "'2026-05-31T10:00'"]
)
def test_a_number_is_no_date(tmp_path, day):
    path = tmp_path / "n.yaml"
    path.write_text(f"- {{kind: chrono, speed: 171, date: {day}}}\n")
    with pytest.raises(InputError) as caught:
        load_notebook(path)
    assert str(caught.value).startswith(f"{path}:1: date: ")
    path.write_text("- {kind: chrono, speed: 171, date: 2026-05-31}\n")
    assert load_notebook(path).entries[0].date.isoformat() == "2026-05-31"


def test_every_fault_names_file_line_and_field(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(
        '- {kind: chrono, speed: 171}\n- {kind: chrono,\n   spied: 1, speed: 171}\n- {kind: chrono,\n   remark: "a\x01"}\n'
    )
    first, second = load_notebook(path).faults
    assert (first.line, first.field) == (3, "spied")
    assert second.line == 5
    assert "control character" in second.problem
    rig = tmp_path / "r.yaml"
    text = (HERON / "rig.yaml").read_text(encoding="utf-8")
    rig.write_text("# \u00fc\n" + text + 'purpose: "x\x02"\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_rig(rig)
    assert caught.value.faults[0].line == text.count("\n") + 2
    with pytest.raises(InputError) as caught:
        load_rig(HERON / "rig.yaml", ["bow.draw_weight={curve: [[10, 1], [9, 2], [8, 3]]}"])
    assert caught.value.faults[0].field == "bow.draw_weight"
    assert caught.value.faults[0].line


def test_more_energy_than_the_bow_can_store_is_refused(tmp_path):
    book = tmp_path / "n.yaml"
    for speeds, code in (((400, 390), 1), ((171, 166), 0)):
        book.write_text("".join(
            f"- {{kind: chrono, speed: {v + d}, arrow_mass: {m}, string: A}}\n"
            for v, m in zip(speeds, (600, 640), strict=True) for d in (0, 1, -1)
        ))  # fmt: skip
        done = CliRunner().invoke(cli, ["efficiency", str(HERON), "--notebook", str(book)])
        assert done.exit_code == code, done.output
        assert ("cannot store more than" in done.stderr) == bool(code)


#: commands one after the other, each ended by a nought
ONE_AFTER_THE_OTHER = """
import sys
from shaftwright.cli.main import main
for words in sys.argv[1:]:
    sys.argv = ["shaftwright", *words.split()]
    try:
        main()
    except SystemExit as end:
        assert not end.code, words
    print(end="\\0")
"""
FULL = f"choose {HERON} --full"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("encoding", "commands"),
    [("latin-1", [FULL]), ("cp437", [FULL]),
     ("ascii", [FULL, f"explain {HERON}", f"card {HERON}", "rules list", f"choose {HERON} --json"])],
)  # fmt: skip
def test_a_terminal_of_few_signs_gets_an_answer(encoding, commands):
    done = subprocess.run(
        [sys.executable, "-c", ONE_AFTER_THE_OTHER, *commands],
        env={**os.environ, "PYTHONIOENCODING": encoding}, capture_output=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    *told, nothing = done.stdout.split(b"\0")
    assert nothing == b""
    assert len(told) == len(commands)
    assert all(told)
    if encoding == "ascii":
        assert json.loads(told[-1].decode("ascii"))["format"] == 2
