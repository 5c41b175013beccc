"""rules/shopping.yaml: what a kit holds, spares, breakage and small things, as data."""

from __future__ import annotations

import functools
from typing import Literal

from shaftwright.records.fields import Format, Record
from shaftwright.resources import rules_dir, table
from shaftwright.rules.purposes import Setting, load_rule_file
from shaftwright.rules.schema import Basis, Choices


class Sundry(Record):
    """A small thing that belongs to the list."""

    name: str
    words: tuple[str, ...]
    quantity: int
    when: Choices
    why: str
    basis: Basis
    source: tuple[str, ...]


class ShoppingRules(Record):
    """rules/shopping.yaml."""

    format: Format
    settings: dict[str, Setting]
    strings: dict[Literal["low_stretch", "polyester"], tuple[str, ...]]
    numbered: tuple[str, ...]
    sundries: tuple[Sundry, ...]


@functools.cache
def shopping_rules() -> ShoppingRules:
    """The shipped shopping rules, loaded once."""
    return load_rule_file(rules_dir() / "shopping.yaml", ShoppingRules)


def shop_setting(name: str) -> float:
    """One number of rules/shopping.yaml."""
    return shopping_rules().settings[name].value


@functools.cache
def usual_price(kind: str) -> float:
    """Middle of the usual price of one pack of a kind: a stand-in for choosing, never shown as a price."""
    for row in table("price_classes"):
        single = kind != "shaft" or row["class"] == "single"
        if row["item"] == kind and single:
            return (float(row["low"]) + float(row["high"])) / 2
    return usual_price("insert")
