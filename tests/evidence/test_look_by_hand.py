"""The bow's own frame by hand: turning by the cant, mirrored hands, twenty yards, tails together, groups that are none."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from shaftwright.inference.evidence.look import (
    _net_tail,
    _reads_side,
    _void,
    hand_sign,
    height_word,
    into_bow,
    look_at,
    side_of,
    side_word,
)
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY

BUILD = {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8}
LEAN = setting("evidence.lean_share")
OFF = setting("evidence.disagree_in")


def rig(hand="right", cant=None):
    """All that a look asks of a rig."""
    return SimpleNamespace(archer=SimpleNamespace(hand=hand), bow=SimpleNamespace(cant_deg=cant))


def bare(**told):
    return ENTRY.validate_python({"kind": "bareshaft", "build": BUILD, "distance": 20, **told})


def test_points_turn_by_the_cant_as_complex_numbers_do():
    points = np.array([[3.0, 4.0], [-2.0, 1.0]])
    turned = (points[:, 0] + 1j * points[:, 1]) * np.exp(1j * math.radians(25))
    np.testing.assert_allclose(into_bow(points, 25), np.stack([turned.real, turned.imag], axis=1))


@pytest.mark.parametrize(("hand", "sign"), [("right", -1), ("left", 1), ("unknown", -1)])
def test_stiffward_is_left_for_all_but_left_handers(hand, sign):
    assert hand_sign(hand) == sign
    found = look_at(bare(bare=[[4, 2]], fletched=[[1, 1]]), rig(hand))
    np.testing.assert_allclose(found.bare, [[3 * sign, 1]])
    np.testing.assert_allclose(found.fletched, [[0, 0]])


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_tail_has_a_side_only_beyond_the_lean(hand):
    """Common practice, no source: a right-hander's stiff shaft shows its tail to the right."""
    way = 1 if hand == "right" else -1
    assert side_word(way * (LEAN + 0.01), hand) == "stiff"
    assert side_word(-way * (LEAN + 0.01), hand) == "weak"
    for none in (LEAN, -LEAN, 0.0):
        assert side_word(none, hand) == "straight"
    assert side_of("stiff", hand) == ("right" if way > 0 else "left")
    assert side_of("weak", hand) == ("left" if way > 0 else "right")


def test_a_tail_is_high_or_low_only_beyond_the_lean():
    assert [height_word(up) for up in (LEAN + 0.01, LEAN, -LEAN, -LEAN - 0.01)] == [
        "high", "straight", "straight", "low"]  # fmt: skip


@pytest.mark.parametrize(
    ("aside", "side"),
    [(OFF + 0.01, "stiff"), (OFF, "straight"), (-OFF, "straight"), (-OFF - 0.01, "weak")],
)
def test_an_impact_has_a_side_only_beyond_the_limit(aside, side):
    assert look_at(bare(bare=[[-aside, 0]], fletched=[[0, 0]]), rig()).side == side


def test_offsets_are_from_the_fletched_centre_and_the_spread_of_both_grows_with_the_distance():
    told = bare(distance=10, bare=[[1, 2], [3, 4]], fletched=[[1, 1], [3, 5]])
    found = look_at(told, rig("left"))
    np.testing.assert_allclose(found.bare, [[-2, -2], [2, 2]])
    np.testing.assert_allclose(found.fletched, [[-2, -4], [2, 4]])
    np.testing.assert_allclose(found.bare_in, [[1, 2], [3, 4]])
    np.testing.assert_allclose(found.fletched_in, [[1, 1], [3, 5]])
    np.testing.assert_allclose(found.centre, [0, 0])
    assert found.distance_yd == 10


def test_without_fletched_shots_the_aim_is_the_origin_and_without_bare_ones_nothing_is_told():
    found = look_at(bare(bare=[[4, 1]]), rig("left"))
    np.testing.assert_allclose(found.bare, [[4, 1]])
    assert found.fletched.shape == found.fletched_in.shape == (0, 2)
    none = look_at(bare(fletched=[[4, 1]], reads="stiff"), rig())
    assert none.side is None
    assert none.centre is None
    assert none.bare.shape == none.bare_in.shape == (0, 2)


def test_the_entrys_cant_goes_before_the_rigs():
    shots = {"bare": [[0, 6]], "fletched": [[0, 0]]}
    assert look_at(bare(**shots), rig(cant=None)).cant_deg == 0
    assert look_at(bare(**shots), rig(cant=15.0)).cant_deg == 15
    assert look_at(bare(**shots, cant_deg=0), rig(cant=15.0)).cant_deg == 0
    turned = look_at(bare(**shots, cant_deg=90), rig("left"))
    np.testing.assert_allclose(turned.bare, [[-6, 0]], atol=1e-12)


def test_broadheads_stand_for_the_bare_shots():
    told = ENTRY.validate_python({"kind": "broadhead", "build": BUILD, "distance": 20,
                                  "broadhead": [[-5, 1]], "fletched": [[-1, 0]]})  # fmt: skip
    found = look_at(told, rig(cant=None))
    np.testing.assert_allclose(found.bare, [[4, 1]])
    assert (found.side, found.tail, found.tail_up, found.reads) == ("stiff", None, None, None)
    assert found.cant_deg == 0


@pytest.mark.parametrize(
    ("word", "side"),
    [(None, None), ("stiff", "stiff"), ("slightly_stiff", "stiff"), ("weak", "weak"),
     ("slightly_weak", "weak"), ("straight", "straight")],
)  # fmt: skip
def test_a_word_names_its_side(word, side):
    assert _reads_side(word) == side
    assert look_at(bare(bare=[[0, 0]], reads=word), rig()).reads == side


