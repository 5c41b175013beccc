"""What shots and words say, against SciPy's densities summed by hand: no tables, no transforms."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from shaftwright.files.rig import load_rig
from shaftwright.inference.evidence.look import look_at
from shaftwright.inference.evidence.terms import (
    Z,
    _false_stiff,
    _kernels,
    _marks,
    _parabola,
    _refined,
    _sided,
    _word,
    build_terms,
    scatter_states,
    shot_table,
    slopes,
)
from shaftwright.parameters import parameters, setting
from shaftwright.records.notebook import ENTRY

RIG = load_rig("examples/heron_marsh/rig.yaml")
BUILD = {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8}
Q = np.arange(-128, 129) / 2
STATES = scatter_states()


def entry(kind="bareshaft", **told):
    return ENTRY.validate_python({"kind": kind, "build": BUILD, "distance": 20, **told})


def terms(*entries, stiffness=60.0, wanted=55.0):
    return build_terms([(e, look_at(e, RIG)) for e in entries], stiffness, wanted)


GROUP = entry(bare=[[-3, 0], [-1, 0], [-6, 1]], fletched=[[0.5, 0], [-1.5, 1], [1, -1]])
LONE = entry(bare=[[-3, 0]], fletched=[[0, 0]])
NO_MARK = entry(bare=[[-8, 0]])


def by_summation(look, at, j):
    """A Student t about the group's own centre, that centre a normal shift from the offset, by trapezoids."""
    nu = setting("evidence.scatter_tails")
    scale = STATES.bare_sd[j] * math.sqrt((nu - 2) / nu)
    lost, far_sd = setting("evidence.lost_group_chance"), setting("evidence.lost_group_sd_in")
    own = STATES.fletched_sd[j] ** 2 / max(len(look.fletched), 1)
    near, far = math.sqrt(own + STATES.shift_sd[j] ** 2), math.sqrt(own + far_sd**2)
    shift = np.linspace(-90, 90, 2401)
    density = (1 - lost) * stats.norm.pdf(shift, 0, near) + lost * stats.norm.pdf(shift, 0, far)
    each = sum(stats.t.logpdf(s, nu, loc=at + shift, scale=scale) for s in look.bare[:, 0])
    value = math.log(np.trapezoid(np.exp(each) * density, shift))
    spread = len(look.fletched) - 1
    if spread > 0:  # the fletched shots' own normal scatter about their centre
        value += stats.norm.logpdf(look.fletched[:, 0], 0, STATES.fletched_sd[j]).sum()
        value += math.log(STATES.fletched_sd[j])
    return value


@pytest.mark.parametrize("told", [GROUP, LONE, NO_MARK], ids=["group", "lone", "no fletched"])
def test_the_table_of_a_group_is_that_of_summation(told):
    """Up to a constant that no state and no offset changes."""
    look = look_at(told, RIG)
    table = shot_table(look)
    assert table.shape == (len(STATES.bare_sd), len(Q))
    places = [(j, k) for j in (0, 10, 20) for k in (118, 128, 134, 150)]
    mine = np.array([by_summation(look, Q[k], j) for j, k in places])
    off = np.array([table[j, k] for j, k in places]) - mine
    np.testing.assert_allclose(off, off[0], atol=0.01)


def test_a_group_past_the_tables_end_counts_as_at_its_end():
    far = [replace(look_at(LONE, RIG), bare=np.array([[x, 0.0]])) for x in (64.0, 80.0)]
    np.testing.assert_allclose(shot_table(far[0]), shot_table(far[1]))
    assert Q[shot_table(far[0])[10].argmax()] > 60


def test_many_shots_stay_finite_numbers_and_are_those_of_one_sum():
    """Forty shots go through in two parts; a shift as narrow as a sliver leaves the product of densities."""
    shots = np.linspace(-6, 6, 40)
    look = replace(look_at(NO_MARK, RIG), bare=np.stack([shots, 0 * shots], axis=1))
    table = shot_table(look)
    assert np.isfinite(table).all()
    mine = [by_summation(look, Q[k], 10) for k in (124, 128, 130)]
    found = table[10, [124, 128, 130]]
    np.testing.assert_allclose(found - found[0], np.array(mine) - mine[0], atol=0.02)


