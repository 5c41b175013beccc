"""The notebook: every entry stands alone, and an append happens whole or not at all."""

import datetime as dt
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.errors import InputError
from shaftwright.files.notebook import (
    append_entry,
    entry_text,
    load_notebook,
    parse_notebook,
    withdrawal,
)
from shaftwright.records.notebook import ENTRY, BareShaft, Weigh
from warm import WARM

TEXT = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Co", "Cn"), exclude_characters="\ufeff\u2028\u2029\x85"),
    min_size=1, max_size=60,
)  # fmt: skip
OFFSET = st.floats(-40, 40, allow_nan=False)
POINT = st.tuples(OFFSET, OFFSET)


def bare(**more):
    build = {"spine": 500, "gr_per_in": 8, "length": 29, "front": 175}
    return {"kind": "bareshaft", "build": build, "distance": "20 yd", **more}


@given(
    remark=TEXT, name=TEXT.map(str.strip).filter(bool), fletched=st.lists(POINT, max_size=4),
    shots=st.lists(POINT, min_size=1, max_size=4), taped=st.booleans(),
    day=st.none() | st.dates(dt.date(1950, 1, 1), dt.date(2090, 1, 1)),
    side=st.sampled_from(["right", "left", "straight", None]),
)  # fmt: skip
@settings(max_examples=80, deadline=None)
def test_whatever_is_written_reads_back_the_same(remark, name, fletched, shots, taped, day, side):
    bares = [{"at": list(shot), "tail": {"side": side} if side else None} for shot in shots]
    entry = ENTRY.validate_python(
        bare(remark=remark, date=day, fletched=fletched, bare=bares, taped=taped,
             rig_state={"string": name})
    )  # fmt: skip
    book = parse_notebook(entry_text(entry) * 2, "n")
    assert book.faults == ()
    assert book.entries == (entry, entry)


def test_a_remark_that_looks_like_an_entry_stays_a_remark():
    entry = ENTRY.validate_python(bare(reads="stiff", remark="- kind: change: {what: #limbs}"))
    assert parse_notebook(entry_text(entry), "n").entries == (entry,)


GOOD = "- {kind: weigh, item: arrow 1, mass: 500 gr}\n"


@pytest.mark.parametrize(
    ("bad", "told"),
    [
        ("- {kind: weigh, item: arrow 2, mass: 5", "YAML"),
        ("- kind: bareshaft\n  build: {spine: 500, len", "YAML"),
        ("- {kind: weigh, item: x, mass: NaN}\n", "mass"),
        ("- {kind: weigh, item: x, mass: 1e999}\n", "mass"),
        ("- {kind: wiegh, item: x, mass: 3}\n", "allowed"),
        ("- {item: x, mass: 3}\n", "missing"),
        ("- {kind: weigh, item: x, mass: 3, mass: 4}\n", "twice"),
        ("- {kind: weigh, itm: x, mass: 3}\n", "item"),
        ("- &a {kind: weigh, item: x, mass: 3}\n", "anchors"),
        ("- {kind: weigh, item: x}\n", "mass, spine_mils or wood_spine_lb"),
        ("- {kind: weigh, item: x, mass: 3 in}\n", "mass"),
        ("- just words\n", "entry"),
        ("- {kind: bareshaft, build: {spine: 500, length: 29, front: 100}, distance: 20 yd}\n", "bare shots"),
        ("- {kind: bareshaft, build: {spine: 500, length: 29, front: 100}, distance: 20 yd, bare: [[1, x]]}\n", "x"),
    ],
)  # fmt: skip
def test_a_bad_entry_is_named_by_line_and_the_rest_still_read(bad, told):
    book = parse_notebook(
        f"# heading\n{GOOD}{bad if bad.endswith(chr(10)) else bad + chr(10)}{GOOD}", "n"
    )
    assert len(book.entries) == 2
    assert {fault.line for fault in book.faults} <= {3, 4}
    assert any(told in str(fault) for fault in book.faults), [str(f) for f in book.faults]


def test_nothing_readable_is_an_error():
    with pytest.raises(InputError):
        parse_notebook("- just words\n", "n")
    assert parse_notebook("", "n").entries == ()
    assert parse_notebook("# only a remark\n", "n").entries == ()


def test_append_keeps_what_stands_to_the_letter_even_a_torn_entry(tmp_path):
    path = tmp_path / "n.yaml"
    torn = GOOD + "# by hand\r\n- {kind: weigh, item: 'torn"
    path.write_bytes(torn.encode())
    line = append_entry(path, Weigh(item="arrow 9", mass="404 gr"))
    assert path.read_bytes().startswith(torn.encode() + b"\n")
    book = load_notebook(path)
    assert [e.item for e in book.entries] == ["arrow 1", "arrow 9"]
    assert line == book.lines[-1] == 4
    assert [fault.line for fault in book.faults] == [3]