@pytest.mark.parametrize(
    ("nock", "side", "up"),
    [(["right"], "stiff", "straight"), (["left", "low"], "weak", "low"), (["high"], "straight", "high"),
     (["straight"], "straight", "straight")],
)  # fmt: skip
def test_words_of_the_nock_are_one_look_in_flight(nock, side, up):
    found = look_at(bare(bare=[[0, 0]], nock=nock), rig())
    assert (found.tail, found.tail_up, found.tail_seen) == (side, up, 1.0)


def test_tails_of_the_shots_count_where_they_point_anywhere():
    told = look_at(bare(bare=[{"at": [0, 0], "tail": {"up": "high"}}, [0, 1]]), rig())
    assert (told.tail, told.tail_up, told.tail_seen) == ("straight", "high", 1.0)
    side = look_at(
        bare(bare=[{"at": [0, 0], "tail": {"side": "left", "seen": "in_butt"}}]), rig("left")
    )
    assert (side.tail, side.tail_up, side.tail_seen) == ("stiff", "straight", 0.0)
    none = look_at(bare(bare=[{"at": [0, 0], "tail": {"how": "slight"}}]), rig())
    assert (none.tail, none.tail_up, none.tail_seen) == (None, None, 0.0)


def test_tails_together_are_their_mean_and_those_in_the_butt_count_less():
    """By hand: one left in flight against n right in the butt tips over once n times their share passes one."""
    butt = setting("evidence.butt_share")
    many = round((1 + LEAN) / (1 - LEAN) / butt) + 1
    for n, side in ((1, "weak"), (many, "stiff")):
        told = [(-1.0, 0.0, 1.0), *[(1.0, 0.0, 0.0)] * n]
        mean = (n * butt - 1) / (n * butt + 1)
        assert side == ("stiff" if mean > LEAN else "weak" if mean < -LEAN else "straight")
        assert _net_tail(told, 0.0, rig()) == (side, "straight", 1.0)
    # all in flight weigh alike, so that one each way cancels
    assert _net_tail([(-1, 0, 1.0), (1, 0, 1.0)], 0.0, rig())[0] == "straight"
    assert _net_tail([], 0.0, rig()) == (None, None, 0.0)
    assert _net_tail([(1.0, -1.0, 0.0)], 0.0, rig("unknown")) == (None, "low", 0.0)
    # a tail straight up, with the bow a quarter turn over, points to the bow's left
    assert _net_tail([(0.0, 1.0, 1.0)], 90.0, rig())[:2] == ("weak", "straight")


def test_a_group_is_none_past_the_mean_standard_deviation_of_its_two_axes():
    limit = setting("evidence.void_sd_in")
    #: two shots 2 a apart aside have the variance 2 a^2 in one axis and none in the other
    pair = limit * np.array([[-1.0, 0.0], [1.0, 0.0]])
    few = np.zeros((1, 2))
    assert _void(pair * 0.999, few) == ""
    assert _void(few, pair * 0.999) == ""
    assert _void(pair * 1.001, few) == "the bare shafts do not group"
    assert _void(few, pair * 1.001) == "the fletched shafts do not group"
    assert _void(pair, few) == ""
    assert _void(pair[:1] * 9, pair[:1] * 9) == ""


@pytest.mark.parametrize(
    ("side", "reads", "tail", "disagree"),
    [("stiff", None, "weak", True), ("weak", None, "stiff", True), ("stiff", None, "stiff", False),
     ("straight", "weak", "stiff", True), ("straight", "weak", "weak", False), (None, "stiff", "weak", True),
     ("straight", "straight", "weak", False), ("stiff", "weak", "straight", False), ("weak", "stiff", "weak", False),
     ("straight", None, "weak", False)],
)  # fmt: skip
def test_impact_or_else_the_word_against_the_tail(side, reads, tail, disagree):
    one = replace(look_at(bare(bare=[[0, 0]]), rig()), side=side, reads=reads, tail=tail)
    assert one.disagree is disagree
    assert one.counts is not disagree


def test_one_far_from_the_others_is_a_flier_and_counts_for_no_centre():
    far = setting("evidence.flier_in")

    def seen(*aside, distance=20):
        return look_at(bare(bare=[[x, 0] for x in aside], distance=distance), rig("left"))

    out = seen(6, 5, 5.5 - far - 0.01)
    assert out.kept.tolist() == [True, True, False]
    np.testing.assert_allclose(out.centre, [5.5, 0])
    near = seen(6, 5, 5.5 - far)
    assert near.kept.all()
    np.testing.assert_allclose(near.centre, [(16.5 - far) / 3, 0])
    # at half the distance half as far is as far; of two nobody knows which
    assert seen(3, 2.5, 2.75 - far / 2 - 0.01, distance=10).kept.sum() == 2
    assert seen(5, 5 + 2 * far).kept.all()
    assert seen(6, 5, 5.5 - 3 * far).void == ""


def test_a_flier_among_the_fletched_still_voids_the_end_for_their_middle_is_the_origin():
    wild = 3 * setting("evidence.void_sd_in")
    found = look_at(bare(bare=[[1, 0], [2, 0]], fletched=[[0, 0], [1, 0], [wild, wild]]), rig())
    assert found.void == "the fletched shafts do not group"
