"""What no answer may say: figures that mean nothing, told by the keys of its JSON (docs/json.md)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

#: shares of one
CHANCES = {"chance", "chance_far_too_weak", "chance_inside", "chance_it_matters", "chance_match", "chance_of_success",
           "chance_settled", "chance_tunable", "efficiency", "matched_share", "p_anytime", "p_holm", "p_value", "same", "share",
           "stiff_share", "trade_share", "inside_50", "inside_80", "inside_95"}  # fmt: skip
#: never below nought
POSITIVE = {"mass_gr", "front_gr", "point_gr", "insert_gr", "collar_gr", "total_gr", "tail_gr", "bare_gr", "virtual_mass_gr",
            "length_in", "full_length_in", "expected_length_in", "speed_fps", "speed_low_fps", "speed_high_fps", "mean_fps",
            "usual_fps", "spine_mils", "matched_spine_mils", "mid_mils", "stored_energy_ftlb", "energy_ftlb", "under_curve_ftlb",
            "time_s", "price", "unit_price", "total_price", "list_price", "test_kit_price", "quantity", "packs", "to_buy", "in_hand",
            "draws", "n", "shots", "groups", "asked", "brace_in", "distance_yd", "moment_of_inertia_kg_m2", "bending_stiffness_n_m2",
            "air_density_kg_m3", "gr_per_lb", "sd", "sd_db", "sd_fps", "momentum_slug_fps", "to_cut_in", "usual_sizes_mils",
            "restringing_sd_db", "restringing_sd_fps", "shots_to_settle", "critical_thrust_n", "frequencies_hz", "wood_lb"}  # fmt: skip
#: rises from the first to the last
RANGES = (("low", "mid", "high"), ("low_in", "high_in"), ("from_in", "to_in"), ("drop_low_in", "drop_in", "drop_high_in"),
          ("speed_low_fps", "speed_fps", "speed_high_fps"), ("wind_drift_low_in", "wind_drift_high_in"))  # fmt: skip
#: range keys whose low is the stiff, not the small, end
PAIRS = {
    "mass_range_gr",
    "efficiency_range",
    "spine_range_mils",
    "offset_range_in_at_20yd",
    "exit_range",
    "range_in",
}


def nonsense(held: Any, where: str = "") -> Iterator[str]:
    """Everything in a document that cannot be so."""
    if isinstance(held, list):
        for n, one in enumerate(held):
            yield from nonsense(one, f"{where}[{n}]")
    if not isinstance(held, dict):
        return
    for key, value in held.items():
        at = f"{where}.{key}".lstrip(".")
        every = value if isinstance(value, list) else [value]
        for one in every if key in CHANCES | POSITIVE else ():
            if isinstance(one, int | float) and not (0 <= one <= (1 if key in CHANCES else 1e9)):
                yield f"{at} is {one}"
        if (
            key in PAIRS
            and isinstance(value, list)
            and all(isinstance(v, int | float) for v in value)
            and sorted(value) != value
        ):
            yield f"{at} falls: {value}"
        yield from nonsense(value, at)
    for names in RANGES:
        values = [held[name] for name in names if isinstance(held.get(name), int | float)]
        if sorted(values) != values:
            yield f"{where}: {', '.join(names)} fall: {values}"
    stored, kept = held.get("stored_energy_ftlb"), held.get("energy_ftlb")
    if isinstance(stored, int | float) and isinstance(kept, int | float) and kept > stored > 0:
        yield f"{where}: an arrow has {kept} ft-lb of {stored} stored"
    parts = [held.get(name) for name in ("point_gr", "insert_gr", "collar_gr")]
    front = held.get("front_gr")
    known = [part for part in parts if isinstance(part, int | float)]
    if isinstance(front, int | float) and known and sum(known) > front + 0.5:
        yield f"{where}: parts of {sum(known)} gr make {front} gr up front"
    if (
        isinstance(held.get("total_gr"), int | float)
        and isinstance(front, int | float)
        and front > held["total_gr"] + 0.5
    ):
        yield f"{where}: {front} gr up front of {held['total_gr']} gr in all"
