"""What shots may and may not teach: properties that hold whatever the numbers."""

import numpy as np
import pytest

from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.band import chance_match, spine_band
from shaftwright.inference.belief import drivers_of, prior_belief
from shaftwright.inference.demand import demand_of
from shaftwright.inference.evidence.learn import learn
from shaftwright.inference.evidence.look import look_at
from shaftwright.inference.evidence.terms import shot_table
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig
from shaftwright.rules.load import rulebook

BOOK = rulebook()
PRIOR = prior_belief(BOOK)
FLETCHED = [[0.5, 0.0], [-1.5, 1.0], [1.0, -1.0]]


def rig_of(hand="right", cant=0, limbs_id=None):
    return Rig.model_validate(
        {"format": 1, "rig": "r", "archer": {"hand": hand, "release": "split", "draw_length": 28},
         "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 48, "at": "own_draw"},
                 "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf", "cant_deg": cant,
                 "plate": {"thickness": 0, "material": "leather"}, "limbs_id": limbs_id},
         "string": {"material": "polyester", "mass": 110, "silencers": 0}}
    )  # fmt: skip


def shot(spine=600, bare=(), fletched=FLETCHED, **more):
    build = {"spine": spine, "length": 28, "front": 125, "diameter": 0.276, "gr_per_in": 8}
    return ENTRY.validate_python(
        {"kind": "bareshaft", "build": build, "distance": 20, "bare": list(bare), "taped": True,
         "fletched": fletched if len(bare) else [], **more}
    )  # fmt: skip


def at(x, n=3):
    return [[x, 0.0]] * n if n == 1 else [[x - 2, 0.5], [x + 2, -0.5], [x, 0.0]][:n]


def mismatch(entries, rig=None, **more):
    return learn(rig or rig_of(), BOOK, PRIOR, entries, None, **more).builds[0].mismatch_lb


def test_stiff_lands_left_for_the_right_hand_and_right_for_the_left():
    """T6 (impact), T7 (left-handed mirror): a stiff bare shaft lands left of the fletched, mirrored."""
    mirrored = [[-x, y] for x, y in FLETCHED]
    right = mismatch([shot(650, bare=at(-6))], rig_of("right"))
    left = mismatch([shot(650, bare=at(6), fletched=mirrored)], rig_of("left"))
    weak = mismatch([shot(650, bare=at(6))], rig_of("right"))
    before = learn(rig_of(), BOOK, PRIOR, [shot(650, bare=at(-6))], None).builds[0].before_lb
    assert right.mean() > before.mean() + 2
    assert weak.mean() < before.mean() - 2
    assert left.mean() == pytest.approx(right.mean(), abs=0.25)
    assert left.std() == pytest.approx(right.std(), rel=0.05)


def test_no_readings_change_nothing():
    learned = learn(rig_of(), BOOK, PRIOR, [], None)
    assert learned.belief is PRIOR
    assert not learned.belief.learned
    assert learned.slope.mean() == pytest.approx(1.05, abs=0.06)


def test_every_driver_has_draws_and_the_same_notebook_gives_the_same_draws():
    first = learn(rig_of(), BOOK, PRIOR, [shot(bare=at(-4))], None)
    again = learn(rig_of(), BOOK, PRIOR, [shot(bare=at(-4))], None)
    assert set(drivers_of(BOOK)) == set(first.belief.scores)
    for driver, scores in first.belief.scores.items():
        assert scores.shape == (PRIOR.size,)
        assert np.array_equal(scores, again.belief.scores[driver])
        assert np.isfinite(scores).all()


def test_any_leading_slice_is_a_fair_sample():
    z = mismatch([shot(bare=at(-4)), shot(spine=450, bare=at(3))])
    for size in (256, 512, 1024):
        assert z[:size].mean() == pytest.approx(z.mean(), abs=4 * z.std() / np.sqrt(size))
        assert z[:size].std() == pytest.approx(z.std(), rel=0.15)


