"""Which part goes on which shaft."""

from __future__ import annotations

from dataclasses import dataclass

from shaftwright.records.stock import ShaftFacts, Stock, StockItem


@dataclass(frozen=True)
class FitLimits:
    """How far diameters may differ [in]; the numbers live in rules/matching.yaml."""

    bore_in: float
    outside_caution_in: float
    outside_reject_in: float


@dataclass(frozen=True)
class Fit:
    """Whether a part fits a shaft.

    Attributes
    ----------
    fits : bool
        Whether it goes on at all.
    reason : str
        What was found and what it had to be where it does not, or a caution where it only just does.
    """

    fits: bool
    reason: str = ""


def fit(part: StockItem, shaft: StockItem, facts: ShaftFacts, limits: FitLimits) -> Fit:
    """Whether a part fits a shaft; blank diameters fit all.

    Parameters
    ----------
    part, shaft : StockItem
        Rows of the stock.
    facts : ShaftFacts
        The shaft's diameters.
    limits : FitLimits
        Allowed differences.

    Returns
    -------
    Fit
        With the reason.
    """
    if part.material is not None and part.material != shaft.material:
        return Fit(False, f"is made for {part.material}, the shaft is {shaft.material}")
    if part.kind in ("insert", "bushing") and shaft.material == "wood":
        return Fit(False, "goes into a bore, and wood has none")
    if part.inside_diameter_in is not None:
        if facts.inside_in is None:
            if shaft.material == "wood":
                return Fit(False, "goes into a bore, and wood has none")
            return Fit(True, "the shaft's bore is not stated; check that it fits")
        gap = abs(part.inside_diameter_in - facts.inside_in)
        if gap > limits.bore_in + 1e-9:
            return Fit(
                False,
                f"is made for a {part.inside_diameter_in:.3f} in bore, not {facts.inside_in:.3f} in",
            )
    if part.outside_diameter_in is not None and facts.outside_in is not None:
        step = abs(part.outside_diameter_in - facts.outside_in)
        if step > limits.outside_reject_in + 1e-9:
            return Fit(
                False,
                f"is made for {part.outside_diameter_in:.3f} in outside, not {facts.outside_in:.3f} in",
            )
        if step > limits.outside_caution_in + 1e-9:
            return Fit(True, f"{part.item} leaves a step of {step / 2:.3f} in on the shaft's side")
    return Fit(True)


def unit_price(item: StockItem | None) -> float:
    """Price of one piece; nought when one is in hand, NaN when no price is stated."""
    if item is None or item.in_hand > 0:
        return 0.0
    return float("nan") if item.price is None else item.price / item.pack


def cheapest(
    stock: Stock, kind: str, shaft: StockItem, facts: ShaftFacts, limits: FitLimits
) -> StockItem | None:
    """The cheapest item of a kind that fits a shaft; in hand counts as free, lighter breaks ties.

    Parameters
    ----------
    stock : Stock
        The stock.
    kind : str
        Such as nock or fletching.
    shaft : StockItem
        The shaft.
    facts : ShaftFacts
        Its diameters.
    limits : FitLimits
        Allowed differences.

    Returns
    -------
    StockItem or None
        None when nothing of the kind fits.
    """
    fitting = [p for p in stock.of_kind(kind) if fit(p, shaft, facts, limits).fits]

    def order(part: StockItem) -> tuple[bool, float, float, str]:
        price = unit_price(part)
        return price != price, 0.0 if price != price else price, part.mass_gr or 0.0, part.item

    return min(fitting, key=order, default=None)
