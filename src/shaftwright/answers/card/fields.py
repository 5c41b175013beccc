"""The facts of a setup card, each as the short text that stands on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shaftwright.answers.build import OneBuild
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.chrono import mass_groups, string_of
from shaftwright.physics.spine import spine_marked
from shaftwright.records.notebook import AnyEntry, BraceReading, BuildSpec, Dozen, Weigh
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.resources import table
from shaftwright.units import inches, length_told, pounds_told

_MOST_WEIGHED = 12


def _words(value: Any) -> str:
    return "" if value is None else str(value).replace("_", " ")


def _with(value: float | None, unit: str, before: str = "") -> str:
    return "" if value is None else f"{before}{value:g}{unit}"


def _grains(value: float | None) -> str:
    """To a tenth of a grain, which no archer's scale tells better."""
    return "" if value is None else f"{round(value, 1):g} gr"


def _joined(*parts: object) -> str:
    return ", ".join(str(part) for part in parts if part)


def _turns(value: float | None) -> str:
    return _with(value, " turn" if value == 1 else " turns")


def _fact(key: str, value: Any, units: str) -> str:
    """A figure with the unit that its key ends in; a word as it stands."""
    if not isinstance(value, int | float):
        return _words(value)
    if key.endswith("_in"):
        return length_told(value, units)
    return _grains(value) if key.endswith("_gr") else f"{value:g}"


def rig_values(rig: Rig) -> dict[str, str]:
    """Facts of the rig file, those of the card's own table."""
    bow, string, units = rig.bow, rig.string, rig.units
    keys = [row["key"] for row in table("card_fields")]
    facts = {key: _fact(key, rig.at(key), units) for key in keys if hasattr(rig, key.split(".")[0])}
    return facts | {
        "archer.hand": facts["archer.hand"] + " hand",
        "bow.limbs_id": bow.limbs_id or "",
        "bow.draw_weight": _weight(rig),
        "bow.limb_bolt_turns": _turns(bow.limb_bolt_turns),
        "bow.cant_deg": _cant(bow.cant_deg),
        "bow.maker_minimum_gr_per_lb": _with(bow.maker_minimum_gr_per_lb, " gr/lb"),
        "bow.window": _window(rig),
        "bow.plate": "" if bow.plate is None
        else f"{length_told(bow.plate.thickness_in, units)}, {_words(bow.plate.material)}",
        "bow.plunger": _plunger(rig),
        "bow.nocking_point": _nocking_point(rig),
        "string.silencers_gr": "none" if string.silencers_gr == 0 else facts["string.silencers_gr"],
        "string.silencer_position": "" if string.silencer_position is None
        else f"{string.silencer_position:.3g} of the half string from the limb tip",
    }  # fmt: skip


def _weight(rig: Rig) -> str:
    weight = rig.bow.draw_weight
    if weight.curve is not None:
        draw, pull = weight.curve[-1]
        at = length_told(draw, rig.units)
        return f"draw curve of {len(weight.curve)} points, {pounds_told(pull)} at {at}"
    at = length_told(weight.at, rig.units) if isinstance(weight.at, float) else "own draw"
    return f"{pounds_told(weight.lb or 0.0)} at {at}"


def _window(rig: Rig) -> str:
    window = rig.bow.window
    if isinstance(window.by_in, float):
        return f"{length_told(window.by_in, rig.units)} {_words(window.cut)}"
    unknown = window.cut in ("past_centre", "short_of_centre")
    return _words(window.cut) + (", by an unknown amount" if unknown else "")


def _cant(cant_deg: float | None) -> str:
    if cant_deg is None:
        return ""
    if cant_deg == 0:
        return "upright"
    return f"{abs(cant_deg):g} degrees, top limb to the {'right' if cant_deg > 0 else 'left'}"


def _plunger(rig: Rig) -> str:
    plunger = rig.bow.plunger
    if plunger is None:
        return ""
    out, moved = plunger.out_in, plunger.moved_in
    return _joined(
        f"{plunger.spring} spring", _turns(plunger.turns) or "turns unknown",
        None if out is None else f"arrow's middle {length_told(out, rig.units)} outside the string's line",
        f"moved {length_told(abs(moved), rig.units)} {'out' if moved > 0 else 'in'}" if moved else None,
    )  # fmt: skip


