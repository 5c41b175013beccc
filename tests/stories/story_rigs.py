"""The archers of the stories, and a shop of invented names for them."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping
from typing import Any

HUNTER: dict[str, Any] = {
    "format": 1,
    "rig": "osier",
    "archer": {"hand": "right", "release": "split", "draw_length": 28.5},
    "bow": {
        "kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 47, "at": "own_draw"},
        "brace_height": 7.5, "window": {"cut": "past_centre", "by": 0.125}, "rest": "shelf",
        "maker_minimum_gr_per_lb": 7, "limbs_id": "osier-2",
        "plate": {"thickness": 0.0625, "material": "leather"},
        "nocking_point": {"above_square": 0.375, "locators": 2}, "cant_deg": 0,
    },
    "string": {"material": "low_stretch", "mass": 120, "silencers": 0},
    "purpose": "hunting",
}  # fmt: skip


def rig_of(base: Mapping[str, Any] = HUNTER, **changes: Any) -> dict[str, Any]:
    """A rig with dotted fields (double underscores for dots) replaced; None takes one out."""
    data = copy.deepcopy(dict(base))
    for name, value in changes.items():
        place = data
        *path, last = name.split("__")
        for key in path:
            place = place.setdefault(key, {})
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
    return data


THREE_D = rig_of(purpose="three_d")
OLD_LIMBS = rig_of(
    rig="osier-before", bow__draw_weight={"lb": 55, "at": "own_draw"}, bow__limbs_id="osier-1"
)
MARKED = rig_of(bow__draw_weight={"lb": 45, "at": 28})
#: a lighter recurve with a plunger
PLUNGER = rig_of(
    rig="alder", archer__draw_length=28, bow__draw_weight={"lb": 40, "at": "own_draw"},
    bow__rest="plunger", bow__plate=None, bow__window={"cut": "past_centre", "by": 0.25},
    bow__plunger={"spring": "medium", "turns": 2, "out": 0.0625}, bow__limbs_id="alder-1",
    string__mass=105, purpose="practice",
)  # fmt: skip
#: a straight longbow for wooden arrows
LONGBOW = rig_of(
    rig="rowan", archer__draw_length=27.5, bow__kind="longbow", bow__limbs_id="rowan-1",
    bow__draw_weight={"lb": 45, "at": "own_draw"}, bow__brace_height=6.5,
    bow__window={"cut": "to_centre"}, bow__nocking_point={"above_square": 0.5, "locators": 1},
    string__material="polyester", string__mass=140, purpose="practice",
)  # fmt: skip

COLUMNS = (
    "item", "kind", "material", "spine_mils", "wood_spine_lb", "gr_per_in", "outside_diameter_in",
    "inside_diameter_in", "full_length_in", "mass_gr", "price", "pack", "in_hand",
    "spine_tolerance_mils", "mass_tolerance_gr", "straightness_in", "note", "line", "in_hand_length_in",
)  # fmt: skip
_MARSH = {300: 9.6, 340: 9.0, 400: 8.3, 500: 7.4, 600: 6.9, 700: 6.3, 900: 5.6}
_SEDGE = {400: 10.8, 500: 9.8, 600: 8.9}
_SPRUCE = {30: 10.0, 35: 10.3, 40: 10.6, 45: 10.9, 50: 11.2}


def _carbon(line: str, spines: Mapping[int, float], outside: float) -> Iterator[dict[str, Any]]:
    for spine, per_inch in spines.items():
        one = {"item": f"{line}-{spine}", "kind": "shaft", "material": "carbon", "spine_mils": spine,
               "gr_per_in": per_inch, "outside_diameter_in": outside, "inside_diameter_in": 0.246,
               "full_length_in": 32, "price": 9.5, "pack": 1, "line": line}  # fmt: skip
        yield one
        yield one | {"item": f"{line}-{spine}-12", "price": 96, "pack": 12}


def _part(item: str, kind: str, mass: float, **more: Any) -> dict[str, Any]:
    return {"item": item, "kind": kind, "mass_gr": mass, "price": 9, "pack": 6} | more


def shop() -> list[dict[str, Any]]:
    """Two lines of carbon, one of wood, and the parts for them."""
    bore = {"inside_diameter_in": 0.246}
    wooden = {"material": "wood", "outside_diameter_in": 0.3438}
    return [
        *_carbon("MARSH", _MARSH, 0.291),
        *_carbon("SEDGE", _SEDGE, 0.306),
        *(
            {"item": f"SPRUCE-{low}", "kind": "shaft", "wood_spine_lb": low + 2.5, "gr_per_in": per_inch,
             "full_length_in": 32, "price": 6, "pack": 1, "line": "SPRUCE", **wooden}
            for low, per_inch in _SPRUCE.items()
        ),
        *(_part(f"P{gr}", "point", gr) for gr in (100, 125, 150, 175, 200, 225, 250)),
        *(_part(f"PW{gr}", "point", gr, **wooden) for gr in (100, 125, 145, 160)),
        *(_part(f"B{gr}", "broadhead", gr, price=40, pack=3) for gr in (150, 175, 200)),
        _part("I12", "insert", 12, **bore), _part("I25", "insert", 25, **bore),
        _part("I100", "insert", 100, **bore),
        _part("N246", "nock", 9, **bore), _part("NW", "nock", 9, **wooden),
        _part("F3", "fletching", 8, pack=12),
    ]  # fmt: skip


#: what every archer of these stories has lying about
PARTS = {"P175": 6, "I25": 12, "N246": 12, "F3": 12, "PW125": 6, "NW": 12}


def stock_text(owned: Mapping[str, Any], only: str = "", without: str = "") -> str:
    """The stock as CSV; `owned` holds counts, or (count, their length)."""
    lines = [",".join(COLUMNS)]
    for row in shop():
        shaft = row["kind"] == "shaft"
        if shaft and (only and not re.fullmatch(only, row["item"])):
            continue
        if without and re.fullmatch(without, row["item"]):
            continue
        count = (PARTS | dict(owned)).get(row["item"], 0)
        count, length = count if isinstance(count, tuple) else (count, "")
        row = row | {"in_hand": count, "in_hand_length_in": length}
        lines.append(",".join(str(row.get(column, "")) for column in COLUMNS))
    return "\n".join(lines) + "\n"
