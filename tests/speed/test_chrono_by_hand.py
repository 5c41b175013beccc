"""Which readings speak, and the way each is brought home: thresholds just on either side, corrections by hand."""

import numpy as np
import pytest
from scipy import stats

from shaftwright.files.rig import load_rig
from shaftwright.inference.chrono import (
    Brought,
    _before_flight,
    _draw_and_brace_in,
    _same_limbs,
    _strays,
    _to_own_state,
    bring,
    chrono_now,
    heavier_faster,
    left_out,
    mass_groups,
    string_of,
)
from shaftwright.physics.air import Air
from shaftwright.physics.flight import drag_of
from shaftwright.records.notebook import ENTRY
from shaftwright.resources import constant
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, YARD_M

HOME = load_rig("examples/heron_marsh/rig.yaml")
SD, SDS = constant("chronograph", "shot_sd_fps"), constant("chronograph", "stray_sds")


def rig(limbs="one", brace=7.5, draw=28.0):
    return HOME.model_copy(update={
        "bow": HOME.bow.model_copy(update={"brace_height_in": brace, "limbs_id": limbs}),
        "archer": HOME.archer.model_copy(update={"draw_length_in": draw}),
    })  # fmt: skip


def chrono(speed=170.0, mass=435.0, **more):
    return ENTRY.validate_python({"kind": "chrono", "speed": speed, "arrow_mass": mass, **more})


CHANGE = ENTRY.validate_python({"kind": "change", "what": "limbs"})


# --- which speak -----------------------------------------------------------------------------------


def test_the_readings_own_string_goes_before_the_bows():
    assert string_of(chrono()) is None
    assert string_of(chrono(rig_state={"string": "B"})) == "B"
    assert string_of(chrono(string="A", rig_state={"string": "B"})) == "A"
    assert string_of(chrono(string="A")) == "A"


def test_the_last_string_speaks_since_the_last_change():
    a, b = chrono(170.0, string="A"), chrono(171.0, string="B")
    weightless = chrono(172.0, None, string="A")
    assert chrono_now([]) == []
    assert chrono_now([a, CHANGE]) == []
    assert chrono_now([b, a, b, weightless]) == [b, b]
    assert chrono_now([a, CHANGE, b, CHANGE, a, a]) == [a, a]
    assert left_out([a, CHANGE, b, CHANGE, a, b, weightless]) == (
        "2 chronograph readings from before the last change are left out",
        "one chronograph reading without an arrow's weight is left out",
        "one chronograph reading of another string than the one shot last is left out",
    )
    assert left_out([a]) == ()


# --- where it was shot from ------------------------------------------------------------------------


def test_limbs_differ_only_where_both_are_named():
    other = chrono(rig_state={"limbs_id": "two"})
    assert not _same_limbs(rig(), other)
    assert _same_limbs(rig("two"), other)
    assert _same_limbs(rig(None), other)
    assert _same_limbs(rig(), chrono())
    assert _same_limbs(rig(), chrono(rig_state={"brace": 7}))


def test_draw_and_brace_of_a_reading():
    assert _draw_and_brace_in(rig(), chrono()) == (28.0, 7.5)
    assert _draw_and_brace_in(rig(), chrono(draw=27, brace=8)) == (27, 8)
    assert _draw_and_brace_in(rig(), chrono(rig_state={"brace": 7})) == (28, 7)
    assert _draw_and_brace_in(rig(), chrono(brace=8, rig_state={"brace": 7})) == (28, 8)


