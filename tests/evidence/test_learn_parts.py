"""How readings are put together before they are learned from: which builds are one, whose scores they share, what is silent."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from shaftwright.inference import own_error
from shaftwright.inference.belief import DRAWS, Belief, latin_hypercube, prior_belief
from shaftwright.inference.demand import Column
from shaftwright.inference.evidence.learn import (
    _bare_build,
    _distinct,
    _fresh,
    _measured_spines,
    _model,
    _score_name,
    _taped,
    _unlearned,
    _want,
    _with_spine,
    learn,
)
from shaftwright.inference.evidence.periods import Taken, arrange
from shaftwright.inference.evidence.terms import scatter_states, slopes
from shaftwright.parameters import setting
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import ENTRY, BuildSpec
from shaftwright.records.rig import Rig
from shaftwright.rules.load import RuleBook, rulebook
from shaftwright.rules.sections import EvidenceRules, Word, evidence_rules

STIFF = 31499.2
BOOK = RuleBook((rulebook().find("O01"),), tables=rulebook().tables)


def rig(hand="right", weight=48):
    return Rig.model_validate({
        "format": 1, "rig": "a", "archer": {"hand": hand, "release": "split", "draw_length": 28},
        "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": weight, "at": "own_draw"},
                "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf", "limbs_id": "a"},
        "string": {"material": "polyester", "mass": 110, "silencers": 0},
    })  # fmt: skip


def shot(spine=500, reads="stiff", taped=True, **more):
    return ENTRY.validate_python({
        "kind": "bareshaft", "build": {"spine": spine, "length": 28, "front": 125, "gr_per_in": 8, "tail": 25},
        "distance": 20, "reads": reads, "taped": taped, **more})  # fmt: skip


def taken(*entries, of=None, before=None):
    return arrange(of or rig(), entries, range(1, len(entries) + 1), before)[0]


# --- readings gathered -----------------------------------------------------------------------------


def test_a_build_is_one_by_spec_tape_rig_and_period():
    warnings = []
    told = taken(
        shot(),
        shot(reads="weak"),
        shot(520),
        shot(taped=False),
        shot(rig_state={"brace": 8}),
        shot(),
    )
    shots, looks = _distinct(told, None, {}, warnings)
    assert [k for _, _, k in looks] == [0, 0, 1, 2, 3, 0]
    assert [len(s.seen) for s in shots] == [3, 1, 1, 1]
    assert shots[2].build.tail_gr[0] == 10  # the nock alone
    assert shots[0].build.tail_gr[0] == 25
    assert shots[0].supply == pytest.approx(STIFF / 500, rel=1e-5)
    assert warnings == []


def test_a_build_that_cannot_be_made_is_left_out_with_each_of_its_readings():
    warnings = []
    named = ENTRY.validate_python(
        {"kind": "bareshaft", "build": {"shaft": "MARSH"}, "distance": 20, "reads": "weak"}
    )
    shots, looks = _distinct(taken(named, shot(), named), None, {}, warnings)
    assert len(shots) == len(looks) == 1
    assert warnings[0].endswith("; the reading is left out")
    assert warnings[0].startswith("line 1")
    assert warnings[1:] == ["line 3: the same build; the reading is left out too"]


@pytest.mark.parametrize(
    ("more", "told"),
    [({}, False), ({"bare": [[0, 0]]}, True), ({"nock": ["right"]}, False), ({"bare": [[1, 0]], "nock": ["high"]}, True)],
)  # fmt: skip
def test_a_hand_nobody_tells_is_named_where_sides_were_read(more, told):
    warnings = []
    _distinct(taken(shot(**more), of=rig("unknown")), None, {}, warnings)
    assert any("which hand draws" in w for w in warnings) is told
    warnings = []
    _distinct(taken(shot(**more)), None, {}, warnings)
    assert warnings == []


def test_broadheads_carry_their_fletching():
    head = ENTRY.validate_python(
        {"kind": "broadhead", "build": shot().build, "distance": 20, "together": True}
    )
    assert _taped(head)
    assert _taped(shot())
    assert not _taped(shot(taped=False))
    warnings = []
    _distinct(taken(head, of=rig("unknown")), None, {}, warnings)
    assert warnings == []


def test_shafts_on_a_spine_tester_have_the_mean_of_their_readings():
    weigh = [ENTRY.validate_python({"kind": "weigh", "item": i, **told}) for i, told in (
        ("A", {"spine_mils": 500}), ("A", {"spine_mils": 510}), ("B", {"mass": 300}), ("C", {"spine_mils": 400}),
        ("D", {"wood_spine_lb": "50 lb"}))]  # fmt: skip
    spines = _measured_spines([*weigh, shot()])
    # the trade's definition: 26 / (deflection of 26 in under 2 lb), the same bar bends (28/26)^3 x 1.94 / 2
    wood = 26 / 50 * 1000 * (28 / 26) ** 3 * 1.94 / 2
    assert spines == {"A": 505, "C": 400, "D": pytest.approx(wood, rel=1e-6)}
    plain = builds_by_numbers(480.0, 28.0, 125.0, spine_sd_pct=4.0)
    found = _with_spine(plain, BuildSpec(shaft="A"), spines)
    assert found.spine_mils.tolist() == [505]
    doubt = setting("evidence.measured_spine_doubt_pct") / stats.norm.ppf(0.975)
    assert found.spine_sd_pct[0] == pytest.approx(doubt, rel=1e-4)
    assert _with_spine(plain, BuildSpec(shaft="B"), spines) is plain
    assert _with_spine(plain, BuildSpec(spine=500, length=28, front=125), spines) is plain


# --- scores ----------------------------------------------------------------------------------------


def column(code):
    return Column(code, f"driver of {code}", False, 1.0, 0.0, 1.0, 1.0)


def test_doubts_that_start_anew_have_a_score_of_their_own_in_an_old_period():
    anew = evidence_rules().anew
    changed, limbs = anew.any_change[0], next(c for c in anew.limbs if c not in anew.any_change)
    plain = next(
        c for c in (r.code for r in rulebook().rules) if c not in {*anew.any_change, *anew.limbs}
    )

    def name(code, period, other, limbs_id="b"):
        of = rig()
        of = of.model_copy(update={"bow": of.bow.model_copy(update={"limbs_id": limbs_id})})
        return _score_name(column(code), SimpleNamespace(period=period, other_limbs=other, rig=of))

    assert name(changed, 0, False) == f"driver of {changed}"
    assert name(changed, 2, False) == f"driver of {changed} in period 2"
    assert name(changed, 2, True) == f"driver of {changed} in period 2"
    assert name(limbs, 2, False) == f"driver of {limbs}"
    assert name(limbs, 2, True) == f"driver of {limbs} of other limbs b"
    assert name(limbs, 2, True, None) == f"driver of {limbs} of other limbs 2"
    assert name(plain, 2, True) == f"driver of {plain}"


def test_fresh_scores_are_the_rows_after_the_drivers():
    belief = prior_belief(BOOK)
    many = len(belief.scores)
    np.testing.assert_array_equal(_fresh(belief, 2), latin_hypercube(many + 2, DRAWS)[many:])


def test_nothing_learned_leaves_slope_and_scatter_as_before():
    belief = prior_belief(BOOK)
    found = _unlearned(belief, ["why"])
    score = _fresh(belief, 2)
    assert found.belief is belief
    assert found.warnings == ("why",)
    np.testing.assert_array_equal(found.slope, slopes(score[0]))
    states = scatter_states()
    chance = np.exp(states.log_weight)
    places = [int(np.flatnonzero(states.bare_sd == b)[0] // 3) for b in found.bare_sd[:1]]
    assert 0 <= places[0] < 7
    pairs = list(zip(found.bare_sd, found.shift_sd, strict=True))
    for j in range(len(chance)):
        mine = np.mean([b == states.bare_sd[j] and s == states.shift_sd[j] for b, s in pairs])
        assert mine == pytest.approx(chance[j], abs=0.002)
    ratio = found.fletched_sd / found.bare_sd
    np.testing.assert_allclose(
        ratio, setting("evidence.fletched_sd_in") / setting("evidence.bare_sd_in")
    )
    assert (found.builds, found.readings) == ((), ())


# --- the model -------------------------------------------------------------------------------------


def made(*told):
    shots, _ = _distinct(told, None, {}, [])
    belief = prior_belief(BOOK)
    return shots, belief, _want(shots, BOOK, belief, None)


def test_builds_of_one_rig_are_wanted_together_and_those_of_another_apart():
    old = rig(weight=40)
    limbs = ENTRY.validate_python({"kind": "change", "what": "limbs"})
    shots, belief, shared = made(*taken(shot(), limbs, shot(520), shot(560), before=old))
    assert shots[1].demand is shots[2].demand is not shots[0].demand
    assert [s.row for s in shots] == [0, 0, 1]
    assert [s.demand.stated_lb for s in shots] == [40, 48, 48]
    assert shared.scores == belief.scores or shared.errors is not None
    for s in shots:
        np.testing.assert_array_equal(s.wanted, s.demand.draws(shared)[s.row])


def test_a_chronograph_speaks_of_the_bow_as_it_is_alone(monkeypatch):
    from shaftwright.inference.evidence import learn as room

    asked, plain = [], room.demand_of
    monkeypatch.setattr(room, "demand_of", lambda *a: asked.append(a[3]) or plain(*a[:3]))
    limbs = ENTRY.validate_python({"kind": "change", "what": "limbs"})
    shots, _ = _distinct(taken(shot(), limbs, shot(), before=rig(weight=40)), None, {}, [])
    _want(shots, BOOK, prior_belief(BOOK), "speed")
    assert asked == [None, "speed"]


def test_what_each_build_is_off_is_a_sum_of_its_shares():
    shots, belief, shared = made(*taken(shot(), shot(640)))
    for s in shots:
        s.build = replace(s.build, spine_sd_pct=np.array([3.0]))
    model = _model(shots, shared)
    (rule,) = shots[0].demand.columns
    np.testing.assert_allclose(
        model.fixed, [s.supply - 48 - float(np.ravel(rule.x)[0]) * rule.value for s in shots]
    )
    pounds = {key[0]: x for key, x in model.pounds.items()}
    np.testing.assert_allclose(pounds["O01"], -float(np.ravel(rule.x)[0]))
    share = shots[0].demand.shares(shared)
    for k in range(share.shape[1]):
        np.testing.assert_allclose(pounds[own_error.SCORES[k]], -48 * share[:, k], atol=1e-9)
    # both were shot, so both carry a score and nothing is left over
    assert not any(name.startswith("own error") for name in pounds)
    for k, s in enumerate(shots):
        own = pounds[f"shaft {s.first.entry.build!r}"]
        assert own[k] == pytest.approx(0.03 * s.supply)
        assert own[1 - k] == 0
    assert s.supply_sd == pytest.approx(0.03 * s.supply)
    assert belief.errors is None


def test_what_no_carrying_arrow_tells_is_a_score_of_the_builds_own():
    shots, belief, _ = made(*taken(shot(), shot(640)))
    usual = replace(belief, errors=shots[0].demand.errors_with(None))
    model = _model(shots, usual)
    rest = shots[0].demand.left_over_lb(usual)
    pounds = {key[0]: x for key, x in model.pounds.items()}
    for k in range(2):
        if rest[k] > 0.5:
            assert pounds[f"own error {k}"][k] == pytest.approx(-rest[k])
        else:
            assert f"own error {k}" not in pounds
    assert (rest > 0.5).any()


def test_a_silent_reading_says_nothing():
    shots, _, shared = made(
        *taken(shot(), ENTRY.validate_python({"kind": "change", "what": "limbs"}), shot())
    )
    assert [s.first.silent for s in shots] == [True, False]
    model = _model(shots, shared)
    assert not model.terms[0].words.any()
    assert model.terms[1].words.any()


def test_a_bare_build_before_its_shots_and_its_chance_to_be_far_too_weak():
    belief = prior_belief(BOOK)
    wanted = np.full(DRAWS, 50.0)
    first = Taken(shot(), 1, rig(), 3, False, (), False)
    one = SimpleNamespace(first=first, build="build", supply=40.0, supply_sd=2.0, wanted=wanted)
    gate = setting("matching.shoot_gate")
    edge = 40 - 40 / gate  # a mismatch of 40 less what makes the ratio the gate
    after = np.array([edge - 0.01, edge - 0.01, edge + 0.01, 60.0])
    found = _bare_build(one, after, belief)
    np.testing.assert_allclose(found.before_lb, 40 - 50 + 2 * _fresh(belief, 1)[0])
    assert found.far_too_weak == 0.5
    assert (found.period, found.taped, found.spec) == (3, True, first.entry.build)
    np.testing.assert_array_equal(found.mismatch_lb, after)


def test_learning_nothing_and_learning_something():
    prior = prior_belief(BOOK)
    nothing = learn(rig(), BOOK, prior, [], None)
    assert nothing.belief is prior
    one = learn(rig(), BOOK, prior, [shot(reads="stiff")], None)
    assert one.belief.learned
    assert one.belief.errors is not None
    assert [r.unexpected or r.contradicts for r in one.readings] == [False]
    assert max(np.abs(row).max() for row in one.belief.scores.values()) <= 6
    np.testing.assert_array_equal(one.without_own_shots(0), one.builds[0].before_lb)
    assert set(one.belief.scores) == set(prior.scores)
    assert np.isin(one.bare_sd, scatter_states().bare_sd).all()
    assert one.builds[0].mismatch_lb.mean() > one.builds[0].before_lb.mean()


@pytest.mark.parametrize(
    ("entries", "alone"),
    [([shot()], True), ([shot(), shot(520)], False), ([shot(), shot(520), shot(540)], False),
     ([shot(), shot(bare=[[-60, 0], [60, 0]])], True)],
)  # fmt: skip
def test_a_reading_is_alone_where_no_other_counts(monkeypatch, entries, alone):
    from shaftwright.inference.evidence import learn as room

    told, plain = [], room.reading_of
    monkeypatch.setattr(room, "reading_of", lambda *a: told.append(a[-1]) or plain(*a))
    found = learn(rig(), BOOK, prior_belief(BOOK), entries, None)
    assert told == [alone] * len(entries)
    rms = [np.sqrt(np.mean(sd**2)) for sd in (found.bare_sd, found.shift_sd)]
    ratio = setting("evidence.fletched_sd_in") / setting("evidence.bare_sd_in")
    one = found.readings[0]
    expected = np.hypot(np.hypot(*rms), rms[0] * ratio)
    spread = (found.builds[0].mismatch_lb * found.slope).std()
    assert one.doubt_in == pytest.approx(np.hypot(expected, spread))


def test_a_build_without_its_own_shots_is_told_by_the_others():
    entries = [shot(640, "stiff"), shot(650, "weak")]
    told = learn(rig(), BOOK, prior_belief(BOOK), entries, None)
    without = told.without_own_shots(0)
    assert without.shape == (1024,)
    assert without.mean() < told.builds[0].mismatch_lb.mean()
    assert without.mean() < told.builds[0].before_lb.mean()


def test_words_span_pounds_open_ends_reach_for_ever():
    assert Word(low=None, high=-8).limits(5.0) == (-np.inf, -8)
    assert Word(low=2, high=None).limits(5.0) == (2, np.inf)
    assert Word(low="-tolerance", high="tolerance").limits(4.5) == (-4.5, 4.5)
    assert isinstance(evidence_rules(), EvidenceRules)
    assert Belief({}).errors is None
