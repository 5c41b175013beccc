"""Each reading told back: its doubt by hand, contradictions just on either side of their limits, sentences in order."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from shaftwright.files.rig import load_rig
from shaftwright.inference.evidence.look import look_at
from shaftwright.inference.evidence.periods import Taken
from shaftwright.inference.evidence.summary import (
    _apart,
    _word_against,
    contradictions,
    reading_of,
)
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY

RIG = load_rig("examples/heron_marsh/rig.yaml")
ENTRY_OF = ENTRY.validate_python({
    "kind": "bareshaft", "build": {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8}, "distance": 20,
    "bare": [[-3, 0], [-5, 1]], "fletched": [[0, 0]] * 4,
})  # fmt: skip
LOOK = look_at(ENTRY_OF, RIG)
RATIO = setting("evidence.fletched_sd_in") / setting("evidence.bare_sd_in")
MISMATCH, SLOPE = np.array([2.0, 4.0, 6.0]), np.array([1.0, 0.5, 1.5])


def told(look=LOOK, alone=False, silent=False, mismatch=MISMATCH, line=7):
    taken = Taken(ENTRY_OF, line, RIG, 0, False, (), silent)
    return reading_of(taken, look, 2, mismatch, SLOPE, 3.0, 1.0, alone)


def test_what_is_expected_and_how_well_it_is_known():
    found, expected = told(), MISMATCH * SLOPE
    own = 3**2 / 2 + 1**2 + (3 * RATIO) ** 2 / 4
    assert found.seen_in == LOOK.bare[:, 0].mean()
    assert found.expected_in == pytest.approx(expected.mean())
    assert found.doubt_in == pytest.approx(np.sqrt(own + expected.var()))
    assert (found.build, found.line, found.counted) == (2, 7, True)
    assert not found.contradicts
    assert not found.unexpected
    without = told(replace(LOOK, bare=np.zeros((0, 2)), fletched=np.zeros((0, 2))))
    assert without.seen_in is None
    assert without.doubt_in == pytest.approx(np.sqrt(9 + 1 + 9 * RATIO**2 + expected.var()))


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("share", "against"), [(0.99, False), (1.01, True)])
def test_against_the_others_past_so_many_of_its_own_spreads(way, share, against):
    limit = setting("evidence.contradiction_sd") * np.sqrt(9 / 2 + 1 + 9 * RATIO**2 / 4)
    at = (MISMATCH * SLOPE).mean() + way * share * limit
    look = replace(LOOK, bare=np.array([[at - 1, 0.0], [at + 1, 3.0]]))
    found = told(look)
    assert (found.contradicts, found.unexpected) == (against, False)
    alone = told(look, alone=True)
    assert (alone.contradicts, alone.unexpected) == (False, against)
    silent = told(look, silent=True)
    assert (silent.contradicts, silent.counted) == (False, False)
    assert told(replace(look, void="none")).counted is False


def test_a_word_is_against_where_all_draws_make_its_side_unlikely():
    edge, chance = setting("evidence.word_edge_lb"), setting("evidence.word_against_chance")
    at = stats.norm.ppf(chance) * edge
    for side, way in (("stiff", 1), ("weak", -1)):
        assert _word_against(side, np.full(5, way * (at - 0.05)))
        assert not _word_against(side, np.full(5, way * (at + 0.05)))
    for side in ("straight", None):
        assert not _word_against(side, np.full(5, -60.0))
    said = replace(LOOK, reads="weak")
    assert told(said, mismatch=np.full(3, 20.0), alone=True).unexpected
    assert not told(said, mismatch=np.array([-8.0, 8.0, 12.0]), alone=True).unexpected


def reading(line, look=LOOK, build=0, seen=1.0, doubt=1.0, **more):
    return SimpleNamespace(**{"line": line, "look": look, "build": build, "seen_in": seen, "doubt_in": doubt, "counted": True,
                              "contradicts": False, "unexpected": False, **more})  # fmt: skip


def test_one_sentence_for_each_reading_the_gravest_first():
    void, split = replace(LOOK, void="the bare shafts do not group"), replace(LOOK, tail="weak")
    assert split.disagree
    found = contradictions((
        reading(1, void, 1, contradicts=True), reading(2, split, 2, unexpected=True), reading(3, build=3, contradicts=True),
        reading(4, build=4, unexpected=True), reading(5, build=5),
    ))  # fmt: skip
    assert [text.partition(";")[0] for text in found] == [
        "line 1: the bare shafts do not group", "line 2: impact and nock tell opposite sides",
        "line 3: this reading contradicts the others",
        "line 4: this reading lies far from what the rules expect of this build",
    ]  # fmt: skip


LIMIT = setting("evidence.pair_share") * setting("evidence.contradiction_sd")


@pytest.mark.parametrize(("share", "apart"), [(0.99, False), (1.01, True)])
def test_two_of_one_build_stand_apart_past_their_joint_doubt(share, apart):
    far = 1 + share * LIMIT * 5.0  # 3 and 4
    pair = reading(1, doubt=3.0), reading(2, seen=far, doubt=4.0)
    expected = [
        "lines 1 and 2 contradict each other: the same build, two readings; shoot it once more"
    ]
    assert contradictions(pair) == (expected if apart else [])
    assert contradictions(pair[::-1]) == ([expected[0].replace("1 and 2", "2 and 1")] if apart else [])  # fmt: skip
    assert contradictions((pair[0], reading(2, seen=far, doubt=4.0, build=1))) == []


def test_three_of_one_build_are_compared_each_with_each():
    three = reading(1, seen=0.0), reading(2, seen=0.0), reading(3, seen=50.0)
    assert [t[:13] for t in contradictions(three)] == ["lines 1 and 3", "lines 2 and 3"]


def test_only_readings_that_count_stand_apart():
    far = reading(2, seen=90.0)
    assert _apart(reading(1), far, 3.0)
    assert not _apart(reading(1), reading(2, seen=90.0, counted=False), 3.0)
    assert not _apart(reading(1, counted=False), far, 3.0)
    exact = reading(2, seen=1 + 3 * np.hypot(1, 1))
    assert not _apart(reading(1), exact, 3.0)
