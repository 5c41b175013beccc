"""What is written never spoils what stands there, whatever it is and however the save ends.

Modes, hard links and pipes as POSIX has them (open, rename, link, mkfifo; recalled).
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.files.atomic import MARKS, locked, may_write, write_atomic
from shaftwright.files.notebook import append_entry, load_notebook
from shaftwright.records.notebook import Weigh

EXAMPLES = Path(__file__).parents[2] / "examples"
NUMBERS = ("--spine", "500", "--gr-per-in", "8", "--length", "30 in", "--front", "200 gr")
OUTPUTS = (
    ("report", "--html", "out.html"), ("card", "--html", "out.html"), ("shop", "--csv", "out.csv"),
    ("choose", "--plot", "out.svg"), ("choose", "--plot", "out.png"), ("choose", "--plot", "out.pdf"),
)  # fmt: skip
#: one of each kind of file; the others' marks are looked at by what the commands ask
THROUGH_THE_COMMAND = {("card", "out.html"), ("shop", "out.csv"), ("choose", "out.svg")}


@pytest.fixture
def bow(tmp_path):
    folder = tmp_path / "bow"
    shutil.copytree(EXAMPLES / "heron_marsh", folder)
    return folder


def run(*words):
    done = CliRunner().invoke(cli, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def content(folder):
    return {p.name: p.read_bytes() for p in folder.iterdir()}


@pytest.mark.parametrize("file", ["rig.yaml", "stock.csv", "notebook.yaml", "before.yaml"])
@pytest.mark.parametrize(
    "command", [("report", "--html"), ("card", "--html"), ("sheet", "--html"), ("shop", "--csv")]
)
@pytest.mark.parametrize("force", [(), ("--force",)])
def test_no_output_goes_over_an_input(bow, file, command, force):
    before = content(bow)
    code, _, told = run(command[0], bow, command[1], bow / file, *force)
    assert code == 2
    assert told.startswith(f"{bow / file}: is there already and is no ")
    assert content(bow) == before


@pytest.mark.slow
@pytest.mark.parametrize(("name", "option", "file"), OUTPUTS)
def test_an_earlier_output_is_replaced_only_when_that_is_wanted(bow, tmp_path, name, option, file):
    out = tmp_path / file
    assert run(name, bow, option, out)[0] == 0
    first = out.read_bytes()
    if (name, file) not in THROUGH_THE_COMMAND:
        kind = "picture" if option == "--plot" else name
        with pytest.raises(InputError, match="add --force"):
            may_write(out, kind, force=False)
        may_write(out, kind, force=True)
        return
    code, _, told = run(name, bow, option, out)
    assert (code, out.read_bytes()) == (2, first)
    assert "add --force" in told
    os.utime(out, (1, 1))
    assert run(name, bow, option, out, "--force")[0] == 0
    assert out.stat().st_mtime > 1


def test_a_card_never_takes_the_place_of_a_report(bow, tmp_path):
    out = tmp_path / "page.html"
    first = b"<!DOCTYPE html>\n" + MARKS["report"]
    out.write_bytes(first)
    assert may_write(out, "report", force=True) is None
    assert run("card", bow, "--html", out, "--force")[0] == 2
    assert out.read_bytes() == first


def test_a_picture_of_another_hand_stays(tmp_path):
    for name, data in (
        ("a.svg", b"<svg>mine</svg>"),
        ("a.png", b"\x89PNG mine"),
        ("a.html", b"<!DOCTYPE html>"),
    ):
        path = tmp_path / name
        path.write_bytes(data)
        with pytest.raises(InputError, match="not overwritten"):
            may_write(path, "report" if name.endswith("html") else "picture", force=True)
    (tmp_path / "stock.csv").write_bytes(
        b"item,kind\n" + MARKS["list"]
    )  # the words alone are not enough
    with pytest.raises(InputError):
        may_write(tmp_path / "stock.csv", "list", force=True)
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
    with pytest.raises(InputError):
        may_write(tmp_path / "gone", "list", force=True)


def test_a_save_keeps_mode_and_symbolic_link(tmp_path):
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "n.yaml", tmp_path / "n.yaml"
    real.write_text("")
    real.chmod(0o640)
    link.symlink_to(real)
    append_entry(link, Weigh(item="a", mass=1))
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert len(load_notebook(real).entries) == 1


def test_a_hard_link_stays_one_file(tmp_path):
    one, two = tmp_path / "n.yaml", tmp_path / "twin.yaml"
    append_entry(one, Weigh(item="a", mass=1))
    os.link(one, two)
    append_entry(one, Weigh(item="b", mass=2))
    assert os.path.samefile(one, two)
    assert [e.item for e in load_notebook(two).entries] == ["a", "b"]
    before = two.read_bytes()
    with pytest.raises(InputError, match="hard link"):
        write_atomic(one, "something else")
    assert one.read_bytes() == two.read_bytes() == before


def test_a_read_only_file_is_refused(bow):
    book = bow / "notebook.yaml"
    before = book.read_bytes()
    book.chmod(0o444)
    code, _, told = run("note", bow, "chrono", "--speed", "171", "--arrow-mass", "500")
    assert code == 2
    assert told.strip().endswith(
        "notebook.yaml: is read-only, so nothing was written; allow writing to it first"
    )
    assert book.read_bytes() == before


@pytest.mark.parametrize("words", [("next", "PIPE"), ("note", "PIPE", "chrono", "--speed", "171"),
                                   ("choose", "BOW", "--stock", "PIPE"), ("next", "BOW", "--notebook", "PIPE")])  # fmt: skip
def test_a_pipe_in_place_of_a_file_is_refused_and_nobody_waits(bow, tmp_path, words):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    places = {"PIPE": str(pipe), "BOW": str(bow)}

    def waited(*_):
        raise TimeoutError("it waits for a writer")

    before = signal.signal(signal.SIGALRM, waited)
    signal.alarm(30)
    try:
        code, _, told = run(*(places.get(w, w) for w in words))
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    assert code == 2
    assert told.strip() == f"{pipe}: is not a plain file"


def test_any_later_save_takes_away_what_a_killed_one_left(tmp_path):
    path = tmp_path / "page.html"
    code = ("import os, sys\nfrom shaftwright.files import atomic\natomic.os.replace = lambda *_: os._exit(9)\n"
            "atomic.write_atomic(sys.argv[1], 'half')")  # fmt: skip
    for _ in range(2):
        assert subprocess.run([sys.executable, "-c", code, str(path)], check=False).returncode == 9
        assert len(list(tmp_path.iterdir())) == 1  # the one before is gone
    mine = tmp_path / ".page.html.shaftwright-mine"
    mine.touch()  # not named as a temporary file is
    write_atomic(
        tmp_path / "other.html", "whole"
    )  # a kept version is never written again by its name
    assert {p.name for p in tmp_path.iterdir()} == {"other.html", mine.name}


def test_who_holds_a_folder_may_write_in_it(tmp_path):
    with locked(tmp_path), locked(tmp_path):
        write_atomic(tmp_path / "a", b"1")
    write_atomic(tmp_path / "a", "2")
    assert (tmp_path / "a").read_text() == "2"


def test_a_full_disk_names_the_file(tmp_path, monkeypatch):
    def full(_):
        raise OSError(28, "No space left on device")

    path = tmp_path / "n.yaml"
    path.write_text("- {kind: weigh, item: a, mass: 1}\n")
    before = path.read_bytes()
    monkeypatch.setattr("shaftwright.files.atomic.os.fsync", full)
    with pytest.raises(OSError, match="No space left") as caught:
        append_entry(path, Weigh(item="b", mass=2))
    assert caught.value.filename == str(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["n.yaml"]
