"""Each part of the speed model worked anew: the straight-line bow, error propagation by sampling, joined precisions."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import interpolate, stats

from shaftwright.errors import InputError
from shaftwright.files.rig import load_rig
from shaftwright.inference import speed
from shaftwright.inference.chrono import bring
from shaftwright.inference.speed import (
    _against_the_bow,
    _brace_of_curve_in,
    _loose,
    _virtual_kg,
    _weighed_together,
    before_readings,
    less_the_loose,
    speed_model,
    speed_reading,
    speeds_fps,
    stored_energy_j,
    stroke_m,
    student_t95,
    weight_sd_lb,
)
from shaftwright.physics.bow_speed import SpeedModel, typical, typical_energy_j, typical_speed_fps
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import DrawWeight, LaunchSettings
from shaftwright.resources import constant, interval
from shaftwright.units import FOOT_POUND_J, FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N, Interval

Z = stats.norm.ppf(0.975)
HOME = load_rig("examples/heron_marsh/rig.yaml")
PLAIN = HOME.model_copy(update={
    "bow": HOME.bow.model_copy(update={"brace_height_in": 7.5, "kind": "recurve", "limbs": "standard",
                                       "draw_weight": DrawWeight(lb=47.0, at="own_draw")}),
    "archer": HOME.archer.model_copy(update={"draw_length_in": 28.25, "release": "split"}), "launch": None,
})  # fmt: skip
LOSS = interval("rig_usual", "finger_loss", "any")


def rig(launch=None, release="split", **bow):
    return PLAIN.model_copy(update={
        "bow": PLAIN.bow.model_copy(update=bow), "launch": launch and LaunchSettings.model_construct(**launch),
        "archer": PLAIN.archer.model_copy(update={"release": release}),
    })  # fmt: skip


def pulled(*points, **bow):
    return rig(draw_weight=DrawWeight.model_validate({"curve": [list(p) for p in points]}), **bow)


def line(*draws):
    """A bow that pulls 2 lb an inch from the start of the power stroke, 9 1/4 in of draw, as no real one does."""
    return [(d, 2.0 * (d - 9.25)) for d in draws]


def triangle_j(draw):
    """The work under that line: half of base times height, in ft-lb."""
    return (draw - 9.25) ** 2 / 12 * FOOT_POUND_J


# --- the energy stored -----------------------------------------------------------------------------


def test_a_stated_energy_is_that_of_every_pound():
    stored = stored_energy_j(rig({"energy_per_lb": 0.9}), 50.0, 2.0)
    assert stored == pytest.approx((45 * FOOT_POUND_J, 45 * FOOT_POUND_J * 2 / 50))
    assert stored_energy_j(rig({"energy_per_lb": 0.9}), 50.0)[1] == 0
    assert stored_energy_j(rig({"energy_per_lb": None}), 50.0) is None
    assert stored_energy_j(rig(), 50.0) is None


def test_a_straight_line_stores_its_triangle_to_the_archers_own_draw():
    for points in (
        line(14.0, 20.0, 28.25),
        line(10.0, 16.0, 30.0),
        [(9.25, 0.0), *line(14.0, 30.0)],
    ):
        energy, sd = stored_energy_j(pulled(*points), 38.0)
        assert energy == pytest.approx(triangle_j(28.25), rel=1e-6)
        assert sd == pytest.approx(0, abs=1e-6)


def test_a_curve_that_ends_before_the_archers_draw_is_carried_on_to_it():
    """Half an inch at most, on its last slope: 38 lb at 28 1/4 in again."""
    energy, _ = stored_energy_j(pulled(*line(14.0, 20.0, 28.0)), 38.0)
    assert energy == pytest.approx(triangle_j(28.25), rel=1e-6)


def test_the_doubt_of_a_line_is_that_of_its_readings_and_of_the_scale():
    """Trapezium rule over three readings, each half a pound off by itself, beside the scale's own share."""
    draws = np.array([9.25, 14.0, 20.0, 28.25])
    own = (np.append(np.diff(draws), 0) + np.insert(np.diff(draws), 0, 0)) / 2
    each = 0.5 * float(np.sqrt((own[1:] ** 2).sum())) / 12 * FOOT_POUND_J
    _, sd = stored_energy_j(pulled(*line(14.0, 20.0, 28.25)), 38.0, 0.5)
    assert sd == pytest.approx(np.hypot(each, triangle_j(28.25) * 0.5 / 38), rel=1e-6)