def test_the_scatter_of_fletched_shots_tells_the_size_of_the_scatter():
    """With the same bare shot, wide fletched groups favour the wide states and narrow the narrow ones."""
    best = {}
    for name, half in (("narrow", 0.5), ("wide", 6.0)):
        look = replace(look_at(LONE, RIG), fletched=half * np.array([[-1.0, 0], [0, 0], [1, 0]]))
        best[name] = STATES.fletched_sd[shot_table(look).max(axis=1).argmax()]
    assert best["narrow"] == STATES.fletched_sd.min()
    assert best["wide"] == STATES.fletched_sd.max()


def test_kernels_are_the_characteristic_functions_of_normals():
    """exp(-s^2 w^2 / 2) at w = 2 pi f, for the variances of a group of three and of a lost one."""
    near, far = _kernels(3)
    w = 2 * math.pi * np.fft.rfftfreq(540, 0.5)[7]
    own = STATES.fletched_sd**2 / 3
    np.testing.assert_allclose(near[:, 7], np.exp(-((own + STATES.shift_sd**2) * w**2) / 2))
    lost = own[::3] + setting("evidence.lost_group_sd_in") ** 2
    np.testing.assert_allclose(far[:, 7], np.exp(-lost * w**2 / 2))
    np.testing.assert_array_equal(_kernels(0)[0], _kernels(1)[0])


def test_the_grid_of_scatters_is_log_normal_over_its_ranges():
    states = scatter_states()
    assert states.shape == (7, 3)
    for name, sizes, steps in (
        ("bare_sd_in", states.bare_sd[1::3], np.linspace(-2, 2, 7)),
        ("group_shift_sd_in", states.shift_sd[:3], np.array([-1.2, 0, 1.2])),
    ):
        span = parameters("evidence")[name]
        sd = math.log(span.high / span.low) / (2 * stats.norm.ppf(0.975))
        np.testing.assert_allclose(sizes, span.value * np.exp(sd * steps), rtol=1e-3)
    chance = np.exp(states.log_weight).reshape(states.shape)
    assert chance.sum() == pytest.approx(1)
    np.testing.assert_allclose(
        chance.sum(axis=1) / chance.sum(axis=1)[3],
        stats.norm.pdf(np.linspace(-2, 2, 7)) / stats.norm.pdf(0),
    )
    np.testing.assert_allclose(
        chance.sum(axis=0) / chance.sum(axis=0)[1],
        stats.norm.pdf([-1.2, 0, 1.2]) / stats.norm.pdf(0),
    )
    ratio = setting("evidence.fletched_sd_in") / setting("evidence.bare_sd_in")
    np.testing.assert_allclose(states.fletched_sd, ratio * states.bare_sd)


def test_mismatches_go_from_seventy_pounds_weak_to_seventy_stiff():
    np.testing.assert_allclose(Z, np.linspace(-70, 70, 1401), atol=1e-9)


def test_slopes_are_a_split_normal_with_a_floor():
    span = parameters("evidence")["slope_in_per_lb"]
    found = slopes(np.array([-50.0, stats.norm.ppf(0.025), 0.0, stats.norm.ppf(0.975)]))
    least = setting("evidence.least_slope_in_per_lb")
    np.testing.assert_allclose(found[0], least)
    assert found[1] < found[2] < found[3]
    u = np.random.default_rng(1).standard_normal(60_000)
    low, high = np.quantile(slopes(u), [0.025, 0.975])
    assert (low, high) == pytest.approx((span.low, span.high), abs=0.1)


