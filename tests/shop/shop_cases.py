"""Small invented shops and rigs for the tests of the list."""

import numpy as np

from shaftwright.answers.scenario import scenario
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock, StockItem


def rig(pounds=47.0, draw=28.0, purpose="hunting", kind="recurve", at="own_draw", **bow):
    return Rig.model_validate({
        "format": 1, "rig": "test",
        "archer": {"hand": "right", "release": "split", "draw_length": draw},
        "bow": {"kind": kind, "limbs": "standard", "draw_weight": {"lb": pounds, "at": at},
                "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf",
                "plate": {"thickness": 0.0625, "material": "leather"},
                "nocking_point": {"above_square": 0.375}, **bow},
        "string": {"material": "low_stretch", "mass": "120 gr"},
        "purpose": purpose,
    })  # fmt: skip


def any_rig(rng):
    """A finger shooter's rig, drawn at random."""
    return rig(
        float(rng.integers(34, 58)), float(rng.choice(np.arange(26, 29.6, 0.25))),
        str(rng.choice(["hunting", "three_d", "practice"])), str(rng.choice(["recurve", "longbow"])),
        "own_draw" if rng.random() < 0.7 else 28.0,
    )  # fmt: skip


def shaft(item, spine, price=9.5, per_inch=8.0, bore=0.246, **more):
    return StockItem.model_validate({
        "item": item, "kind": "shaft", "material": "carbon", "spine_mils": spine, "gr_per_in": per_inch,
        "outside_diameter_in": round(bore + 0.05, 3), "inside_diameter_in": bore, "full_length_in": 32.0,
        "price": price, "spine_tolerance_mils": 10.0, **more,
    })  # fmt: skip


def wood(item, pounds, across=0.3125, price=6.0, **more):
    return StockItem.model_validate({
        "item": item, "kind": "shaft", "material": "wood", "wood_spine_lb": pounds, "gr_per_in": 9.4,
        "outside_diameter_in": across, "full_length_in": 32.0, "price": price, **more,
    })  # fmt: skip


def part(item, kind, mass=None, price=8.0, **more):
    return StockItem.model_validate(
        {"item": item, "kind": kind, "mass_gr": mass, "price": price, **more}
    )


def shop(*items, name="invented"):
    return Stock(tuple(items), name)


def plain_shop(spines=(340, 400, 500, 600, 700), points=(100, 125, 150, 175, 200), **of_points):
    """One line of carbon, some points, two inserts, a nock and feathers."""
    return shop(
        *(shaft(f"MARSH-{s}", s, per_inch=11.0 - s / 175) for s in spines),
        *(part(f"P{m}", "point", m, pack=6, **of_points) for m in points),
        part("I25", "insert", 25, 11.0, pack=12, inside_diameter_in=0.246),
        part("I75", "insert", 75, 28.0, pack=12, inside_diameter_in=0.246),
        part("N246", "nock", 9, 9.0, pack=12, inside_diameter_in=0.246),
        part("F3x4", "fletching", 8, 27.0, pack=12),
    )  # fmt: skip


def with_in_hand(stock, **counts):
    """The shop with so many of each in hand; `_` stands for `-`."""
    own = {name.replace("_", "-"): n for name, n in counts.items()}
    items = tuple(
        i.model_copy(update={"in_hand": own[i.item]}) if i.item in own else i for i in stock.items
    )
    return Stock(items, stock.name)


def asked(stock=None, **of_rig):
    return scenario(rig(**of_rig), stock=stock)