def test_more_agreeing_shots_narrow_the_band_and_few_give_no_false_certainty():
    widths = [mismatch([shot(bare=at(-3))] * n).std() for n in (1, 3, 9)]
    assert widths[0] > widths[1] > widths[2]
    # three shots in one hole are no proof of an archer without scatter
    hole = mismatch([shot(bare=[[-3.0, 0.0]] * 3, fletched=[[0.0, 0.0]] * 3)])
    assert hole.std() > 1.0
    one = mismatch([shot(bare=[[-3.0, 0.0]])])
    # a shot scatters by 4 in, and its fletched ones too: 1 / sqrt(1 / 5.7^2 + 1 / 4.1^2) = 3.3 lb
    assert (
        one.std()
        > 0.55 * learn(rig_of(), BOOK, PRIOR, [shot(bare=at(-3))], None).builds[0].before_lb.std()
    )


def test_contradicting_shots_leave_the_band_wider_and_are_pointed_out():
    agree = learn(rig_of(), BOOK, PRIOR, [shot(bare=at(0.5)), shot(bare=at(-0.5))] * 2, None)
    torn = learn(rig_of(), BOOK, PRIOR, [shot(bare=at(9)), shot(bare=at(-9))] * 2, None)
    assert torn.builds[0].mismatch_lb.std() > 1.15 * agree.builds[0].mismatch_lb.std()
    assert any("contradict" in w for w in torn.warnings)
    assert not any("contradict" in w for w in agree.warnings)
    assert torn.bare_sd.mean() > agree.bare_sd.mean()
    words = learn(rig_of(), BOOK, PRIOR, [shot(reads="stiff"), shot(reads="weak")], None)
    same = learn(rig_of(), BOOK, PRIOR, [shot(reads="stiff"), shot(reads="stiff")], None)
    assert words.builds[0].mismatch_lb.std() > same.builds[0].mismatch_lb.std()
    assert any("contradict" in w for w in words.warnings)


def test_a_flier_moves_the_centre_less_than_a_plain_mean_would():
    clean = mismatch([shot(bare=[[-1.0, 0], [1.0, 0], [0.0, 0], [0.5, 0]])])
    flier = mismatch([shot(bare=[[-1.0, 0], [1.0, 0], [0.0, 0], [16.5, 0]])])
    # two means of 2,048 draws differ by about 0.1 lb by chance alone
    assert -0.2 < clean.mean() - flier.mean() < 0.6 * 4.0


def test_a_group_of_hundreds_of_shots_is_still_finite_numbers():
    right = np.concatenate([np.linspace(-60, 60, 100), np.linspace(3, 5, 300)])
    bare = np.stack([right, np.zeros(400)], axis=1)
    table = shot_table(look_at(shot(bare=(-bare).tolist()), rig_of("right")))
    assert np.isfinite(table).all()
    # most of them lie about 4 in to the stiff side, whatever the scatter
    peaks = np.arange(-64, 64.5, 0.5)[table.argmax(axis=1)]
    assert np.abs(peaks - 4).max() <= 1.0


def test_impact_and_nock_that_disagree_teach_nothing_about_spine():
    """bare_shaft_signs: impact and nock disagree: do not change spine (common practice, no source)."""
    straight, stiffish = (
        shot(450, reads="straight"),
        shot(420, reads="slightly_stiff", nock="right"),
    )
    odd = shot(420, bare=[[-5.0, 0.0]], nock="left")
    two = learn(rig_of(), BOOK, PRIOR, [straight, stiffish], None)
    three = learn(rig_of(), BOOK, PRIOR, [straight, stiffish, odd], None)
    assert three.builds[0].mismatch_lb.mean() == pytest.approx(
        two.builds[0].mismatch_lb.mean(), abs=0.2
    )
    assert three.builds[0].mismatch_lb.std() == pytest.approx(
        two.builds[0].mismatch_lb.std(), rel=0.05
    )
    assert any("opposite" in w for w in three.warnings)


def test_one_straight_and_one_slightly_stiff_a_step_apart_favour_the_first():
    """Common practice, no source: the straight one is the match, its stiffer neighbour is tunable."""
    entries = [shot(600, reads="straight"), shot(500, reads="slightly_stiff", nock="right")]
    learned = learn(rig_of(), BOOK, PRIOR, entries, None)
    builds = builds_by_numbers([600, 500, 400], 28, 125, 25, 8, 0.138)
    chance = chance_match(demand_of(rig_of(), builds, BOOK), builds, learned.belief, 0.07)
    assert chance[0] > 0.5
    assert chance[0] > 3 * max(chance[1], chance[2])
    heavier = builds_by_numbers([500] * 5, 29, [125, 175, 225, 275, 325], 25, 8, 0.138)
    tuned = chance_match(demand_of(rig_of(), heavier, BOOK), heavier, learned.belief, 0.07)
    assert tuned.max() > 0.3