def test_an_append_sweeps_up_after_killed_writers_and_touches_no_other_file(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(GOOD)
    for name in (".n.yaml.original", ".n.yaml.20260501", ".n.yaml.abcd_123", ".other.shaftwright-abcd_123",
                 ".n.yaml.shaftwright-notes.txt"):  # fmt: skip
        (tmp_path / name).write_text("mine")
    # what a writer killed between making and renaming its temporary file leaves
    made = subprocess.run(
        [sys.executable, "-c", "import os, sys\nfrom shaftwright.files import atomic\n"
         "atomic.os.replace = lambda *_: os._exit(9)\natomic.write_atomic(sys.argv[1], 'half')", str(path)],
        check=False,
    )  # fmt: skip
    assert made.returncode == 9
    before = set(os.listdir(tmp_path))
    append_entry(path, Weigh(item="a", mass=1))
    (gone,) = before - set(os.listdir(tmp_path))
    assert gone.startswith(".n.yaml.shaftwright-")
    assert set(os.listdir(tmp_path)) <= before


def test_a_withdrawal_names_the_very_entry_among_many_alike(tmp_path):
    path = tmp_path / "n.yaml"
    same = Weigh(item="a", mass=1)
    append_entry(path, same, Weigh(item="b", mass=2), same)
    for left in (["a", "b"], ["a"], []):
        book = load_notebook(path)
        append_entry(path, withdrawal(book, len(book.entries) - 1))
        assert [e.item for e in load_notebook(path).entries] == left
    # what is noted anew is a third of its kind, and can be struck out as well
    append_entry(path, same)
    book = load_notebook(path)
    assert [e.item for e in book.entries] == ["a"]
    assert withdrawal(book, 0).nth == 3
    append_entry(path, withdrawal(book, 0))
    assert load_notebook(path).entries == ()
    assert [e.item for e in load_notebook(path).withdrawn] == ["a", "b", "a", "a"]


def test_append_goes_through_a_link_and_keeps_it(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link.yaml").symlink_to(tmp_path / "real" / "n.yaml")
    append_entry(tmp_path / "link.yaml", Weigh(item="a", mass=1))
    append_entry(tmp_path / "link.yaml", Weigh(item="b", mass=2))
    assert (tmp_path / "link.yaml").is_symlink()
    assert len(load_notebook(tmp_path / "real" / "n.yaml").entries) == 2


def test_two_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "n.yaml"

    def write(who):
        for i in range(15):
            append_entry(path, Weigh(item=f"{who}-{i}", mass=i))

    threads = [threading.Thread(target=write, args=(w,)) for w in "abc"]
    [t.start() for t in threads]
    [t.join() for t in threads]
    items = [e.item for e in load_notebook(path).entries]
    assert sorted(items) == sorted(f"{w}-{i}" for w in "abc" for i in range(15))


def _write_on(path, said):
    for i in range(100_000):
        append_entry(path, Weigh(item=f"arrow {i}", mass=i % 900, remark="x" * 800))
        said.send(i)


@pytest.mark.slow
def test_a_kill_at_any_instant_leaves_whole_entries(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(GOOD)
    for run in range(12):
        before = len(load_notebook(path).entries)
        heard, told = WARM.Pipe(duplex=False)
        child = WARM.Process(target=_write_on, args=(path, told))
        child.start()
        told.close()
        assert [heard.recv() for _ in range(5)] == list(range(5))
        time.sleep(0.01 + 0.0137 * run)
        os.kill(child.pid, signal.SIGKILL)
        done = 5
        with suppress(EOFError):
            while True:
                assert heard.recv() == done
                done += 1
        child.join()
        heard.close()
        book = load_notebook(path)
        assert book.faults == ()
        # what was reported as written is there; at most one more had just been written
        assert before + done <= len(book.entries) <= before + done + 1
    append_entry(path, Weigh(item="last", mass=1))
    assert [name for name in os.listdir(tmp_path) if name != "n.yaml"] == []


def test_a_full_disk_or_closed_folder_leaves_the_old_notebook(tmp_path, monkeypatch):
    path = tmp_path / "n.yaml"
    path.write_text(GOOD)

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="No space"):
        append_entry(path, Weigh(item="b", mass=2))
    assert path.read_text() == GOOD
    assert os.listdir(tmp_path) == ["n.yaml"]


def test_entry_types():
    entry = parse_notebook(
        entry_text(ENTRY.validate_python(bare(nock="left", marks="plate"))), "n"
    ).entries[0]
    assert isinstance(entry, BareShaft)
    assert entry.nock == ("left",)
