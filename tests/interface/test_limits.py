"""What cannot be asked for is refused alike, from Python and by the command, a line a fault."""

from __future__ import annotations

import math
from functools import cache
from typing import get_args

import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright import limits
from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.records.rig import StringMaterial
from shaftwright.rules.load import Basis

pytestmark = pytest.mark.slow

HERON = "examples/heron_marsh"
ARROW = {"shaft": "MARSH-500", "length": "29 1/2 in", "point": "P175", "insert": "I25"}


@cache
def heron():
    return shaftwright.open(HERON)


def opened(**files):
    return shaftwright.open(HERON, **files)


ASKED = {
    "chance: 80 is out of range; allowed: 0.5 to 0.99": lambda: heron().choose(chance=80),
    "chance: nan is not a number; allowed: 0.5 to 0.99": lambda: heron().choose(chance=math.nan),
    "top: -1 is out of range; allowed: 1 to 500": lambda: heron().choose(top=-1),
    "top: 2.5 is not a whole number; allowed: 1 to 500": lambda: heron().choose(top=2.5),
    "material: 'wod' is not known; allowed: carbon, aluminium, wood, fibreglass; did you mean wood?":
        lambda: heron().choose(material="wod"),
    "basis: 'foo' is not known; allowed: both, trade, physics": lambda: opened(basis="foo").next(),
    "purpose: 'war' is not known; allowed: hunting, hunting_large_game, three_d, target, practice":
        lambda: opened(purpose="war").choose(),
    "arrows: -3 is out of range; allowed: 0 to 144": lambda: heron().shop(arrows=-3),
    "breakage: 200 is out of range; allowed: 0 to 100 %": lambda: heron().shop(breakage=200),
    "budget: -1 is out of range; allowed: 0 to 1e+09": lambda: heron().shop(budget=-1),
    "must: 'material=carbon' must be a list, such as ['material=carbon']":
        lambda: heron().shop(must="material=carbon"),
    "must: 'material=tin' is not a material; allowed: carbon | aluminium | wood | fibreglass":
        lambda: heron().shop(must=["material=tin"]),
    "distances_yd: -5 is out of range; allowed: 1 to 300 yd": lambda: heron().flight(ARROW, [-5]),
    "distances_yd: a list of 0 needs 1 to 60 distances": lambda: heron().flight(ARROW, []),
    "wind_fps: nan is not a number; allowed: -100 to 100 fps":
        lambda: heron().flight(ARROW, [20], wind_fps=math.nan),
    "height_m: 1500 stands beside the pressure, which already tells it; give one":
        lambda: heron().flight(ARROW, [20], {"height_m": 1500, "pressure_hpa": 900}),
    "air: 'celsius' is not known; allowed: temperature_c, pressure_hpa, humidity_pct, height_m":
        lambda: heron().flight(ARROW, [20], {"celsius": 5}),
    "humidity_pct: 300 is out of range; allowed: 0 to 100 %":
        lambda: heron().flight(ARROW, [20], {"humidity_pct": 300}),
    "material: 'zzz' is not known; allowed: low_stretch, polyester":
        lambda: heron().brace(material="zzz"),
    "draws: 0 is out of range; allowed: 4 to 400": lambda: heron().launch(ARROW, draws=0),
    "masses_gr: 5 is out of range; allowed: 50 to 2000 gr": lambda: heron().efficiency([5]),
    "by: 'string' must be a list, such as ['string']": lambda: heron().compare("string"),
    "distance_yd: 0 is out of range; allowed: 1 to 100 yd": lambda: heron().compare(distance_yd=0),
    "bring: 'MARSH-500' must be a list, such as ['MARSH-500']":
        lambda: heron().sheet("MARSH-500"),
    "top: 99 is out of range; allowed: 1 to 50": lambda: heron().report(top=99),
    "stock_files: 'stock.csv' must be a list, such as ['stock.csv']":
        lambda: opened(stock_files="stock.csv"),
    "changes: 'archer.hand=left' must be a list, such as ['archer.hand=left']":
        lambda: opened(changes="archer.hand=left"),
}  # fmt: skip


@pytest.mark.parametrize("told", ASKED)
def test_what_cannot_be_asked_is_refused_in_a_line(told):
    with pytest.raises(InputError) as error:
        ASKED[told]()
    assert str(error.value) == told


def test_every_fault_has_its_line():
    with pytest.raises(InputError) as error:
        heron().shop(arrows=145, chance=0)
    assert str(error.value).splitlines() == [
        "arrows: 145 is out of range; allowed: 0 to 144",
        "chance: 0 is out of range; allowed: 0.05 to 0.99",
    ]


def test_a_part_misspelt_is_named_with_what_is_near():
    with pytest.raises(InputError, match=r"shfat.*did you mean shaft"):
        heron().build({"shfat": "MARSH-500"})


def test_distances_rise_and_are_the_commands_where_none_are_named():
    bow = heron()
    told = [row.distance_yd for row in bow.flight(ARROW, [40, 20, 40]).result.rows]
    assert told == [20, 40]
    usual = [row.distance_yd for row in bow.flight(ARROW).result.rows]
    assert usual == [10, 15, 20, 25, 30, 40, 50, 60]
    words = [word for key, value in ARROW.items() for word in (f"--{key}", value)]
    printed = CliRunner().invoke(cli, ["flight", HERON, *words]).stdout
    assert printed.startswith(str(bow.flight(ARROW)))


def test_closed_lists_are_those_of_the_files():
    assert get_args(StringMaterial) == (*limits.STRINGS, "unknown")
    assert get_args(Basis) == limits.BASES