@pytest.mark.parametrize(
    ("points", "good"),
    [([(9.25, 0.0), *line(20.0, 28.25)], True), ([(8.0, 0.0), (9.25, 0.0), *line(28.25)], False), ([(9.0, 0.5), *line(20.0, 28.25)], False),
     ([(9.01, 0.5), *line(20.0, 28.25)], True), ([(8.0, 0.0), *line(20.0, 28.25)], True),
     ([(8.0, 0.0), (8.9, 0.4), *line(20.0, 28.25)], False)],
)  # fmt: skip
def test_two_points_past_brace_are_needed_and_no_pull_a_quarter_inch_before(points, good):
    if good:
        assert stored_energy_j(pulled(*points), 38.0)[0] == pytest.approx(
            triangle_j(28.25), rel=0.02
        )
    else:
        with pytest.raises(InputError, match=r"two points beyond brace \(9\.25 in of draw\)"):
            stored_energy_j(pulled(*points), 38.0)


def test_a_pull_just_past_brace_counts():
    """A twentieth of an inch past it: SciPy's monotone cubic through brace and all three points."""
    points = [(9.3, 0.4), *line(12.0, 28.25)]
    x, y = np.array([(9.25, 0.0), *points]).T
    work = float(interpolate.PchipInterpolator(x, y).integrate(9.25, 28.25)) / 12 * FOOT_POUND_J
    assert work != pytest.approx(triangle_j(28.25), rel=1e-3)
    assert stored_energy_j(pulled(*points), 38.0)[0] == pytest.approx(work, rel=1e-6)


def test_an_unknown_brace_is_where_the_pull_begins_less_the_grip():
    slack = [(8.0, 0.0), (9.0, 0.0), *line(20.0, 28.25)]
    assert _brace_of_curve_in(pulled(*slack, brace_height_in="unknown")) == pytest.approx(7.25)
    assert _brace_of_curve_in(pulled(*slack)) == 7.5
    told = line(15.0, 20.0, 28.25)
    usual = constant("rig_usual", "brace_height_in", "recurve")
    assert _brace_of_curve_in(pulled(*told, brace_height_in="unknown")) == usual
    assert _brace_of_curve_in(rig(brace_height_in="unknown")) == usual


def test_the_power_stroke_is_the_draw_less_brace_and_grip():
    """AMO standard, recalled: the draw is told to the grip's throat plus 1 3/4 in."""
    assert stroke_m(rig()) == pytest.approx((28.25 - 7.5 - 1.75) * INCH_M)


# --- before any reading ----------------------------------------------------------------------------


def test_a_stated_virtual_mass_has_no_doubt():
    assert _virtual_kg(rig({"virtual_mass_gr": 150.0}), 47.0) == (150 * GRAIN_KG, 0.0)
    assert _virtual_kg(rig({"virtual_mass_gr": None}), 47.0) == _virtual_kg(rig(), 47.0)
    mean, sd = _virtual_kg(rig(), 47.0)
    per_lb = interval_of_limbs()
    string = PLAIN.string.mass_gr or constant("rig_usual", "string_mass_gr", PLAIN.string.material)
    added = (_virtual_kg(rig(), 0.0)[0]) / GRAIN_KG
    assert mean / GRAIN_KG == pytest.approx(per_lb.mean * 47 + added, rel=1e-6)
    assert sd / GRAIN_KG == pytest.approx(per_lb.sd * 47, rel=1e-6)
    assert added >= string / 3 - 1e-6  # a uniform string counts a third of itself

    def of_string(**told):
        one = rig().model_copy(update={"string": PLAIN.string.model_copy(update=told)})
        return _virtual_kg(one, 47.0)[0] / GRAIN_KG

    plain = of_string(mass_gr=120.0, silencers_gr=0.0)
    assert of_string(mass_gr=150.0, silencers_gr=0.0) == pytest.approx(plain + 10)
    # two masses at the middle of the string go as fast as the arrow, at the tips not at all
    assert of_string(mass_gr=120.0, silencers_gr=20.0, silencer_position=1.0) == pytest.approx(plain + 20)  # fmt: skip
    assert of_string(mass_gr=120.0, silencers_gr=20.0, silencer_position=0.0) == pytest.approx(plain)  # fmt: skip