def _nocking_point(rig: Rig) -> str:
    point = rig.bow.nocking_point
    if point is None:
        return ""
    where = length_told(abs(point.above_square_in), rig.units)
    text = f"{where} {'above' if point.above_square_in >= 0 else 'below'} square"
    if point.locators is None:
        return f"{text}, locators unknown"
    return f"{text}, {point.locators} locator{'' if point.locators == 1 else 's'}"


def arrow_values(
    spec: BuildSpec | None, one: OneBuild | None, now: Sequence[AnyEntry], stock: Stock | None,
    dozen: Dozen | None,
) -> dict[str, str]:  # fmt: skip
    """Facts of the arrow: its parts, what comes of them, what was weighed."""
    made = "" if dozen is None else _joined(f"{dozen.made} made", dozen.date)
    values = {"arrow.weighed": _weighed(now, dozen), "arrow.dozen": made}
    if spec is None:
        return values
    for name in ("shaft", "point", "broadhead", "insert", "collar", "nock", "fletching", "wrap"):
        values[f"arrow.{name}"] = getattr(spec, name) or ""
    values["arrow.length_in"] = "" if spec.length_in is None else inches(spec.length_in)
    if spec.by_numbers:
        values["arrow.shaft"] = _joined("by numbers", _with(spec.gr_per_in, " gr/in"))
        values["arrow.spine_mils"] = f"{spec.spine_mils:g}"
    if one is None:
        return values
    build = one.listed
    if not spec.by_numbers and stock is not None:
        for key in ("arrow.nock", "arrow.fletching"):
            values[key] = values[key] or "not named, taken as the cheapest that fits"
    balance = f"{inches(round(16 * one.mechanics.balance_in) / 16)} from the nock throat"
    return values | {
        "arrow.spine_mils": spine_marked(build.spine_mils, build.wood_lb is not None),
        "arrow.length_in": inches(build.length_in),
        "arrow.front_gr": f"{build.front_gr:.0f} gr",
        "arrow.tail_gr": f"{build.tail_gr:.0f} gr",
        "arrow.total_gr": f"{build.total_gr:.0f} gr, {build.gr_per_lb:.1f} gr/lb",
        "arrow.balance_in": f"{balance}, {build.foc_pct:.0f} % front of centre",
    }


def _weighed(now: Sequence[AnyEntry], dozen: Dozen | None) -> str:
    """The dozen, arrows and parts on the scale or the spine tester, the newest of each."""
    found: dict[str, str] = {}
    for entry in now:
        if isinstance(entry, Weigh):
            spine = _with(entry.spine_mils, "", "spine ") or _with(
                entry.wood_spine_lb, " lb", "spine "
            )
            found[entry.item] = _joined(_grains(entry.mass_gr), spine)
    weights = () if dozen is None else dozen.masses_gr
    shown = [f"the dozen {min(weights):g} to {max(weights):g} gr"] if weights else []
    shown += [f"{item} {told}" for item, told in list(found.items())[-_MOST_WEIGHED:]]
    more = len(found) - _MOST_WEIGHED
    return "; ".join(shown) + (f"; and {more} more" if more > 0 else "")


def measured_values(asked: Scenario, braces: Sequence[BraceReading]) -> dict[str, str]:
    """What the notebook measured of the bow as it stands."""
    values = {}
    if braces:
        last = braces[-1]
        values["measured.brace"] = _joined(
            length_told(last.brace_in, asked.rig.units), _with(last.shots_on, " shots", "after "),
            _with(last.twists, " twists"), last.date,
        )  # fmt: skip
    if asked.readings:
        import numpy as np

        mass = np.array([r.arrow_mass_gr or 0.0 for r in asked.readings])
        speed = np.array([r.speed_fps for r in asked.readings])
        groups = (
            f"{len(g)} of {mass[g].mean():.0f} gr at {speed[g].mean():.1f} fps"
            for g in mass_groups(mass)
        )
        values["measured.speed"] = f"read {_joined(*groups)}"
        values["measured.string"] = string_of(asked.readings[-1]) or ""
    return values