def test_a_reading_home_goes_by_stroke_root_of_brace_and_root_of_weight():
    """Klopsteg 1947 and Hickman, recalled: speed as the stroke with the draw, as its root with the brace."""
    own = 28 - 7.5 - 1.75
    assert _to_own_state(rig(), 47.0, chrono()) == pytest.approx(1)
    heavy = chrono(rig_state={"draw_weight": "50 lb"})
    assert _to_own_state(rig(), 47.0, heavy) == pytest.approx(np.sqrt(47 / 50))
    short = chrono(draw=26)
    assert _to_own_state(rig(), 47.0, short) == pytest.approx(own / (own - 2))
    high = chrono(brace=8.5)
    assert _to_own_state(rig(), 47.0, high) == pytest.approx(np.sqrt(own / (own - 1)))
    all_three = chrono(draw=26, brace=8.5, rig_state={"draw_weight": "50 lb"})
    expected = np.sqrt(47 / 50) * (own - 1) / (own - 3) * np.sqrt(own / (own - 1))
    assert _to_own_state(rig(), 47.0, all_three) == pytest.approx(expected)
    # told at a draw at which the rig tells nothing, a weight says nothing of the pull
    at_30 = chrono(rig_state={"draw_weight": "50 lb at 30 in"})
    assert _to_own_state(rig(), 47.0, at_30) == pytest.approx(1)
    weight = rig().bow.draw_weight.model_copy(update={"lb": 45.0, "at": 30.0})
    bow = rig().bow.model_copy(update={"draw_weight": weight})
    marked = rig().model_copy(update={"bow": bow})
    assert _to_own_state(marked, 47.0, at_30) == pytest.approx(np.sqrt(45 / 50))
    named = chrono(rig_state={"limbs_id": "one"})
    assert _to_own_state(rig(), 47.0, named) == pytest.approx(1)


def test_the_flight_to_the_sensors_is_an_exponential_of_the_drags_three_levels():
    mass, speed = np.array([435.0, 500.0]), np.array([170.0, 160.0])
    same, nothing = _before_flight(mass, speed, [0.0, 0.0])
    np.testing.assert_array_equal(same, speed)
    assert not nothing.any()
    mid, half = _before_flight(mass, speed, [0.0, 10.0])
    assert (mid[0], half[0]) == (170, 0)
    back = []
    for level in ("low", "mid", "high"):
        drag = drag_of(2 * 0.138 * INCH_M, "not_stated", "field", level)
        rho = float(Air.at().density_kg_m3)
        area = float(drag.area_m2(160 * FPS_M_S, Air.at()))
        back.append(160 * np.exp(rho * area * 10 * YARD_M / (2 * 500 * GRAIN_KG)))
    assert mid[1] == pytest.approx(back[1])
    assert half[1] == pytest.approx((back[2] - back[0]) / 2)


# --- brought together ------------------------------------------------------------------------------


def test_what_cannot_be_used_is_counted_and_the_rest_brought():
    assert bring(rig(), 47.0, []) is None
    assert bring(rig(), 47.0, [chrono(170.0, None)]) is None
    other = chrono(rig_state={"limbs_id": "two"})
    assert bring(rig(), 47.0, [other]) is None
    found = bring(rig(), 47.0, [chrono(170.0), other, chrono(171.0, 500.0), other])
    assert found.mass_gr.tolist() == [435, 500]
    assert found.speed_fps.tolist() == [170, 171]
    assert found.warnings[0] == "2 chronograph readings left out: of other limbs"
    assert bring(rig(), 47.0, [chrono(170.0)]).warnings == ()


def test_what_was_carried_is_flight_and_a_share_of_the_correction_on_the_mean():
    doubt = constant("chronograph", "carry_doubt")
    far = chrono(170.0, distance="10 yd", draw=27.0)
    found = bring(rig(), 47.0, [far, chrono(170.0)])
    at_string, flown = _before_flight(np.array([435.0]), np.array([170.0]), [10.0])
    home = at_string[0] * 18.75 / 17.75
    assert found.speed_fps.tolist() == pytest.approx([home, 170])
    mean = np.hypot(flown[0], doubt * (home - at_string[0])) / 2
    assert found.carried_fps == pytest.approx(mean)


def test_strays_go_with_their_own_share_of_what_was_carried():
    four = [chrono(speed) for speed in (170.0, 170.5, 169.5, 170.2)]
    stray = chrono(120.0, draw=24.0)
    found = bring(rig(), 47.0, [*four, stray])
    assert found.carried_fps == 0
    assert len(found.speed_fps) == len(found.mass_gr) == 4
    assert "left out: it stands far" in found.warnings[0]


