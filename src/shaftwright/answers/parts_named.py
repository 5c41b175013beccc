"""Whether the named parts of one build go together: head, insert, collar and shaft."""

from __future__ import annotations

from shaftwright.records.builds import Builds
from shaftwright.records.fit import cheapest, fit
from shaftwright.records.stock import Stock, StockItem, shaft_facts
from shaftwright.rules.fits import fit_limits


def parts_amiss(builds: Builds, stock: Stock | None) -> tuple[str, ...]:
    """What is missing or does not fit in a build by names.

    Parameters
    ----------
    builds : Builds
        Of length 1.
    stock : Stock, optional
        What its names are.

    Returns
    -------
    tuple of str
        Cautions; empty for a build by numbers, where everything at the front is one mass.

    Notes
    -----
    A head with no diameter of its own and not made for wood screws in: it wants an insert in a tube,
    an adapter on wood (common practice, no source).
    """
    shaft = _item(builds.name(int(builds.shaft[0])), stock)
    if shaft is None or stock is None:
        return ()
    head, insert, collar = (
        _item(builds.name(int(index[0])), stock)
        for index in (builds.head, builds.insert, builds.collar)
    )
    facts, limits = shaft_facts(shaft), fit_limits()
    found = []
    if head is None:
        found.append(
            "no point is named: these figures are of an arrow without one; name it with --point or "
            "--broadhead"
        )
    for part in (head, insert, collar):
        if part is not None:
            seen = fit(part, shaft, facts, limits)
            if not seen.fits:
                found.append(f"{part.item} does not go on {shaft.item}: it {seen.reason}")
            elif seen.reason:
                said = seen.reason
                found.append(said if said.startswith(part.item) else f"{part.item}: {said}")
    if head is not None and insert is None and _screws_in(head):
        found.append(_without_insert(head, shaft, stock))
    return tuple(found)


def _item(name: str, stock: Stock | None) -> StockItem | None:
    return None if stock is None else stock.by_name.get(name)


def _screws_in(head: StockItem) -> bool:
    own = (head.outside_diameter_in, head.inside_diameter_in)
    return head.material != "wood" and all(diameter is None for diameter in own)


def _without_insert(head: StockItem, shaft: StockItem, stock: Stock) -> str:
    kind, takes = ("adapter", "wood") if shaft.material == "wood" else ("insert", "a tube")
    example = cheapest(stock, kind, shaft, shaft_facts(shaft), fit_limits())
    such = "" if example is None else f", such as {example.item}"
    return (
        f"{head.item} screws in, and {takes} takes an {kind} for it: none is named, nor its "
        f"weight counted; name one with --insert{such}"
    )