def test_shots_with_the_old_limbs_never_narrow_the_new_bows_own_term():
    old = [shot(600, bare=at(-4), rig_state={"limbs_id": "one", "draw_weight": 52})] * 6
    change = ENTRY.validate_python(
        {"kind": "change", "what": "limbs", "rig_state": {"limbs_id": "two"}}
    )
    learned = learn(rig_of(limbs_id="two"), BOOK, PRIOR, [*old, change], None)
    scores = learned.belief.scores
    assert np.array_equal(scores["O02"], PRIOR.scores["O02"])
    assert np.array_equal(scores["W03"], PRIOR.scores["W03"])
    assert scores["O01"].std() < 0.97
    assert all(r.period for r in learned.readings)
    # and the band of the new bow narrows less than it would from as many shots with it
    here = learn(rig_of(), BOOK, PRIOR, [shot(600, bare=at(-4))] * 6, None)
    builds = builds_by_numbers(500, 28, 125)
    demand = demand_of(rig_of(), builds, BOOK)
    prior, far, near = (demand.draws(b).std() for b in (PRIOR, learned.belief, here.belief))
    assert near < far < prior


def test_old_limbs_of_unknown_weight_teach_nothing_and_that_is_said():
    entries = [shot(reads="stiff"), ENTRY.validate_python({"kind": "change", "what": "new limbs"})]
    learned = learn(rig_of(), BOOK, PRIOR, entries, None)
    other = learn(rig_of(), BOOK, PRIOR, [shot(reads="weak"), entries[1]], None)
    for driver, scores in learned.belief.scores.items():
        assert np.array_equal(scores, other.belief.scores[driver])
    assert "nothing is learned from it" in learned.warnings[0]
    known = learn(rig_of(), BOOK, PRIOR, entries, None, before=rig_of())
    assert known.builds
    assert known.readings[0].period == 1


def test_cant_is_turned_out_first():
    """Calculated: a nocking point too high on a bow canted 20 degrees looks stiff and is not."""
    low = np.array([[0.0, -8.0], [0.0, -7.0], [0.0, -9.0]])
    angle = np.radians(20)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    seen = (low @ turn.T).tolist()
    assert seen[0][0] == pytest.approx(-8 * 0.342, abs=0.01)
    fletched = [[0.0, 0.0]] * 3
    canted = mismatch([shot(bare=seen, fletched=fletched)], rig_of(cant=20))
    upright = mismatch([shot(bare=low.tolist(), fletched=fletched)], rig_of())
    assert canted.mean() == pytest.approx(upright.mean(), abs=0.1)
    ignored = mismatch([shot(bare=seen, fletched=fletched)], rig_of())
    assert ignored.mean() > canted.mean() + 0.7


def test_a_bare_shaft_without_tape_is_the_weaker_build():
    """Common practice, no source: tail mass missing on the bare shaft reads 1 to 3 lb weak."""
    taped = learn(rig_of(), BOOK, PRIOR, [shot(reads="straight")], None).builds[0]
    bare = learn(rig_of(), BOOK, PRIOR, [shot(reads="straight", taped=False)], None).builds[0]
    assert 0.5 < (taped.before_lb - bare.before_lb).mean() < 3
    assert bare.build.tail_gr[0] == 10


def test_a_far_too_weak_shaft_that_reads_stiff_is_not_believed_blindly():
    far = learn(rig_of(), BOOK, PRIOR, [shot(1000, bare=at(-8))], None).builds[0]
    near = learn(rig_of(), BOOK, PRIOR, [shot(500, bare=at(-8))], None).builds[0]
    assert far.far_too_weak > 0.5
    assert far.mismatch_lb.mean() < 0 < near.mismatch_lb.mean()


