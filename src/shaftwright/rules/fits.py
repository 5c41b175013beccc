"""Which part goes on which shaft, by the limits of rules/matching.yaml."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shaftwright.parameters import setting
from shaftwright.records.stock import Stock, StockItem, shaft_facts


@dataclass(frozen=True)
class Fit:
    """Whether a part goes on a shaft; why not, or a caution where it only just does."""

    fits: bool
    reason: str = ""


def fit(part: StockItem, shaft: StockItem) -> Fit:
    """Whether a part fits a shaft; blank diameters fit all."""
    facts = shaft_facts(shaft)
    bore, outside = part.inside_diameter_in, part.outside_diameter_in
    if part.material is not None and part.material != shaft.material:
        return Fit(False, f"is made for {part.material}, the shaft is {shaft.material}")
    if shaft.material == "wood" and (
        part.kind in ("insert", "bushing") or (bore is not None and facts.inside_in is None)
    ):
        return Fit(False, "goes into a bore, and wood has none")
    if bore is not None and facts.inside_in is None:
        return Fit(True, "the shaft's bore is not stated; check that it fits")
    bore_off = 0.0 if bore is None or facts.inside_in is None else abs(bore - facts.inside_in)
    if bore_off > setting("matching.bore_fit_in") + 1e-9:
        return Fit(False, f"is made for a {bore:.3f} in bore, not {facts.inside_in:.3f} in")
    if outside is not None and facts.outside_in is not None:
        step = abs(outside - facts.outside_in)
        if step > setting("matching.outside_reject_in") + 1e-9:
            return Fit(
                False, f"is made for {outside:.3f} in outside, not {facts.outside_in:.3f} in"
            )
        if step > setting("matching.outside_caution_in") + 1e-9:
            return Fit(True, f"{part.item} leaves a step of {step / 2:.3f} in on the shaft's side")
    return Fit(True)


def part_fits(part: StockItem, shaft: StockItem) -> bool:
    """Whether a part fits a shaft at all."""
    return fit(part, shaft).fits


def unit_price(item: StockItem | None) -> float:
    """Price of one piece; nought when one is in hand, NaN when no price is stated."""
    if item is None or item.in_hand > 0:
        return 0.0
    return float("nan") if item.price is None else item.price / item.pack


def dearness(item: StockItem) -> float:
    """Price of one piece to choose by; what has none is the dearest."""
    price = unit_price(item)
    return math.inf if math.isnan(price) else price


def cheapest(stock: Stock, kind: str, shaft: StockItem) -> StockItem | None:
    """The cheapest item of a kind that fits a shaft; in hand counts as free, lighter breaks ties."""

    def order(part: StockItem) -> tuple[float, float, str]:
        return dearness(part), part.mass_gr or 0.0, part.item

    if (kind, shaft) not in stock.cheapest:
        fitting = (p for p in stock.of_kind(kind) if part_fits(p, shaft))
        stock.cheapest[kind, shaft] = min(fitting, key=order, default=None)
    return stock.cheapest[kind, shaft]