def test_between_half_inches_lies_the_parabola_through_three_neighbours():
    """numpy's own fit of second degree; a table that is a parabola is read exactly, its ends too."""
    t = np.array([-1.0, -0.4, 0.0, 0.3, 1.0])
    for k in range(3):
        fitted = np.polyfit([-1, 0, 1], np.eye(3)[k], 2)
        np.testing.assert_allclose(_parabola(t)[k], np.polyval(fitted, t), atol=1e-12)
    curve = np.array([0.02, -0.3, 4.0])
    coarse = np.stack([np.polyval(curve, Q), np.polyval(-curve, Q)])
    fine = np.arange(-640, 641) / 10
    found = _refined(coarse)
    np.testing.assert_allclose(found[0], np.polyval(curve, fine), atol=1e-9)
    np.testing.assert_allclose(found[1], -found[0], atol=1e-9)


def test_between_half_inches_the_nearest_three_neighbours_are_taken():
    """A single raised half inch reaches as far as three neighbours about the nearest one do."""
    coarse = np.zeros((1, 257))
    coarse[0, 100] = 1.0
    found = _refined(coarse)[0]
    nearest = np.rint(np.arange(1281) / 5).astype(int).clip(1, 255)
    for i in range(488, 513):
        at = i / 5 - nearest[i]
        expected = _parabola(np.array([at]))[:, 0] @ coarse[0, nearest[i] - 1 : nearest[i] + 2]
        assert found[i] == pytest.approx(expected, abs=1e-12), i
    assert not found[:480].any()
    assert not found[520:].any()


EDGE, WRONG = setting("evidence.word_edge_lb"), setting("evidence.word_misread")


@pytest.mark.parametrize(
    ("low", "high"), [(2.0, 12.0), (8.0, math.inf), (-math.inf, -8.0), (-5.0, 5.0)]
)
def test_a_word_is_an_interval_with_normal_edges(low, high):
    inside = stats.norm.cdf((Z - low) / EDGE) * stats.norm.cdf((high - Z) / EDGE)
    np.testing.assert_allclose(np.exp(_word(low, high)), WRONG + (1 - WRONG) * inside, atol=1e-6)


def test_a_side_is_a_normal_edge_and_straight_lies_between_two_edges_out():
    edge, wrong = setting("evidence.nock_edge_lb"), setting("evidence.nock_misread")
    for side, inside in (
        ("stiff", stats.norm.cdf(Z / edge)),
        ("weak", stats.norm.cdf(-Z / edge)),
        ("straight", stats.norm.cdf(Z / edge + 2) * stats.norm.cdf(2 - Z / edge)),
    ):
        found = np.exp(_sided(side, "nock_misread"))
        np.testing.assert_allclose(found, wrong + (1 - 2 * wrong) * inside, atol=1e-6)


def test_far_too_weak_reads_stiff_falsely():
    found = _false_stiff(60.0)
    ratio = 60 / np.maximum(60 - Z, 1)
    score = (setting("evidence.false_stiff_ratio") - ratio) / setting("evidence.false_stiff_width")
    expected = setting("evidence.false_stiff_chance") * stats.norm.cdf(score)
    np.testing.assert_allclose(found, expected, atol=1e-6)


def test_marks_are_log_odds_and_repeated_looks_count_as_their_root():
    hit, clear = setting("evidence.marks_if_false_stiff"), setting("evidence.marks_if_clear")
    plate, none = entry(marks="plate", reads="stiff"), entry(marks="none", reads="stiff")
    head = entry("broadhead", broadhead=[[0, 0]])
    assert _marks([]) == 0.0
    assert _marks([entry(reads="stiff"), head]) == 0.0
    assert _marks([plate, head]) == pytest.approx(math.log(hit / clear))
    assert _marks([none]) == pytest.approx(math.log((1 - hit) / (1 - clear)))
    assert _marks([plate, plate, none]) == pytest.approx(
        (2 * math.log(hit / clear) + math.log((1 - hit) / (1 - clear))) / math.sqrt(3)
    )
    assert terms(plate).marks == _marks([plate])