def test_a_measured_spine_replaces_the_stocks():
    stock, rig = (
        load_stock("examples/heron_marsh/stock.csv"),
        load_rig("examples/heron_marsh/rig.yaml"),
    )
    entry = ENTRY.validate_python(
        {"kind": "bareshaft", "build": {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"},
         "distance": 20, "reads": "straight", "taped": True}
    )  # fmt: skip
    weigh = ENTRY.validate_python({"kind": "weigh", "item": "MARSH-500", "spine_mils": 470})
    plain = learn(rig, BOOK, PRIOR, [entry], stock).builds[0]
    measured = learn(rig, BOOK, PRIOR, [weigh, entry], stock).builds[0]
    assert plain.build.spine_mils[0] == 500
    assert measured.build.spine_mils[0] == 470
    assert measured.build.spine_sd_pct[0] <= plain.build.spine_sd_pct[0] + 0.1


def test_a_build_that_cannot_be_resolved_is_left_out_and_said():
    stock = load_stock("examples/heron_marsh/stock.csv")
    entries = [ENTRY.validate_python({"kind": "bareshaft", "build": {"shaft": "MARHS-500"}, "distance": 20,
                                      "reads": "stiff"}), shot(reads="straight")]  # fmt: skip
    learned = learn(rig_of(), BOOK, PRIOR, entries, stock, lines=(4, 9))
    assert len(learned.builds) == 1
    assert "line 4" in learned.warnings[0]
    assert "MARSH-500" in learned.warnings[0]


def test_the_example_notebook_narrows_the_band():
    rig, old = (
        load_rig("examples/heron_marsh/rig.yaml"),
        load_rig("examples/heron_marsh/before.yaml"),
    )
    notebook, stock = (
        load_notebook("examples/heron_marsh/notebook.yaml"),
        load_stock("examples/heron_marsh/stock.csv"),
    )
    learned = learn(rig, BOOK, PRIOR, notebook.entries, stock, None, old, notebook.lines)
    builds = builds_by_numbers(500, 29.25, 200)
    demand = demand_of(rig, builds, BOOK)
    before, after = (spine_band(demand, builds, b, 0.8) for b in (PRIOR, learned.belief))
    assert after.high - after.low < 0.6 * (before.high - before.low)
    assert sorted(r.period for r in learned.readings) == [0, 0, 1, 1]


def test_void_groups_say_nothing_and_marks_say_little():
    wide = [[-25.0, 0], [25.0, 8], [-3.0, -20]]
    void = learn(rig_of(), BOOK, PRIOR, [shot(bare=wide)], None)
    assert void.builds[0].mismatch_lb.std() == pytest.approx(
        void.builds[0].before_lb.std(), rel=0.05
    )
    assert any("do not group" in w for w in void.warnings)
    clean, marked = (mismatch([shot(bare=at(-8), marks=m)]) for m in ("none", "plate"))
    assert marked.std() > clean.std()
    assert marked.mean() < clean.mean()


def test_many_groups_of_a_stiff_shaft_never_turn_it_into_one_that_reads_falsely():
    """A shaft as stiff as wanted cannot slap the plate, however unlikely each of its shots was."""
    learned = learn(rig_of(), BOOK, PRIOR, [shot(480, bare=at(-6))] * 20, None)
    build = learned.builds[0]
    assert build.far_too_weak < 0.001
    assert (build.mismatch_lb < 0).mean() < 0.001
    assert build.mismatch_lb.mean() > 0


def test_a_build_without_its_own_shots_is_what_the_other_readings_let_expect():
    own = [shot(500, bare=at(-7))] * 3
    others = [shot(600, bare=at(-1)), shot(600, bare=at(0.5)), shot(700, bare=at(3))]
    learned = learn(rig_of(), BOOK, PRIOR, [*others, *own], None)
    index = next(r.build for r in learned.readings if r.entry == own[0])
    quiet = learned.without_own_shots(index)
    # the same asked of a notebook in which the build's only group was none, so that it says nothing
    silent = shot(500, bare=[[-25.0, 0], [25.0, 8], [-3.0, -20]])
    told = learn(rig_of(), BOOK, PRIOR, [*others, silent], None).builds[-1].mismatch_lb
    assert quiet.mean() == pytest.approx(told.mean(), abs=0.15 * told.std())
    assert quiet.std() == pytest.approx(told.std(), rel=0.1)
    after = learned.builds[index].mismatch_lb
    assert quiet.std() > 1.1 * after.std()
    alone = learn(rig_of(), BOOK, PRIOR, own, None)
    assert np.array_equal(alone.without_own_shots(0), alone.builds[0].before_lb)
