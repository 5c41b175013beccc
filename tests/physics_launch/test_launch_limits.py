"""Cases of the launch that can be solved by hand, symmetries, and refusals."""

import numpy as np
import pytest
from launch_rigs import arrow, bow, contact_count, many, middle

from shaftwright.physics.launch.launch import after_exit, launch
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N

EXIT = ("turn_rate_rad_s", "angle_rad", "direction_rad", "attack_rad")


def test_straight_line_bow_time_and_speed_exact():
    # 40 lbf, 20 in, 350 gr, straight-line draw curve: 63.130 m/s after 12.640 ms = (pi/2) d / v
    light = arrow(length_in=28, front_gr=100, tail_gr=10, fletching_gr=16, gr_per_in=8)
    straight = bow(40, 28.75, 7).changed(
        stored_energy_j=0.5 * 40 * POUND_FORCE_N * 20 * INCH_M, virtual_mass_kg=0, hysteresis=0
    )
    # 350 gr on the string
    light = light.changed(front_kg=(350 - 8 * 28 - 26) * GRAIN_KG)
    left = launch(light, straight, middle(40))
    assert left.speed_m_s == pytest.approx(63.130, abs=5e-4)
    assert 1000 * left.time_s == pytest.approx(12.640, abs=5e-4)


def test_speed_from_energy_klopsteg_1943():
    # (m + K) v^2 / 2 = energy used: definition of the virtual mass
    lb, fullness, hysteresis = (
        x.ravel() for x in np.meshgrid([30.0, 47, 70], [0.45, 0.6, 0.75], [0.0, 0.15])
    )
    stored = fullness * lb * POUND_FORCE_N * 19.5 * INCH_M
    left = launch(
        arrow(), bow(lb).changed(stored_energy_j=stored, hysteresis=hysteresis), middle(lb)
    )
    energy = 0.5 * (left.beam.mass + 240 * GRAIN_KG) * left.speed_m_s**2
    np.testing.assert_allclose(energy, stored * (1 - hysteresis), rtol=5e-5)


def test_no_fingers_and_shaft_centre_on_the_median_plane_no_sideways_motion():
    still = bow(offset_in=-0.15)
    left = launch(arrow(), still, middle(side_fraction=0), frames=10)
    for name in EXIT:
        assert getattr(left, name) == 0
    assert contact_count(left) == 0
    assert np.isnan(left.plate_left_s)
    assert not left.frames.sideways_m.any()


def test_rigid_arrow_turns_as_a_pushed_rod():
    # Constant push a = F/(m+K), no string stiffness, no fingers: theta'' = (a m B / I) theta from
    # theta_0 = gap / (nock to plate), the balance point at rest, no plate: own closed form.
    force = 100.0
    whole = force * bow().power_stroke_m
    constant = bow().changed(draw_force_n=force, stored_energy_j=whole, hysteresis=0.0)
    free = middle(
        side_fraction=0,
        string_stiffness_full_n_m=0,
        string_stiffness_brace_n_m=0,
        string_lateral_mass=0,
        plate_stiffness_n_m=0,
        plate_damping_n_s_m=0,
    )
    left = launch(arrow(), constant, free, bending_modes=0)
    beam, stroke = left.beam, float(constant.power_stroke_m)
    a = force / (beam.mass[0] + 240 * GRAIN_KG)
    rate = np.sqrt(a * beam.mass[0] * beam.balance[0] / beam.inertia[0])
    start = 0.15 * INCH_M / (stroke + 7 * INCH_M)
    time = np.sqrt(2 * stroke / a)
    assert left.time_s == pytest.approx(time)
    assert left.turn_rate_rad_s == pytest.approx(start * rate * np.sinh(rate * time), rel=5e-5)
    assert left.angle_rad == pytest.approx(start * np.cosh(rate * time), rel=5e-5)
    assert left.direction_rad == pytest.approx(0, abs=1e-12)
    assert contact_count(left) == 0


def test_free_bar_rings_at_its_own_frequency_after_exit():
    # 0.500 spine, 28 in, 8 gr/in, 112 gr front, 10 gr rear: 78.878 Hz, exact
    ringing = arrow(500, 28, 112, 10, 0, 8)
    left = launch(ringing, bow(40), middle(40))
    time = np.linspace(0, 1.0, 4001)[:-1]
    station, y = after_exit(left, time)
    assert station[-1] == pytest.approx(28 * INCH_M)
    # bend of the middle against the line through the ends: free of the rigid motions
    bend = y[:, 20] - 0.5 * (y[:, 0] + y[:, 40])
    spectrum = abs(np.fft.rfft(bend * np.hanning(time.size)))
    assert np.fft.rfftfreq(time.size, 1 / 4000)[spectrum.argmax()] == pytest.approx(78.878, abs=0.6)