def test_a_word_alone_counts_in_full_beside_shots_less_and_with_marks_less_still():
    word = _word(8.0, math.inf)
    np.testing.assert_allclose(terms(entry(reads="stiff")).words, word)
    assert not terms(entry(reads="stiff")).shots.any()
    beside = setting("evidence.words_beside_shots_weight")
    shots = {"bare": [[-3, 0]], "fletched": [[0, 0]], "reads": "stiff"}
    marked = setting("evidence.marked_weight")
    for marks, share in (("none", 1.0), ("plate", marked), ("shelf", marked), ("not_looked", 1.0)):
        found = terms(entry(**shots, marks=marks))
        np.testing.assert_allclose(found.words, share * beside * word)
        table = _refined(shot_table(look_at(LONE, RIG)))
        np.testing.assert_allclose(found.shots, share * table, rtol=1e-9, atol=1e-9)


def test_straight_is_within_the_tolerance_of_what_is_wanted():
    lb = setting("matching.tolerance_pct") / 100 * 55.0
    np.testing.assert_allclose(terms(entry(reads="straight")).words, _word(-lb, lb))


def test_an_impact_aside_with_a_straight_tail_counts_less():
    shots = {"bare": [[-3, 0]], "fletched": [[0, 0]]}
    table = _refined(shot_table(look_at(LONE, RIG)))
    share = setting("evidence.impact_alone_weight")
    for nock, part in ((["straight"], share), (["right"], 1.0)):
        found = terms(entry(**shots, nock=nock))
        np.testing.assert_allclose(found.shots, part * table, rtol=1e-9, atol=1e-9)
    near = {"bare": [[-1, 0]], "fletched": [[0, 0]]}
    whole = terms(entry(**near)).shots
    np.testing.assert_allclose(terms(entry(**near, nock=["straight"])).shots, whole)


def test_tails_of_several_groups_count_as_a_power_of_their_number():
    power = setting("evidence.tail_repeat_power")
    seen, butt = entry(nock=["right"]), entry(bare=[{"at": [0, 0], "tail": {"side": "right", "seen": "in_butt"}}])  # fmt: skip
    one, other = _sided("stiff", "nock_misread"), _sided("stiff", "butt_misread")
    np.testing.assert_allclose(terms(seen).words, one)
    np.testing.assert_allclose(terms(butt).words, other)
    np.testing.assert_allclose(terms(seen, butt).words, (one + other) / 2 * 2**power)
    np.testing.assert_allclose(terms(seen, seen, seen).words, one * 3**power)
    marked = setting("evidence.marked_weight")
    np.testing.assert_allclose(terms(entry(nock=["right"], marks="shelf")).words, marked * one)


def test_broadheads_tell_a_side_and_together_is_straight():
    told = {"broadhead": [[-4, 0]], "fletched": [[0, 0]]}
    np.testing.assert_allclose(
        terms(entry("broadhead", **told)).words, _sided("stiff", "broadhead_misread")
    )
    np.testing.assert_allclose(
        terms(entry("broadhead", together=True)).words, _sided("straight", "broadhead_misread")
    )
    apart = terms(entry("broadhead", together=False))
    assert not apart.words.any()
    assert not apart.shots.any()


def test_what_does_not_count_says_nothing_and_the_rest_still_does():
    void = entry(bare=[[-60, 0], [60, 0]], fletched=[[0, 0]], reads="stiff")
    against = entry(bare=[[-5, 0]], fletched=[[0, 0]], nock=["left"])
    for nothing in (void, against):
        found = terms(nothing)
        assert not found.words.any()
        assert not found.shots.any()
        np.testing.assert_allclose(terms(nothing, entry(reads="weak")).words, terms(entry(reads="weak")).words)  # fmt: skip
        np.testing.assert_allclose(terms(entry("broadhead", together=True), nothing, entry(reads="weak")).words,
                                   terms(entry("broadhead", together=True), entry(reads="weak")).words)  # fmt: skip


def test_silent_terms_say_nothing_but_how_false_a_way_there_is():
    loud = terms(entry(bare=[[-3, 0]], reads="stiff", marks="plate"))
    quiet = loud.silent()
    assert not quiet.shots.any()
    assert not quiet.words.any()
    assert quiet.marks == 0.0
    assert quiet.shots.shape == loud.shots.shape
    assert quiet.false_stiff is loud.false_stiff