def test_masses_within_half_a_grain_are_one_lightest_first():
    groups = mass_groups(np.array([500.0, 400.0, 400.4, 500.3, 450.0, 450.7]))
    assert [sorted(g.tolist()) for g in groups] == [[1, 2], [4], [5], [0, 3]]


def test_spread_of_single_readings_is_pooled_over_masses_by_their_degrees_of_freedom():
    mass = np.array([400.0] * 4 + [500.0] * 3)
    speed = np.array([170.0, 172.0, 171.0, 169.0, 150.0, 153.0, 151.0])
    squares = sum(((g - g.mean()) ** 2).sum() for g in (speed[:4], speed[4:]))
    sd, freedom = Brought(mass, speed, 0.0, ()).spread()
    assert (sd, freedom) == (pytest.approx(np.sqrt(squares / 5)), 5)
    assert Brought(mass[:2], speed[:2], 0.0, ()).spread() == (SD, np.inf)


# --- strays ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("off", "stray"), [(SDS * SD, False), (SDS * SD + 0.5, True)])
@pytest.mark.parametrize("way", [1, -1])
def test_a_stray_is_so_many_spreads_from_the_middle_of_three_others(off, stray, way):
    """The other three agree to a hair, so that the spread is the table's least."""
    speed = np.array([170.0, 170.0, 170.0, 170.0 + way * off])
    found, told = _strays(np.full(4, 435.0), speed)
    assert found.tolist() == [False, False, False, stray]
    if stray:
        assert told == [f"a chronograph reading of {speed[3]:.0f} fps is left out: it stands far from "
                        "the others of 435 gr (170 fps)"]  # fmt: skip
    else:
        assert told == []


def test_three_readings_have_no_stray_and_each_mass_is_judged_alone():
    assert not _strays(np.full(3, 435.0), np.array([170.0, 170.0, 100.0]))[0].any()
    mass = np.array([435.0] * 4 + [600.0] * 4)
    speed = np.array([170.0] * 4 + [140.0, 140.0, 141.0, 90.0])
    assert np.flatnonzero(_strays(mass, speed)[0]).tolist() == [7]


def test_readings_that_scatter_wide_are_allowed_more():
    """Spread by the middle deviation: 1.4826 of it is a normal's standard deviation (Hampel 1974, recalled)."""
    assert 1 / stats.norm.ppf(0.75) == pytest.approx(1.4826, abs=1e-4)
    base = np.array([160.0, 164.0, 170.0, 176.0, 180.0])
    for beyond, stray in ((0.98, False), (1.02, True)):
        # of six the middle is 173; deviations 3, 3, 7, 9, 13 and the last one's own: the middle of them 8
        speed = np.append(base, 173 + beyond * SDS * 1.4826 * 8)
        assert _strays(np.full(6, 435.0), speed)[0].tolist() == [False] * 5 + [stray]


# --- heavier is not faster -------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "told"), [(0.99, False), (1.01, True)])
def test_heavier_is_faster_only_past_chance_of_two_means(share, told):
    limit = stats.norm.ppf(0.975) * SD * np.sqrt(1 / 3 + 1 / 2)
    mass = np.array([400.0] * 3 + [500.0] * 2)
    speed = np.array([169.0, 170.0, 171.0, 170 + share * limit - 1, 170 + share * limit + 1])
    found = heavier_faster(mass, speed, SD)
    (plainly,) = heavier_faster(mass, speed, SD, any_gain=True)
    assert ("plainly faster" in plainly) is told
    assert bool(found) is told
    if told:
        assert found == [f"500 gr was faster than 400 gr by {share * limit:.1f} fps: a heavier arrow cannot be, "
                         "from the same draw"]  # fmt: skip
    assert heavier_faster(mass, np.array([190.0] * 3 + [150.0] * 2), SD) == []