def test_after_exit_goes_on_where_the_string_stopped():
    left = launch(arrow(), bow(), middle(), frames=3)
    station, y = after_exit(left, [0.0, 1e-6])
    np.testing.assert_allclose(y[0], left.frames.sideways_m[-1], atol=1e-12)
    nose = (y[1, -1] - y[0, -1]) / 1e-6
    rigid = (left.direction_rad * left.speed_m_s, left.turn_rate_rad_s)
    assert abs(nose) < 20
    assert np.isfinite(rigid).all()
    assert station.shape == (41,)


def test_sideways_causes_scale_the_sideways_motion():
    # spring, damper and beam are of the first degree: twice the cause, twice the motion
    factor = np.array([1.0, 0.2, 0.7, 2.0, 4.0])
    left = launch(arrow().times(radius_m=factor), bow(), middle(side_fraction=0.065 * factor))
    for name in ("turn_rate_rad_s", "attack_rad", "direction_rad"):
        value = getattr(left, name)
        np.testing.assert_allclose(value, factor * value[0], rtol=1e-6)


def test_masses_and_forces_grown_alike_change_nothing():
    # every force and every mass times the same factor: the same accelerations
    factor = np.array([1.0, 0.3, 0.8, 3.0])
    left = launch(
        arrow().times(
            stiffness_n_m2=factor,
            mass_per_length_kg_m=factor,
            front_kg=factor,
            tail_kg=factor,
            fletching_kg=factor,
        ),
        bow().times(
            draw_force_n=factor,
            stored_energy_j=factor,
            virtual_mass_kg=factor,
            string_mass_kg=factor,
        ),
        middle().times(
            plate_stiffness_n_m=factor,
            plate_damping_n_s_m=factor,
            string_stiffness_full_n_m=factor,
            string_stiffness_brace_n_m=factor,
        ),
    )
    for name in (*EXIT, "speed_m_s", "time_s", "plate_left_s"):
        value = getattr(left, name)
        np.testing.assert_allclose(value, value[0], rtol=1e-6)


@pytest.mark.slow
def test_one_at_a_time_or_together_is_the_same():
    a, b, c = many(8)
    together = launch(a, b, c)
    for i in range(8):
        pick = [
            type(x)(
                **{
                    k: np.asarray(v)[i] if np.ndim(v) else v
                    for k, v in vars(x).items()
                    if v is not None
                }
            )
            for x in (a, b, c)
        ]
        alone = launch(*pick)
        assert alone.turn_rate_rad_s.shape == ()
        assert alone.turn_rate_rad_s == pytest.approx(together.turn_rate_rad_s[i], rel=1e-9)


def test_fields_broadcast_together():
    left = launch(
        arrow(np.array([300.0, 400, 500])[:, None]),
        bow(np.array([45.0, 51])),
        middle(np.array([45.0, 51])),
    )
    assert left.turn_rate_rad_s.shape == (3, 2)
    assert left.contacts_s.shape == (3, 2, 24, 2)
    alone = launch(arrow(400), bow(51), middle(51))
    assert left.turn_rate_rad_s[1, 1] == pytest.approx(alone.turn_rate_rad_s, rel=1e-9)


def test_a_shaft_shorter_than_the_draw_is_refused():
    with pytest.raises(ValueError, match="shorter than nock to plate at full draw"):
        launch(arrow().changed(length_m=0.6), bow(), middle())


def test_frames_show_the_shaft_from_plate_to_exit():
    left = launch(arrow(), bow(), middle(), frames=9)
    picture = left.frames
    assert picture.sideways_m.shape == (9, 41)
    # straight at the start, nock on the median plane, centre line a radius off at the plate
    at_plate = np.interp(picture.plate_station_m[0], picture.station_m, picture.sideways_m[0])
    assert at_plate == pytest.approx(0.15 * INCH_M, rel=1e-9)
    assert picture.sideways_m[0, 0] == pytest.approx(0, abs=1e-12)
    assert picture.time_s[-1] == pytest.approx(left.time_s)
    assert picture.nock_travel_m[-1] == pytest.approx(19.5 * INCH_M)
    assert picture.plate_station_m[-1] == pytest.approx(7 * INCH_M)
    assert 140 < left.speed_m_s / FPS_M_S < 200
