"""What the fuzzers of trust/ found, kept; and a little of each of them, so that they go on working."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[2] / "trust"))
import broken_rules
import fuzz_commands
import fuzz_readers
import odd
from nonsense import nonsense

from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.files.rig import load_rig
from shaftwright.rules.own import load_own

HERON = Path("examples/heron_marsh")


def own(tmp_path, **fields):
    held = {
        "code": "A03",
        "name": "shaft-length",
        "value": 5,
        "low": 3,
        "high": 8,
        "basis": "recalled",
    } | fields
    told = ", ".join(f"{key}: {value}" for key, value in held.items())
    (tmp_path / "mine.yaml").write_text(f"format: 1\ntopic: mine\nrules:\n  - {{{told}}}\n")
    return load_own(tmp_path)


def test_a_figure_over_nought_in_a_note_is_no_crash(tmp_path):
    assert own(tmp_path, note="'seen 1/0 of the time, the trade says'").rules


@pytest.mark.parametrize("key", ["low", "high"])
def test_a_size_past_any_effect_is_refused(tmp_path, key):
    ends = {"low": -1e9} if key == "low" else {"high": 100.5}
    with pytest.raises(InputError, match="is past any effect; allowed: -100 to 100"):
        own(tmp_path, **ends)
    assert own(tmp_path, low=-100, high=100).rules


def test_a_field_of_thousands_of_signs_is_told_in_a_line():
    with pytest.raises(InputError) as caught:
        load_rig(HERON / "rig.yaml", ["x" * 2000 + "=1"])
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize("reader", list(fuzz_readers.SHARES))
def test_good_files_are_read(reader):
    for text in fuzz_readers.seeds(reader):
        assert fuzz_readers.crash(reader, text.encode()) is None


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from([r for r in fuzz_readers.SHARES if r != "rule_set"]), st.data())
@pytest.mark.slow
def test_odd_files_are_read_or_refused(reader, data):
    """Hypothesis makes every choice of what is put wrong, so a find is cut down to the least of it."""
    good = data.draw(st.sampled_from(fuzz_readers.seeds(reader)))
    wrong = fuzz_readers.WRONG.get(reader, odd.of_yaml)
    text = wrong(good, data.draw(st.randoms(use_true_random=False)))
    assert fuzz_readers.crash(reader, text.encode("utf-8", "surrogatepass")) is None


def test_the_fuzzer_notices_a_crash_and_nonsense(monkeypatch):
    def crashes(data):
        if b"9" in data:
            raise ZeroDivisionError
        fuzz_readers.sense({"mass": float("inf")} if b"8" in data else {})

    monkeypatch.setitem(fuzz_readers.READERS, "rig", crashes)
    assert fuzz_readers.crash("rig", b"12345679")[0] == "ZeroDivisionError"
    assert fuzz_readers.crash("rig", b"8")[0] == "Nonsense"
    assert fuzz_readers.crash("rig", b"1") is None
    what = fuzz_readers.crash("rig", b"9")
    assert fuzz_readers.shrunk("rig", b"aaa9bbbbbb", what) == b"9"


@pytest.mark.parametrize(
    ("held", "count"),
    [({"a": [{"mass_gr": -1}]}, 1), ({"chance": 1.01}, 1), ({"low": 3, "mid": 2, "high": 4}, 1), ({"speed_range": [2, 1]}, 0),
     ({"mass_range_gr": [2, 1]}, 1), ({"stored_energy_ftlb": 40, "energy_ftlb": 41}, 1), ({"front_gr": 500, "total_gr": 400}, 1),
     ({"point_gr": 175, "insert_gr": 50, "front_gr": 200}, 1), ({"low": 1, "high": 2, "chance": 0.8, "offset_in": -3}, 0)],
)  # fmt: skip
def test_figures_that_mean_nothing_are_seen(held, count):
    assert len(list(nonsense(held))) == count


@pytest.mark.slow
def test_odd_commands_end_as_they_should():
    wrong = [(seed, line, told) for seed, line, _, told in fuzz_commands.calls(0, 12) if told]
    assert not wrong


@pytest.mark.slow
def test_every_field_of_a_shipped_rule_broken_is_told():
    """Two rules of the set; `make trust` breaks them all."""
    fine = {
        "applies",
        "narrow",
        "narrow_cases",
        "note",
        "overlaps",
        "silent",
        "source",
    }  # may be left out
    for code, key, how, said in broken_rules.trials(every=14):
        if not said:
            assert (how in ("left out", "nothing", "empty") and key in fine) or how in (
                "words",
                "a number",
            ), (code, key, how)
        else:
            assert any(broken_rules.SAYS.search(line) for line in said), said


def test_the_same_seed_breaks_the_same():
    (good, *_) = fuzz_readers.seeds("rig")
    assert odd.of_yaml(good, random.Random(3)) == odd.of_yaml(good, random.Random(3)) != good


def test_a_column_named_by_a_thousand_letters_is_told_in_a_line(tmp_path):
    file = tmp_path / "tuned.csv"
    head, *rows = Path("examples/tuned_rigs.csv").read_text(encoding="utf-8").splitlines()
    wider = [f"{head},archer.{'x' * 2000}", *(f"{row},1" for row in rows)]
    file.write_text("\n".join(wider), encoding="utf-8")
    said = CliRunner().invoke(cli, ["rules", "score", str(file)])
    assert said.exit_code == 2
    assert "archer.xxx" in said.stderr
    assert all(len(line) < 400 for line in said.stderr.splitlines())
