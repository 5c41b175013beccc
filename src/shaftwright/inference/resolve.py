"""One named or numbered build turned into columns."""

from __future__ import annotations

import math

import numpy as np

from shaftwright.errors import InputError, did_you_mean
from shaftwright.records.builds import Builds, builds_by_numbers
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock, StockItem, shaft_facts
from shaftwright.resources import table, usual
from shaftwright.rules.fits import cheapest, unit_price
from shaftwright.units import inches

_ROLES: dict[str, tuple[str, ...]] = {
    role: (role,) for role in ("point", "broadhead", "collar", "nock", "fletching", "wrap")
} | {"insert": ("insert", "outsert", "adapter")}
_NONE = np.int32(-1)


def resolve_build(spec: BuildSpec, stock: Stock | None, where: str = "build") -> Builds:
    """Columns of one build, by the names of a stock or by numbers.

    Parameters
    ----------
    spec : BuildSpec
        As written on the command line or in a notebook.
    stock : Stock, optional
        Needed for names. Without a named nock or fletching the cheapest that fits is taken.
    where : str
        How faults call the build.

    Returns
    -------
    Builds
        Of length 1.

    Raises
    ------
    InputError
        A name that is not in the stock or of another kind, or nothing to build from.
    """
    if spec.by_numbers:
        radius = None if spec.diameter_in is None else spec.diameter_in / 2
        per_inch = typical_gr_per_in(spec.spine_mils) if spec.gr_per_in is None else spec.gr_per_in
        return builds_by_numbers(
            spec.spine_mils, spec.length_in, spec.front_gr, spec.tail_gr, per_inch, radius
        )
    if spec.shaft is None:
        problem = "needs a shaft by name (with a stock), or spine, length and front by numbers"
        raise InputError.of(where, problem)
    if stock is None:
        problem = "names parts of a stock; give the stock with --stock, or the build by numbers"
        raise InputError.of(where, problem, None, "shaft", spec.shaft)
    shaft = _find(stock, spec.shaft, "shaft", ("shaft",), where)
    parts = {
        role: _find(stock, getattr(spec, role), role, kinds, where)
        for role, kinds in _ROLES.items()
        if getattr(spec, role) is not None
    }
    full = shaft.full_length_in
    longest = math.inf if full is None else full + usual("reading_apart", "setting_in")
    if spec.length_in is not None and full is not None and spec.length_in > longest:
        problem = f"is longer than {shaft.item} comes; at most {inches(full)}"
        raise InputError.of(where, problem, None, "length", inches(spec.length_in))
    for role in ("nock", "fletching"):
        found = None if role in parts else cheapest(stock, role, shaft)
        if found is not None:
            parts[role] = found
    return _one(spec, stock, shaft, parts)


def _one(spec: BuildSpec, stock: Stock, shaft: StockItem, parts: dict[str, StockItem]) -> Builds:
    facts, places = shaft_facts(shaft), stock.places
    head = "point" if "point" in parts else "broadhead"
    nock_gr, fletching_gr = default_tail(parts.get("nock"), parts.get("fletching"))
    wrap_gr = _mass(parts, "wrap")
    length = spec.length_in if spec.length_in is not None else (shaft.full_length_in or 0.0)
    owned = [i.in_hand > 0 for i in (shaft, parts.get(head), parts.get("insert")) if i is not None]
    outsert = "insert" in parts and parts["insert"].kind == "outsert"
    place = {role: np.int32(places[item.item]) for role, item in parts.items()}
    columns = {
        "shaft": np.int32(places[shaft.item]), "head": place.get(head, _NONE),
        "insert": place.get("insert", _NONE), "collar": place.get("collar", _NONE),
        "spine_mils": facts.spine_mils, "spine_sd_pct": facts.spine_sd_pct, "length_in": length,
        "gr_per_in": facts.gr_per_in, "radius_in": shaft_radius_in(facts.outside_in),
        "rear_taper_in": shaft.rear_taper_in or 0.0, "wood": float(shaft.material == "wood"),
        "head_gr": _mass(parts, head),
        "insert_gr": _mass(parts, "insert"), "collar_gr": _mass(parts, "collar"),
        "stiffening_gr": _mass(parts, "collar") + (_mass(parts, "insert") if outsert else 0.0),
        "tail_gr": nock_gr + fletching_gr + wrap_gr, "fletching_gr": fletching_gr + wrap_gr,
        "is_broadhead": head in parts and parts[head].kind == "broadhead",
        "price": float(sum(unit_price(item) for item in (shaft, *parts.values()))),
        "owned": sum(owned) / len(owned),
    }  # fmt: skip
    return Builds(names=stock.names, **{name: np.array([value]) for name, value in columns.items()})


def _mass(parts: dict[str, StockItem], role: str) -> float:
    """Mass of a part, nought where there is none [gr]."""
    return (parts[role].mass_gr or 0.0) if role in parts else 0.0


def shaft_radius_in(outside_in: float | None) -> float:
    """Radius of a shaft [in], the reference shaft's where no diameter is stated."""
    return usual("shaft_radius_in", "reference") if outside_in is None else outside_in / 2


def default_tail(nock: StockItem | None, fletching: StockItem | None) -> tuple[float, float]:
    """Masses of nock and fletching; what is missing is taken from the default tail.

    Parameters
    ----------
    nock, fletching : StockItem or None
        As listed; a mass not stated counts as nought.

    Returns
    -------
    tuple of float
        Of each of the two [gr].
    """
    bare, whole = usual("bare_tail_gr"), usual("tail_gr")
    nock_gr = bare if nock is None else nock.mass_gr or 0.0
    fletching_gr = whole - bare if fletching is None else fletching.mass_gr or 0.0
    return nock_gr, fletching_gr


def usual_tail_gr(stock: Stock) -> float | None:
    """Mass at the nock of arrows from a stock: of its shaft nearest to the reference spine.

    Parameters
    ----------
    stock : Stock
        With nocks and fletching, or without.

    Returns
    -------
    float or None
        [gr]; None without shafts.
    """
    reference = usual("spine_mils", "reference")
    shafts = stock.of_kind("shaft")
    if not shafts:
        return None
    shaft = min(shafts, key=lambda s: abs(shaft_facts(s).spine_mils - reference))
    nock, fletching = (cheapest(stock, role, shaft) for role in ("nock", "fletching"))
    return sum(default_tail(nock, fletching))


def typical_gr_per_in(spine_mils: float | None) -> float:
    """Usual mass per inch of a carbon shaft of this spine, in straight lines between the table's rows.

    Parameters
    ----------
    spine_mils : float
        Static spine [mils].

    Returns
    -------
    float
        [gr/in].
    """
    rows = table("usual_shafts")
    spines = [float(row["spine_mils"]) for row in rows]
    masses = [float(row["gr_per_in"]) for row in rows]
    return float(np.interp(spine_mils or usual("spine_mils", "reference"), spines, masses))


def _find(stock: Stock, name: str, role: str, kinds: tuple[str, ...], where: str) -> StockItem:
    item = stock.by_name.get(name)
    if item is None:
        known = [i.item for i in stock.of_kind(*kinds)]
        hint = did_you_mean(name, known, f"; the stock has {', '.join(known[:8]) or 'none'}")
        problem = f"is not in {stock.name or 'the stock'}{hint}"
    elif item.kind not in kinds:
        problem = f"is a {item.kind} in the stock, not a {' or '.join(kinds)}"
    else:
        return item
    raise InputError.of(where, problem, None, role, name)
