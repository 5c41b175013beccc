"""The launch against the trade: how often random plausible rigs give the trade's sign."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from shaftwright.physics.bow.bow import power_stroke_m
from shaftwright.physics.launch.beam import Array
from shaftwright.physics.launch.changes import Change, Rig, standard_changes
from shaftwright.physics.launch.match import Criterion, matched_spine, sensitivities
from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow
from shaftwright.physics.launch.settings import draw_settings, even_places, spread
from shaftwright.resources import table
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N


@dataclass(frozen=True)
class Sign:
    """How one change came out over random rigs and settings.

    Attributes
    ----------
    change : Change
    pairs : int
        Rigs times draws of settings in which both roots were found.
    agree_pairs : float
        Share of them with the trade's sign; nan where the trade has none.
    agree_rigs : float
        Share of rigs whose median over the settings has it.
    stiffer : float
        Share of pairs that ask for a stiffer shaft.
    low_pct, mid_pct, high_pct : float
        2.5, 50 and 97.5 percentiles of the change in matched stiffness over all pairs [%].
    rig_low_pct, rig_high_pct : float
        The same percentiles of the rigs' medians [%].
    """

    change: Change
    pairs: int
    agree_pairs: float
    agree_rigs: float
    stiffer: float
    low_pct: float
    mid_pct: float
    high_pct: float
    rig_low_pct: float
    rig_high_pct: float


def random_rigs(rigs: int, draws: int, *, seed: int = 20, **given: float) -> Rig:
    """Plausible rigs with draws of their settings.

    Parameters
    ----------
    rigs, draws : int
        How many rigs, and draws of the settings for each.
    seed : int
        The same seed gives the same rigs.
    **given : float
        Settings held at one value, by field name of `LaunchSettings`.

    Returns
    -------
    tuple of LaunchArrow, LaunchBow, LaunchSettings
        Fields of shape (rigs, 1) or (rigs, draws). The arrow's stiffness is a placeholder.

    Notes
    -----
    Evenly spread over the ranges of the tables `launch_trial` and `launch_settings`. The shaft
    is never shorter than the draw length and 1/2 in.
    """
    rows = table("launch_trial")
    places = even_places(rigs, len(rows) + 4, seed)
    value = {
        row["quantity"]: (float(row["low"]) + places[:, i] * (float(row["high"]) - float(row["low"])))
        for i, row in enumerate(rows)
    }  # fmt: skip
    of_table = dict(
        zip(
            ("draw_fullness", "hysteresis", "virtual_mass_kg", "string_mass_kg"),
            places[:, len(rows) :].T,
            strict=True,
        )
    )
    rig_settings = {name: spread(name, place)[:, None] for name, place in of_table.items()}
    column = {name: values[:, None] for name, values in value.items()}
    length = np.maximum(column["shaft_length"], column["draw_length"] + 0.5)
    arrow = LaunchArrow(
        length_m=length * INCH_M,
        stiffness_n_m2=1.0,
        mass_per_length_kg_m=column["shaft_mass"] * GRAIN_KG / INCH_M,
        front_kg=column["front_mass"] * GRAIN_KG,
        tail_kg=column["nock_mass"] * GRAIN_KG,
        fletching_kg=column["fletching_mass"] * GRAIN_KG,
        radius_m=column["shaft_radius"] * INCH_M,
    )
    force = column["draw_weight"] * POUND_FORCE_N
    stroke = power_stroke_m(column["draw_length"] * INCH_M, column["brace_height"] * INCH_M)
    bow = LaunchBow(
        draw_force_n=force,
        power_stroke_m=stroke,
        stored_energy_j=rig_settings["draw_fullness"] * force * stroke,
        virtual_mass_kg=rig_settings["virtual_mass_kg"],
        brace_height_m=column["brace_height"] * INCH_M,
        string_mass_kg=rig_settings["string_mass_kg"],
        plate_offset_m=column["plate_offset"] * INCH_M,
        hysteresis=rig_settings["hysteresis"],
    )
    # Draws differ from rig to rig too: one even filling of rigs x draws, dealt out.
    settings = draw_settings(
        rigs * draws, np.broadcast_to(force, (rigs, draws)).reshape(-1), seed=seed + 1
    )
    dealt = {name: np.reshape(v, (rigs, draws)) for name, v in vars(settings).items()}
    return arrow, bow, settings.changed(**dealt).changed(**given)


def launch_signs(
    rigs: int = 500,
    draws: int = 8,
    *,
    changes: Iterable[Change] | None = None,
    seed: int = 20,
    criterion: Criterion = "turn_rate",
    **given: float,
) -> list[Sign]:
    """For each change, the share of random rigs and settings with the trade's sign.

    Parameters
    ----------
    rigs, draws : int
        Random rigs, and draws of the settings for each.
    changes : iterable of Change, optional
        Absent: all of the shipped table.
    seed : int
        The same seed gives the same rigs and settings.
    criterion : {"turn_rate", "attack"}
        As in `matched_spine`.
    **given : float
        Settings held at one value, by field name of `LaunchSettings`.

    Returns
    -------
    list of Sign
        In the order of the changes.
    """
    rig = random_rigs(rigs, draws, seed=seed, **given)
    matched = matched_spine(*rig, criterion=criterion)
    wanted = standard_changes() if changes is None else tuple(changes)
    signs = []
    for found in sensitivities(*rig, wanted, matched=matched, criterion=criterion):
        pct, sign = found.draws_pct[np.isfinite(found.draws_pct)], found.change.trade_sign
        middles = found.mid_pct[np.isfinite(found.mid_pct)]
        signs.append(
            Sign(
                found.change,
                pct.size,
                _share(sign * pct) if sign else np.nan,
                _share(sign * middles) if sign else np.nan,
                _share(pct),
                *(_percent(pct, p) for p in (2.5, 50, 97.5)),
                *(_percent(middles, p) for p in (2.5, 97.5)),
            )
        )
    return signs


def _share(values: Array) -> float:
    return float((values > 0).mean()) if values.size else np.nan


def _percent(values: Array, percentile: float) -> float:
    return float(np.percentile(values, percentile)) if values.size else np.nan
