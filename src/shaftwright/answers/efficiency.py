"""Stored energy, virtual mass and efficiency of one bow from its measured speeds.

The readings speak for themselves. What is usual for the kind of bow stands beside them and is
never mixed in; where the readings tell the virtual mass no better than that, it takes their place
and the answer says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shaftwright.answers.choose.rank import hard_floor_gr_per_lb
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.arrays import Array
from shaftwright.errors import InputError, NoAnswer
from shaftwright.inference.chrono import (
    Brought,
    bring,
    chrono_now,
    heavier_faster,
    left_out,
    mass_groups,
)
from shaftwright.inference.speed import before_readings, stored_energy_j, stroke_m, student_t95
from shaftwright.limits import MASS, MOST, number, refuse
from shaftwright.measure.use import Between
from shaftwright.physics.bow import Range
from shaftwright.physics.bow_fit import fit_speeds
from shaftwright.physics.bow_speed import SpeedModel
from shaftwright.records.rig import DrawWeight, Rig
from shaftwright.resources import constant
from shaftwright.result import Result, kept
from shaftwright.units import FOOT_POUND_J, FPS_M_S, GRAIN_KG, INCH_M, Z95, Interval

_STEP_GR = 50.0
_ROUND_GR = 10.0
_BEYOND_GR = 100.0


@dataclass(frozen=True)
class Shot(Result):
    """The readings of one arrow mass: mass [gr], how many, mean speed [fps]."""

    mass_gr: float
    n: int
    mean_fps: float


@dataclass(frozen=True)
class Prediction(Result):
    """One arrow mass: speed [fps], and the share of the energy that it takes along."""

    mass_gr: float
    speed_fps: Interval
    energy_ftlb: float
    gr_per_lb: float
    usual_fps: Interval
    efficiency: float
    efficiency_range: Between


@dataclass(frozen=True)
class Usual(Result):
    """What is usual for such a bow."""

    stored_ftlb: Interval = field(metadata=kept(json="stored_energy_ftlb"))
    virtual_gr: Interval = field(metadata=kept(json="virtual_mass_gr"))


@dataclass(frozen=True)
class Efficiency(Answer):
    """What the speeds of one bow say; an end of a range may be infinite."""

    #: `masses`: from several arrow masses alone; `energy`: from one, the stored energy being
    #: measured; `usual`: the readings tell the virtual mass no better than what is usual, which
    #: stands in for it
    source: str
    stored_ftlb: Interval = field(metadata=kept(json="stored_energy_ftlb"))
    virtual_gr: Interval = field(metadata=kept(json="virtual_mass_gr"))
    #: what was read, brought to the string of the bow as it stands
    shots: tuple[Shot, ...]
    predictions: tuple[Prediction, ...]
    #: the same over every weight shot and round it, for the picture
    curve: tuple[Prediction, ...] = field(metadata=kept(json=False))
    #: under the draw curve, where that was measured
    under_curve_ftlb: Interval | None
    #: what would settle it; empty where it is settled
    next_step: str
    warnings: tuple[str, ...]
    #: whether the readings tell the virtual mass
    settled: bool
    usual: Usual
    #: where the virtual mass is not settled: from where to where the readings leave it, 95 %
    left_open_gr: Between | None


@dataclass(frozen=True)
class _Found:
    """Energy [J], virtual mass [kg] and speeds (low, mid, high) [m/s]."""

    source: str
    energy: Interval
    virtual: Interval
    speeds: Range
    warnings: tuple[str, ...]
    left_open_gr: Between | None = None


def efficiency(asked: Scenario, masses_gr: Sequence[float] = ()) -> Efficiency:
    """Stored energy, virtual mass, efficiency, and the speeds of other arrows.

    The readings since the last change and of the string shot last are used; without masses to
    predict, a spread round those shot. From several masses the energy is what reaches arrow and
    moving parts: what is lost inside the limbs is no part of it. From one mass and a measured energy,
    that loss counts as virtual mass. Several masses settle the virtual mass when such readings would
    tell it better than the tables do, or when they rule out all that is usual; otherwise the usual
    value stands in, with its range. Where no bow could have made the readings, it says so.
    """
    if len(masses_gr) > MOST:
        raise InputError.of("masses_gr", f"may be {MOST} at most", value=masses_gr)
    refuse(*(number("masses_gr", mass, MASS) for mass in masses_gr))
    rig, entries = asked.rig, asked.entries
    reference = asked.reference_build()
    own_lb = asked.demand_without_speed(reference).own_lb
    usual = _usual_model(rig, own_lb)
    readings = chrono_now(entries)
    brought = bring(rig, own_lb, readings) if readings else None
    if brought is None:
        reasons = "; ".join(left_out(entries))
        because = f" ({reasons})" if reasons else ""
        mass = float(reference.total_gr[0])
        step = _enough(
            usual,
            mass,
            float(usual.speed(mass * GRAIN_KG).mid),
            constant("chronograph", "shot_sd_fps"),
        )
        raise NoAnswer(
            f"Shoot {step}, and note the speeds: there is no chronograph reading with an arrow's weight "
            f"that counts{because}"
        )
    stored = stored_energy_j(rig, own_lb)
    shots = tuple(
        Shot(float(brought.mass_gr[g].mean()), g.size, float(brought.speed_fps[g].mean()))
        for g in mass_groups(brought.mass_gr)
    )
    _possible(rig, own_lb, shots)
    per_lb = hard_floor_gr_per_lb(rig)
    floor = per_lb * own_lb
    spread = _masses(shots, floor)
    wanted = set(masses_gr or spread)
    masses = np.array(sorted(wanted.union(spread)))
    mean = float(brought.speed_fps.mean()) * FPS_M_S
    step = _enough(usual, float(brought.mass_gr.mean()), mean, brought.spread()[0])
    if len(shots) > 1:
        found = _from_masses(usual, brought, stored, masses)
    elif stored is not None:
        found = _from_energy(brought, stored, masses)
    else:
        reasons = "; ".join((*brought.warnings, *left_out(entries)))
        which = f"all readings that count are of one arrow weight, {shots[0].mass_gr:.0f} gr"
        raise NoAnswer(
            f"Shoot {step}, or write the draw-force curve into the rig: "
            f"{which}{f' ({reasons})' if reasons else ''}, which does not tell the bow's energy from what "
            "string and limbs carry along"
        )
    warnings = [*brought.warnings, *left_out(entries), *found.warnings]
    light = [m for m in sorted(wanted) if m < floor]
    if light:
        warnings.append(
            f"{', '.join(f'{m:g}' for m in light)} gr: too light to be shot from this bow; never under "
            f"{per_lb:g} gr/lb, and the bow maker's word comes first"
        )
    settled = found.source != "usual"
    curve = tuple(_predictions(usual, own_lb, masses, found))
    return Efficiency(
        asked, found.source, found.energy.scaled(1 / FOOT_POUND_J), found.virtual.scaled(1 / GRAIN_KG), shots,
        tuple(p for p in curve if p.mass_gr in wanted), curve,
        None if stored is None else _normal(*stored).scaled(1 / FOOT_POUND_J), "" if settled else step,
        tuple(dict.fromkeys(warnings)), settled,
        Usual(
            _normal(usual.energy_j, usual.energy_sd_j).scaled(1 / FOOT_POUND_J),
            _virtual(usual).scaled(1 / GRAIN_KG),
        ),
        found.left_open_gr,
    )  # fmt: skip


def _possible(rig: Rig, own_lb: float, shots: Sequence[Shot]) -> None:
    """Refuse readings that carry more than full draw weight over the whole power stroke would give."""
    stroke_in = stroke_m(rig) / INCH_M
    most = own_lb * stroke_in / 12
    for shot in shots:
        carried = shot.mass_gr * GRAIN_KG * (shot.mean_fps * FPS_M_S) ** 2 / 2 / FOOT_POUND_J
        if carried > most:
            raise NoAnswer(
                f"{shot.mean_fps:.0f} fps with {shot.mass_gr:.0f} gr is {carried:.0f} ft-lb, and "
                f"{own_lb:.0f} lb over {stroke_in:.1f} in cannot store more than {most:.0f}: check "
                "speed, arrow weight, draw length and draw weight"
            )


def _masses(shots: Sequence[Shot], floor_gr: float) -> list[float]:
    """The masses shot and round ones to either side, none too light for the bow."""
    low = max(shots[0].mass_gr - _BEYOND_GR, floor_gr)
    first = float(np.ceil(low / _STEP_GR) * _STEP_GR)
    last = shots[-1].mass_gr + _BEYOND_GR
    return sorted({*np.arange(first, last + 1e-9, _STEP_GR).tolist(), *(s.mass_gr for s in shots)})


def _normal(mean: float, sd: float) -> Interval:
    return Interval(mean, mean - Z95 * sd, mean + Z95 * sd)


def _virtual(model: SpeedModel) -> Interval:
    """The virtual mass of a model [kg]."""
    return _normal(model.virtual_kg, model.virtual_sd_kg)


def _from_masses(
    model: SpeedModel, brought: Brought, stored: tuple[float, float] | None, masses: Array
) -> _Found:
    """Energy and virtual mass as several masses ask for, or the usual ones where they cannot tell."""
    mass, speed, (shot_sd, dof) = brought.mass_gr, brought.speed_fps, brought.spread()
    fit = fit_speeds(mass * GRAIN_KG, speed * FPS_M_S, shot_sd * FPS_M_S, dof)
    misfits = tuple(heavier_faster(mass, speed, shot_sd, any_gain=True))
    if stored is not None:
        misfits = (*_above_stored(mass, speed, stored[0]), *misfits)
    energy, virtual, usual = fit.energy_j, fit.virtual_kg, _virtual(model)
    told = "; ".join(misfits) or "draw, speeds or arrow masses varied"
    if fit.heavier_is_faster:
        raise NoAnswer(f"the heavier arrows were not slower, which no bow does: {told}")
    if virtual.high < 0:
        raise NoAnswer(
            f"the readings ask for less than nothing carried along, which no bow does: {told}"
        )
    left_open = replace(virtual, low=max(virtual.low, 0.0))
    if not _settles(virtual, fit.virtual_half_width_kg(usual.mid), usual):
        if stored is not None:
            return replace(_from_energy(brought, stored, masses), warnings=misfits)
        return _from_usual(model, brought, masses, left_open, misfits)
    # what carried the readings to the string is common to all: energy and speeds take it, K does not
    carried = brought.carried_fps / float(np.mean(speed))
    factor = float(np.exp(2 * carried))
    energy = Interval(energy.mid, energy.low / factor, energy.high * factor)
    with np.errstate(over="ignore", invalid="ignore"):
        _, mid, high = fit.speed(masses * GRAIN_KG)
        half = np.hypot(np.log(high / mid), carried)
        speeds = Range(mid * np.exp(-half), mid, mid * np.exp(half))
    return _Found("masses", energy, left_open, speeds, misfits)


def _settles(virtual: Interval, half_width: float, usual: Interval) -> bool:
    """Whether readings tell the virtual mass better than the tables, or rule out what those say."""
    if not (virtual.mid > 0 and np.isfinite(virtual.high)):
        return False
    sharper = half_width < (usual.high - usual.low) / 2
    return sharper or virtual.low > usual.high or virtual.high < usual.low


def _from_usual(
    usual: SpeedModel,
    brought: Brought,
    masses: Array,
    left_open: Interval,
    misfits: tuple[str, ...],
) -> _Found:
    """The usual virtual mass, and the energy that the speeds then ask for."""
    virtual, model = _virtual(usual), brought.model(usual.virtual_kg, usual.virtual_sd_kg)
    if left_open.low > virtual.high or left_open.high < virtual.low:
        misfits += (
            "the readings do not fit what is usual for such a bow: check draw, masses and speeds",
        )
    return _Found(
        "usual", _normal(model.energy_j, model.energy_sd_j), virtual, model.speed(masses * GRAIN_KG), misfits,
        Between(left_open.low / GRAIN_KG, left_open.high / GRAIN_KG),
    )  # fmt: skip


def _enough(usual: SpeedModel, mass_gr: float, speed_m_s: float, shot_sd_fps: float) -> str:
    """Which shots would tell the virtual mass better than the tables do."""
    shots, moved = constant("chronograph", "shots_each"), mass_gr * GRAIN_KG + usual.virtual_kg
    # standard error of K from two means: 2 (m + K)^2 sd sqrt(2/n) / (v gap)
    gap = 2 * moved**2 * shot_sd_fps * FPS_M_S * np.sqrt(2 / shots) / speed_m_s
    gap /= usual.virtual_sd_kg * GRAIN_KG
    gap *= student_t95(2 * shots - 2) / Z95  # the spread is then told by the shots themselves
    return (
        f"{shots:.0f} shots each of two arrow weights {np.ceil(gap / _ROUND_GR) * _ROUND_GR:.0f} gr or "
        "more apart"
    )


def _from_energy(brought: Brought, stored: tuple[float, float], masses: Array) -> _Found:
    """Virtual mass of one arrow mass, the stored energy being known."""
    mass, speed = brought.mass_gr.mean(keepdims=True), brought.speed_fps.mean(keepdims=True)
    of_shots = brought.spread()[0] / np.sqrt(brought.mass_gr.size) / float(speed[0])
    model = SpeedModel.from_energy(
        *stored, float(mass[0]) * GRAIN_KG, float(speed[0]) * FPS_M_S,
        float(np.hypot(of_shots, brought.scale_sd)),
    )  # fmt: skip
    warnings = _above_stored(mass, speed, stored[0])
    if model.virtual_kg <= 0:
        raise NoAnswer(
            "; ".join(warnings) or "the readings carry all the energy the bow has to give"
        )
    virtual = _virtual(model)
    note = "from one arrow weight and the draw-force curve: what the limbs lose counts as carried along"
    return _Found(
        "energy", _normal(*stored), replace(virtual, low=max(virtual.low, 0.0)),
        model.speed(masses * GRAIN_KG), (*warnings, note),
    )  # fmt: skip


def _above_stored(mass_gr: Array, speed_fps: Array, stored_j: float) -> tuple[str, ...]:
    """Words where an arrow carries more than the bow stores."""
    worst = float(np.max(mass_gr * GRAIN_KG * (speed_fps * FPS_M_S) ** 2 / 2))
    if worst <= stored_j:
        return ()
    return (
        f"an arrow carries {worst / FOOT_POUND_J:.1f} ft-lb, more than the "
        f"{stored_j / FOOT_POUND_J:.1f} ft-lb the bow has to give: check speeds, masses and draw curve",
    )


def _predictions(
    usual: SpeedModel, own_lb: float, masses: Array, found: _Found
) -> Iterator[Prediction]:
    k, usually = found.virtual, usual.speed(masses * GRAIN_KG)
    for i, mass in enumerate(masses.tolist()):
        kg = mass * GRAIN_KG
        speed, other = (
            Interval(float(of.mid[i]), float(of.low[i]), float(of.high[i])).scaled(1 / FPS_M_S)
            for of in (found.speeds, usually)
        )
        yield Prediction(
            mass, speed, kg * (speed.mid * FPS_M_S) ** 2 / 2 / FOOT_POUND_J, mass / own_lb, other,
            kg / (kg + k.mid), Between(kg / (kg + k.high), kg / (kg + max(k.low, 0.0))),
        )  # fmt: skip


def _usual_model(rig: Rig, own_lb: float) -> SpeedModel:
    """Energy and virtual mass that are usual for such a bow, with what is known of its string."""
    weight = DrawWeight(lb=own_lb, at="own_draw")
    bow = rig.bow.model_copy(update={"draw_weight": weight})
    return before_readings(rig.model_copy(update={"bow": bow, "launch": None}), own_lb, 0.0)
