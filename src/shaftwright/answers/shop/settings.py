"""rules/shopping.yaml: what a kit holds, spares, breakage and small things, as data."""

import functools
from typing import Literal

from shaftwright.parameters import Sourced, section
from shaftwright.records.fields import Format, Record
from shaftwright.resources import table
from shaftwright.rules.schema import Choices


class Sundry(Sourced):
    """A small thing that belongs to the list."""

    name: str
    words: tuple[str, ...]
    quantity: int
    when: Choices
    why: str


class ShoppingRules(Record):
    """rules/shopping.yaml, its numbers aside."""

    format: Format
    strings: dict[Literal["low_stretch", "polyester"], tuple[str, ...]]
    numbered: tuple[str, ...]
    sundries: tuple[Sundry, ...]


@functools.cache
def shopping_rules() -> ShoppingRules:
    """The shipped shopping rules, loaded once."""
    return section("shopping", ShoppingRules)


@functools.cache
def usual_price(kind: str) -> float:
    """Middle of the usual price of one pack of a kind: a stand-in for choosing, never shown as a price."""
    for row in table("price_classes"):
        single = kind != "shaft" or row["class"] == "single"
        if row["item"] == kind and single:
            return (float(row["low"]) + float(row["high"])) / 2
    return usual_price("insert")