def interval_of_limbs():
    ends = ("mid", "low", "high")
    return Interval(
        *(constant("virtual_mass", "limbs", "recurve", "standard", column=e) for e in ends)
    )


def test_a_mechanical_release_takes_nothing():
    assert _loose(rig(release="mechanical")) == Interval(0.0, 0.0, 0.0)
    assert _loose(rig()) == LOSS
    model = SpeedModel(50.0, 2.0, 0.008, 0.002, 0.3)
    kept = less_the_loose(rig(), model)
    assert kept.energy_j == pytest.approx(50 * (1 - LOSS.mean))
    assert (kept.virtual_kg, kept.virtual_sd_kg, kept.correlation) == (0.008, 0.002, 0.3)
    #: of a product of two independent shares, by first order
    assert kept.energy_sd_j == pytest.approx(np.hypot(2 * (1 - LOSS.mean), 50 * LOSS.sd))
    whole = less_the_loose(rig(release="mechanical"), model)
    assert (whole.energy_j, whole.energy_sd_j) == (50, 2)


def machine(launch=None, **bow):
    return rig(launch, release="mechanical", **bow)


def test_without_a_measured_energy_the_kinds_own_is_taken_with_its_doubt():
    usual = typical_energy_j(
        "recurve", "standard", 47 * POUND_FORCE_N, stroke_m(rig()), 1.5 * POUND_FORCE_N
    )
    found = before_readings(machine(), 47.0, 1.5)
    assert (found.energy_j, found.energy_sd_j) == pytest.approx(usual)
    assert (found.virtual_kg, found.virtual_sd_kg) == _virtual_kg(rig(), 47.0)


def test_a_stated_hysteresis_takes_the_kinds_place_and_its_doubt_goes():
    quality, loss, _ = typical("recurve", "standard")
    found = before_readings(machine({"hysteresis": 0.2}), 47.0, 1.5)
    force, stroke = 47 * POUND_FORCE_N, 19 * INCH_M
    assert found.energy_j == pytest.approx(quality.mean * 0.8 * force * stroke)
    assert found.energy_sd_j / found.energy_j == pytest.approx(
        np.hypot(quality.sd / quality.mean, 1.5 / 47)
    )
    assert loss.sd > 0
    same = before_readings(machine({"hysteresis": None}), 47.0, 1.5)
    assert same.energy_j == before_readings(machine(), 47.0, 1.5).energy_j


def test_a_measured_energy_loses_what_the_limbs_keep():
    loss = typical("recurve", "standard").hysteresis
    found = before_readings(machine({"energy_per_lb": 0.9, "hysteresis": None}), 50.0, 2.0)
    assert found.energy_j == pytest.approx(45 * FOOT_POUND_J * (1 - loss.mean))
    assert found.energy_sd_j / found.energy_j == pytest.approx(
        np.hypot(2 / 50, loss.sd / (1 - loss.mean))
    )
    stated = before_readings(machine({"energy_per_lb": 0.9, "hysteresis": 0.2}), 50.0, 2.0)
    assert stated.energy_j == pytest.approx(45 * FOOT_POUND_J * 0.8)
    assert stated.energy_sd_j / stated.energy_j == pytest.approx(2 / 50)


def test_fingers_take_their_share_of_it():
    assert before_readings(rig(), 47.0, 1.5).energy_j == pytest.approx(
        before_readings(machine(), 47.0, 1.5).energy_j * (1 - LOSS.mean)
    )


