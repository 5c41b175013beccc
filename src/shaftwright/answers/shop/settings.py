"""rules/shopping.yaml: spares, breakage, pack habits, proof shafts and small things, as data."""

from __future__ import annotations

import functools
from typing import Literal

from shaftwright.records.fields import Format, Record
from shaftwright.resources import rules_dir, table
from shaftwright.rules.purposes import Setting, load_rule_file
from shaftwright.rules.schema import Basis, Choices


class Habit(Record):
    """How many test shafts are commonly bought of the likeliest spine and of each neighbour."""

    likeliest: int
    neighbour: int
    why: str
    basis: Basis
    source: tuple[str, ...]


class Sundry(Record):
    """A small thing that belongs to the list."""

    name: str
    words: tuple[str, ...]
    quantity: int
    when: Choices
    with_kit: bool
    why: str
    basis: Basis
    source: tuple[str, ...]


class ShoppingRules(Record):
    """rules/shopping.yaml."""

    format: Format
    settings: dict[str, Setting]
    curve: tuple[float, ...]
    habit: Habit
    strings: dict[Literal["low_stretch", "polyester"], tuple[str, ...]]
    numbered: tuple[str, ...]
    sundries: tuple[Sundry, ...]


@functools.cache
def shopping_rules() -> ShoppingRules:
    """The shipped shopping rules, loaded once."""
    return load_rule_file(rules_dir() / "shopping.yaml", ShoppingRules)


def shop_setting(name: str) -> float:
    """One number of rules/shopping.yaml.

    Parameters
    ----------
    name : str
        Its key.

    Returns
    -------
    float
        Its value.

    Raises
    ------
    KeyError
        No such setting.
    """
    return shopping_rules().settings[name].value


@functools.cache
def usual_price(kind: str) -> float:
    """Middle of the usual price of one pack of a kind, for weighing rows without a price.

    Parameters
    ----------
    kind : str
        Kind of stock row; a kind without a class of its own takes that of inserts.

    Returns
    -------
    float
        In the currency of tables/price_classes.csv; a stand-in for choosing, never shown as a price.
    """
    for row in table("price_classes"):
        single = kind != "shaft" or row["class"] == "single"
        if row["item"] == kind and single:
            return (float(row["low"]) + float(row["high"])) / 2
    return usual_price("insert")
