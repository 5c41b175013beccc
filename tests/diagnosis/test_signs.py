"""The table of bare-shaft signs, row by row, for both hands.

Columns `seen, right_handed, left_handed, basis` as the trade tells them. Sources: T5, a history of the
bare-shaft test (nock sides and heights); T6, an article on the archer's paradox (impact); T7, an
arrow-building tutorial (left-handed mirror). Rows marked common practice have no source; rows
marked calculated follow from turning the bow's frame by the cant.
"""

import numpy as np
import pytest

from shaftwright.answers.diagnose import diagnose
from shaftwright.inference.evidence_frame import into_bow, out_of_bow
from shaftwright.inference.evidence_look import look_at
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig

FLETCHED = [[0.5, 0.0], [-1.5, 1.0], [1.0, -1.0]]


def rig_of(hand="right", cant=0.0, point=None, **bow):
    more = {"nocking_point": {"above_square": point}} if point is not None else {}
    return Rig.model_validate(
        {"format": 1, "rig": "r", "archer": {"hand": hand, "release": "split", "draw_length": 28},
         "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 48, "at": "own_draw"},
                 "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf", "cant_deg": cant,
                 "plate": {"thickness": 0, "material": "leather"}, **more, **bow},
         "string": {"material": "polyester", "mass": 110, "silencers": 0}}
    )  # fmt: skip


def entry(bare=None, tail=None, n=3, fletched=FLETCHED, spine=640, front=125, **more):
    build = {"spine": spine, "length": 29, "front": front, "diameter": 0.276, "gr_per_in": 8}
    shots = []
    if bare is not None:
        spread = [[-1.0, 0.6], [1.0, -0.6], [0.0, 0.0]][:n]
        shots = [{"at": [bare[0] + dx, bare[1] + dy], "tail": tail} for dx, dy in spread]
    return ENTRY.validate_python(
        {"kind": "bareshaft", "build": build, "distance": 20, "bare": shots, "taped": True, "marks": "none",
         "fletched": fletched if shots else [], **more}
    )  # fmt: skip


def causes(rig, *entries, axis="sideways"):
    found = diagnose(rig, entries)
    return {s.cause.name: s.chance for s in found.suspects if s.cause.axis == axis}, found


def top(rig, *entries, axis="sideways"):
    chances, _ = causes(rig, *entries, axis=axis)
    return max(chances, key=chances.get)


HANDS = [("right", 1), ("left", -1)]
MIRROR = {"right": "left", "left": "right"}


@pytest.mark.parametrize(("hand", "sign"), HANDS)
def test_bare_left_of_fletched_and_nock_right_is_stiff_t5_t6_t7(hand, sign):
    tail = {"side": "right" if hand == "right" else "left"}
    assert top(rig_of(hand), entry([-7 * sign, 0], tail)) == "too-stiff"
    # the same picture in the other hand's words is weak
    assert top(rig_of(MIRROR[hand]), entry([-7 * sign, 0], tail)) == "too-weak"


@pytest.mark.parametrize(("hand", "sign"), HANDS)
def test_bare_right_of_fletched_and_nock_left_is_weak_t5_t6_t7(hand, sign):
    tail = {"side": "left" if hand == "right" else "right"}
    assert top(rig_of(hand), entry([7 * sign, 0], tail)) == "too-weak"


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize(("up", "tail", "cause", "way"), [
    (-7, "high", "nocking-point-high", "lower the nocking point 1/16 in"),
    (7, "low", "nocking-point-low", "raise the nocking point 1/16 in"),
])  # fmt: skip
def test_height_is_the_nocking_point_the_same_for_both_hands_t5_t7(hand, up, tail, cause, way):
    rig, seen = rig_of(hand), entry([0, up], {"side": "straight", "up": tail})
    assert top(rig, seen, axis="vertical") == cause
    decision = diagnose(rig, [seen]).decision
    assert decision.kind == "nocking_point"
    assert decision.what == way


@pytest.mark.parametrize("hand", ["right", "left"])
def test_impact_and_nock_that_disagree_never_lead_to_a_spine_change(hand):
    """Common practice, no source: contact, release or target face; do not change spine."""
    sign = 1 if hand == "right" else -1
    wrong = {"side": "left" if hand == "right" else "right"}
    chances, found = causes(rig_of(hand), entry([-7 * sign, 0], wrong))
    assert found.decision.kind == "look"
    assert "change nothing" in found.decision.what
    assert max(chances["too-stiff"], chances["too-weak"]) < 0.3
    assert found.decision.option is None
    for word, nock in (("stiff", "left"), ("weak", "right")):
        nock = nock if hand == "right" else MIRROR[nock]
        assert diagnose(rig_of(hand), [entry(reads=word, nock=nock)]).decision.kind == "look"


def test_nock_high_that_does_not_follow_the_nocking_point_is_the_shelf():
    """Common practice, no source: raise 1/4 in clearly too high, then come down 1/16 at a time."""
    tail = {"side": "straight", "up": "high"}
    first = entry([0, -6], tail, rig_state={"nocking_point": 0.5})
    second = entry([0, -6], tail, rig_state={"nocking_point": 0.4375})
    chances, found = causes(rig_of(point=0.4375), first, second, axis="vertical")
    assert found.signs["nock_moved"] == ["no_change"]
    marked = entry([0, -6], tail, rig_state={"nocking_point": 0.4375}, marks="shelf")
    assert top(rig_of(point=0.4375), first, marked, axis="vertical") == "shelf-bounce"
    alone, _ = causes(rig_of(point=0.4375), second, axis="vertical")
    assert chances["shelf-bounce"] > 3 * alone["shelf-bounce"]