def column(code, x, below, above):
    return SimpleNamespace(code=code, x=x, below=below, above=above)


def test_the_doubt_of_the_weight_is_of_the_weights_own_rules_alone():
    fired = [SimpleNamespace(rule=SimpleNamespace(code=c)) for c in ("W01", "W02")]
    demand = SimpleNamespace(
        weight_rules=SimpleNamespace(firings=fired),
        columns=(column("W01", 2.0, 1.0, 2.0), column("W02", -4.0, 1.0, 1.0), column("A01", 9.0, 5.0, 5.0)),
    )  # fmt: skip
    assert weight_sd_lb(demand) == pytest.approx(5.0)  # 3 and 4


# --- readings --------------------------------------------------------------------------------------


def joined_by_precisions(read, before):
    """Two normals as one by their precision matrices, the textbook's way."""
    shared = read.correlation * read.energy_sd_j * read.virtual_sd_kg
    # in joules and grams, so that the matrix is not lopsided
    doubt = np.array([[read.energy_sd_j**2, shared * 1e3], [shared * 1e3, read.virtual_sd_kg**2 * 1e6]])  # fmt: skip
    precision = np.linalg.inv(doubt)
    told = precision @ [read.energy_j, read.virtual_kg * 1e3]
    precision[0, 0] += before.energy_sd_j**-2
    told[0] += before.energy_j * before.energy_sd_j**-2
    after = np.linalg.inv(precision)
    return after @ told, np.sqrt(np.diag(after)), after[0, 1] / np.sqrt(np.prod(np.diag(after)))


@pytest.mark.parametrize("correlation", [0.0, 0.6, 0.95])
def test_readings_and_energy_join_by_their_precisions(correlation):
    read = SpeedModel(52.0, 2.5, 0.0080, 0.0018, correlation, 0.03, 0.05)
    before = SpeedModel(50.0, 1.5, 0.0070, 0.0010)
    both = _weighed_together(read, before)
    mean, sd, shared = joined_by_precisions(read, before)
    assert (both.energy_j, both.virtual_kg * 1e3) == pytest.approx(tuple(mean))
    assert (both.energy_sd_j, both.virtual_sd_kg * 1e3) == pytest.approx(tuple(sd))
    assert both.correlation == pytest.approx(shared, abs=1e-9)
    assert (both.reference_kg, both.growth) == (0.03, 0.05)


def test_an_energy_that_leaves_no_virtual_mass_gives_way_to_the_readings():
    read = SpeedModel(52.0, 1.0, 1.0, 1.0, 1.0)
    assert _weighed_together(read, SpeedModel(50.0, 1.0, 1.0, 1.0)) is read
    assert _weighed_together(read, SpeedModel(49.0, 1.0, 1.0, 1.0)) is read
    assert _weighed_together(read, SpeedModel(50.5, 1.0, 1.0, 1.0)) is not read


def test_a_virtual_mass_without_doubt_is_correlated_with_nothing():
    read = SpeedModel(52.0, 2.5, 0.0080, 0.0, 0.0)
    both = _weighed_together(read, SpeedModel(50.0, 1.5, 0.0070, 0.0010))
    assert (both.virtual_kg, both.virtual_sd_kg, both.correlation) == (0.0080, 0.0, 0.0)


def test_speeds_come_in_feet_a_second_low_middle_high():
    model = SpeedModel(50.0, 2.0, 0.0, 0.0)
    low, mid, high = speeds_fps(model, np.array([400.0, 500.0]))
    np.testing.assert_allclose(mid, np.sqrt(2 * 50 / (np.array([400, 500]) * GRAIN_KG)) / FPS_M_S)
    np.testing.assert_allclose(high / mid, np.exp(Z * 0.02), rtol=1e-5)
    np.testing.assert_allclose(low / mid, np.exp(-Z * 0.02), rtol=1e-5)


