"""What a list must have: `--must KEY=VALUE`, and which limit binds when nothing meets them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shaftwright.arrays import Array, Bools
from shaftwright.errors import Fault, InputError, NoAnswer
from shaftwright.limits import MATERIALS, refuse, several
from shaftwright.records.stock import Stock, StockItem

#: key -> what its value is
KEYS = {
    "material": " | ".join(MATERIALS),
    "shaft": "a shaft of the stock, or the beginning of its name",
    "point": "a field point or broadhead of the stock",
    "insert": "an insert, outsert or adapter of the stock",
    "gr_per_lb": "lightest arrow in grains per pound, such as 10",
    "foc": "least front of centre in percent, such as 12",
}
_KINDS = {
    "point": ("point", "broadhead"),
    "insert": ("insert", "outsert", "adapter"),
    "shaft": ("shaft",),
}


@dataclass(frozen=True)
class Must:
    """One limit that the list must keep."""

    key: str
    value: str

    @property
    def number(self) -> float:
        """The value of a limit that is a number."""
        return float(self.value)

    def __str__(self) -> str:
        return f"{self.key}={self.value}"


def read_musts(texts: Sequence[str]) -> tuple[Must, ...]:
    """Limits from `key=value` texts; every one that is not allowed is named.

    Examples
    --------
    >>> read_musts(["material=carbon"])[0].value
    'carbon'
    """
    refuse(several("must", texts))
    musts, faults = [], []
    for text in texts:
        key, sign, value = (part.strip() for part in text.partition("="))
        if not sign or key not in KEYS or not value:
            allowed = "; ".join(f"{k}={v}" for k, v in KEYS.items())
            faults.append(Fault("must", f"is not a limit; allowed: {allowed}", value=text))
        elif key == "material" and value not in MATERIALS:
            faults.append(Fault("must", f"is not a material; allowed: {KEYS[key]}", value=text))
        elif key in ("gr_per_lb", "foc") and not _is_number(value):
            faults.append(Fault("must", f"needs a number from 0 to 100, {KEYS[key]}", value=text))
        else:
            musts.append(Must(key, value))
    if faults:
        raise InputError(faults)
    return tuple(musts)


def _is_number(text: str) -> bool:
    try:
        return 0 <= float(text) <= 100
    except ValueError:
        return False


def limited(stock: Stock, musts: Sequence[Must]) -> Stock:
    """The stock without what the limits rule out by name or material, in the same order."""
    items = list(stock.items)
    for must in musts:
        kinds = _KINDS.get(must.key, ("shaft",))
        same = [i for i in items if i.item.lower() == must.value.lower()]
        items = [i for i in items if i.kind not in kinds or _meets(must, i, same)]
        if not any(i.kind in kinds for i in items):
            raise NoAnswer(f"--must {must} leaves nothing of {stock.name or 'the stock'}")
    return Stock(tuple(items), stock.name)


def _meets(must: Must, item: StockItem, same: Sequence[StockItem]) -> bool:
    """Whether an item keeps a limit on its own kind; `same` are those of the very name."""
    name, value = item.item.lower(), must.value.lower()
    if must.key == "material":
        return item.material == must.value
    if must.key == "shaft":
        exact = any(i.kind == "shaft" for i in same)
        return name == value or name.startswith(f"{value}-" if exact else value)
    alike = must.key == "point" and same and same[0].mass_gr is not None
    if must.key in ("point", "insert"):
        return name == value or bool(alike and item.mass_gr == same[0].mass_gr)
    return True


def biting(musts: Sequence[Must], stock: Stock, least_gr_per_lb: float) -> tuple[Must, ...]:
    """The limits that rule anything out of a stock, or lie over the weight that is asked anyhow."""

    def bites(must: Must) -> bool:
        if must.key == "gr_per_lb":
            return must.number > least_gr_per_lb
        return must.key == "foc" or len(limited(stock, [must]).items) < len(stock.items)

    return tuple(must for must in musts if bites(must))


def within(musts: Sequence[Must], gr_per_lb: Array, foc: Array) -> Bools:
    """Which builds (n,) keep the limits that are numbers."""
    keep = np.ones(len(gr_per_lb), dtype=bool)
    for must in musts:
        if must.key in ("gr_per_lb", "foc"):
            keep &= (gr_per_lb if must.key == "gr_per_lb" else foc) >= must.number - 1e-9
    return keep