@pytest.mark.parametrize(("hand", "sign"), HANDS)
def test_false_stiff_is_told_by_a_stiffer_shaft_that_lands_less_to_the_stiff_side(hand, sign):
    """Common practice, no source: far too weak, the tail slaps the plate; never add front mass."""
    weak = entry([-9 * sign, 0], spine=1000, marks="not_looked")
    stiffer = entry([-1 * sign, 0], spine=700, marks="not_looked")
    chances, found = causes(rig_of(hand), stiffer, weak)
    assert found.signs["stiffer_lands"] == ["less_stiff"]
    assert max(chances, key=chances.get) == "false-stiff"
    assert found.decision.kind in ("look", "change")
    assert not (found.decision.unit == "gr" and found.decision.amount > 0)
    assert "powder" in found.decision.what


def test_reads_weak_although_stiff_by_every_other_sign():
    """Common practice, no source: bounce off the plate, plucked release, finger contact."""
    stiff = [entry([-9, 0], {"side": "right"}, spine=300) for _ in range(3)]
    odd = entry([6, 0], spine=310, n=3)
    chances, _ = causes(rig_of(), *stiff, odd)
    plain, _ = causes(rig_of(), entry([6, 0]))
    suspicious = ("contact", "plucked-release", "grip-torque", "string-caught")
    assert sum(chances[c] for c in suspicious) > 2 * sum(plain[c] for c in suspicious)
    assert chances["too-weak"] < 0.3 * plain["too-weak"]


def test_impact_off_with_a_straight_nock_counts_half():
    """Common practice, no source: may be aim or wind."""
    backed = diagnose(rig_of(), [entry([-7, 0], {"side": "right"})])
    alone = diagnose(rig_of(), [entry([-7, 0], {"side": "straight"})])
    assert alone.asked.build.mismatch_lb.mean() < backed.asked.build.mismatch_lb.mean()
    assert alone.asked.build.mismatch_lb.std() > backed.asked.build.mismatch_lb.std()


@pytest.mark.parametrize(("hand", "sign"), HANDS)
def test_broadhead_left_of_field_point_is_usually_stiff(hand, sign):
    """Common practice, no source; mirrored for the left hand."""
    build = {"spine": 640, "length": 29, "front": 125, "diameter": 0.276, "gr_per_in": 8}

    def mean(x):
        broad = ENTRY.validate_python(
            {"kind": "broadhead", "build": build, "distance": 20, "fletched": [[0, 0]] * 3,
             "broadhead": [[x, 0], [x + 1, 0], [x - 1, 0]]}
        )  # fmt: skip
        found = diagnose(rig_of(hand), [broad, entry([0, 0], spine=420)])
        return found.learned.builds[0].mismatch_lb.mean()

    assert mean(-5 * sign) > mean(5 * sign) + 1


def test_nock_high_and_right_together_vertical_first():
    """Common practice, no source: vertical first, then sideways."""
    found = diagnose(rig_of(), [entry([-7, -7], {"side": "right", "up": "high"})])
    assert found.decision.kind == "nocking_point"
    assert found.decision.verdict.startswith("Height first")


@pytest.mark.parametrize(("hand", "sign"), HANDS)
def test_canted_bow_stiff_build_lands_aside_and_high(hand, sign):
    """Calculated: top limb 20 deg to the right, stiff, right-handed: left AND high; mirror for the left."""
    rig = rig_of(hand, 20.0 * sign)
    ground = out_of_bow(np.array([[-6.0 * sign, 0.0]]), 20.0 * sign)[0]
    assert ground[0] * sign < 0 < ground[1]
    assert ground[1] == pytest.approx(6 * np.sin(np.radians(20)))
    look = look_at(entry(list(ground), fletched=[[0, 0]] * 3), rig)
    assert look.centre == pytest.approx([6, 0], abs=0.4)
    assert top(rig, entry(list(ground), {"side": "right" if sign > 0 else "left"})) == "too-stiff"


@pytest.mark.parametrize(("hand", "sign"), HANDS)
def test_canted_bow_high_point_lands_low_and_a_third_to_the_side(hand, sign):
    """Calculated: nocking point too high on a bow canted 20 deg looks stiff but is not: 0.34 of the drop."""
    ground = out_of_bow(np.array([[0.0, -8.0]]), 20.0 * sign)[0]
    assert ground == pytest.approx([-8 * 0.342 * sign, -7.52], abs=0.01)
    rig = rig_of(hand, 20.0 * sign)
    assert top(rig, entry(list(ground)), axis="vertical") == "nocking-point-high"
    assert diagnose(rig, [entry(list(ground))]).decision.kind == "nocking_point"
    assert look_at(entry(list(ground), fletched=[[0, 0]] * 3), rig).side == "straight"


def test_cant_turned_out_and_back_is_nothing():
    points = np.random.default_rng(1).normal(size=(20, 2))
    assert out_of_bow(into_bow(points, 17.0), 17.0) == pytest.approx(points)