@pytest.mark.parametrize("n", [5.0, 10.0])
def test_student_t_differs_from_scipys_by_the_next_term_of_its_series(n):
    """Abramowitz and Stegun 26.7.5 (recalled): the term in the fourth power of the freedom."""
    fourth = (79 * Z**9 + 776 * Z**7 + 1482 * Z**5 - 1920 * Z**3 - 945 * Z) / (92160 * n**4)
    assert student_t95(n) + fourth == pytest.approx(stats.t.ppf(0.975, n), abs=40 / n**6)


def chrono(speed, mass=435.0, **more):
    return ENTRY.validate_python({"kind": "chrono", "speed": speed, "arrow_mass": mass, **more})


def test_a_bow_of_unknown_kind_is_held_against_a_recurve():
    kinds = {
        kind: speed_reading(rig(kind=kind), 47.0, [chrono(170.0)])
        for kind in ("unknown", "recurve", "longbow")
    }
    assert kinds["unknown"].excess_fps == pytest.approx(kinds["recurve"].excess_fps)
    assert kinds["longbow"].excess_fps > kinds["recurve"].excess_fps + 5
    usual = typical_speed_fps(435 / 47, 28.25, 7.5, 47.0).mid
    by_fingers = float(usual) * np.sqrt(1 - LOSS.mean)
    assert kinds["recurve"].excess_fps == pytest.approx(170 - by_fingers)
    assert kinds["recurve"].told == "one reading of the chronograph, mean 170.0 fps"
    two = speed_reading(rig(), 47.0, [chrono(170.0), chrono(171.0)])
    assert two.told == "2 readings of the chronograph, mean 170.5 fps"


def test_the_doubt_of_several_readings_is_scale_scatter_and_what_was_carried():
    """Two readings: the scale's half per cent, the table's 1 fps over the root of two, and the way home."""
    two = [chrono(170.0, distance="10 yd"), chrono(170.0, distance="10 yd")]
    home = bring(rig(), 47.0, two)
    mean = float(home.speed_fps.mean())
    expected = np.sqrt((0.005 * mean) ** 2 + (Z / np.sqrt(2)) ** 2 + home.carried_fps**2)
    assert home.carried_fps > 0.2
    assert speed_reading(rig(), 47.0, two).doubt_fps == pytest.approx(expected, rel=1e-5)


def test_scattered_readings_have_their_own_spread():
    speeds = np.array([160.0, 166.0, 170.0, 175.0, 181.0])
    found = speed_reading(rig(), 47.0, [chrono(float(s)) for s in speeds])
    half = student_t95(4) * speeds.std(ddof=1) / np.sqrt(5)
    assert found.doubt_fps == pytest.approx(np.hypot(0.005 * speeds.mean(), half), rel=1e-5)


def read(*pairs):
    mass, speed = np.array(pairs).T
    return SimpleNamespace(mass_gr=mass, speed_fps=speed)


def test_more_energy_than_the_bow_stores_is_told_with_both_figures():
    stored, whose = rig({"energy_per_lb": 1.0}), "the bow stores by what was measured"
    limit = 47 * FOOT_POUND_J
    top = np.sqrt(2 * limit / (400 * GRAIN_KG)) / FPS_M_S
    assert _against_the_bow(stored, 47.0, read((400.0, top * 0.999)), 500.0) == []
    (told,) = _against_the_bow(stored, 47.0, read((300.0, top), (400.0, top * 1.01)), 2.0)
    assert told.startswith(f"an arrow of 400 gr at {top * 1.01:.0f} fps carries {47 * 1.01**2:.1f} ft-lb")  # fmt: skip
    assert f"more than the 47.0 ft-lb {whose}" in told


def test_a_curves_own_doubt_is_granted():
    points = line(14.0, 16.0, 28.25)
    bent = [points[0], (16.0, 17.0), points[2]]
    energy, sd = stored_energy_j(pulled(*bent), 38.0)
    assert sd > 0.001 * energy
    top = np.sqrt(2 * (energy + Z * sd) / (400 * GRAIN_KG)) / FPS_M_S
    assert _against_the_bow(pulled(*bent), 38.0, read((400.0, top * 0.9999)), 500.0) == []
    assert "measured" in _against_the_bow(pulled(*bent), 38.0, read((400.0, top * 1.0001)), 500.0)[0]  # fmt: skip


def test_without_a_measured_energy_the_best_of_the_kind_is_the_limit():
    best = typical("recurve", "standard").quality.high * 47 * POUND_FORCE_N * 19 * INCH_M
    top = np.sqrt(2 * best / (400 * GRAIN_KG)) / FPS_M_S
    assert _against_the_bow(rig(), 47.0, read((400.0, top * 0.999)), 500.0) == []
    (told,) = _against_the_bow(rig(), 47.0, read((400.0, top * 1.001)), 500.0)
    assert told.endswith("even a good bow of this kind stores: check speed, the arrow's weight and the draw weight")  # fmt: skip


@pytest.mark.parametrize(("way", "word"), [(1, "faster"), (-1, "slower")])
def test_far_from_usual_is_past_so_many_spreads_of_bow_and_reading_together(way, word):
    model = before_readings(rig(), 47.0, 0.0)
    _, mid, high = speeds_fps(model, np.array([450.0]))
    sds = constant("chronograph", "far_from_usual_sds")
    width = sds * np.hypot((high[0] - mid[0]) / Z, 4.0 / Z)
    inside, outside = (float(mid[0] + way * width * share) for share in (0.99, 1.01))
    # two readings about the same mean speed and mass
    assert _against_the_bow(rig(), 47.0, read((440.0, inside - 1), (460.0, inside + 1)), 4.0) == []
    (told,) = _against_the_bow(rig(), 47.0, read((440.0, outside - 1), (460.0, outside + 1)), 4.0)
    assert told.startswith(f"{outside:.0f} fps is far {word} than the {mid[0]:.0f} fps usual for such a bow with 450 gr")  # fmt: skip


# --- the model with readings -----------------------------------------------------------------------


def wanted():
    return SimpleNamespace(
        own_lb=47.0, weight_rules=SimpleNamespace(firings=[]), columns=()
    )  # no rule of the weight at work


def test_without_usable_readings_the_model_is_that_before_them():
    before = before_readings(rig(), 47.0, 0.0)
    assert vars(speed_model(rig(), wanted())) == vars(before)
    weightless = chrono(170.0).model_copy(update={"arrow_mass_gr": None})
    assert vars(speed_model(rig(), wanted(), [weightless])) == vars(before)


def test_readings_take_the_place_of_a_typical_energy_and_join_a_measured_one(monkeypatch):
    shots = [chrono(170.0, distance="10 yd"), chrono(172.0, distance="10 yd")]
    home = bring(rig(), 47.0, shots)
    before = before_readings(rig(), 47.0, 0.0)
    relative = np.hypot(0.005 / Z, home.carried_fps / Z / home.speed_fps.mean())
    mine = SpeedModel.from_readings(
        435.0 * GRAIN_KG * np.ones(2), home.speed_fps * FPS_M_S, before.virtual_kg, before.virtual_sd_kg,
        shot_sd_m_s=home.spread()[0] * FPS_M_S, scale_sd=float(relative),
    )  # fmt: skip
    found = speed_model(rig(), wanted(), shots)
    assert list(vars(found).values()) == pytest.approx(list(vars(mine).values()), rel=1e-5)
    measured = rig({"energy_per_lb": 0.9, "virtual_mass_gr": None, "hysteresis": None})
    joined = _weighed_together(mine, before_readings(measured, 47.0, 0.0))
    both = speed_model(measured, wanted(), shots)
    assert list(vars(both).values()) == pytest.approx(list(vars(joined).values()), rel=1e-5)
    asked = []
    monkeypatch.setattr(speed, "weight_sd_lb", lambda demand: asked.append(demand) or 1.5)
    assert speed_model(rig(), wanted()).energy_sd_j > before.energy_sd_j
    assert len(asked) == 1
