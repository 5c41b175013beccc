"""What goes on which shaft, limits just on either side; prices; and a build put together from parts, figure by figure."""

import math

import numpy as np
import pytest

from shaftwright.errors import InputError
from shaftwright.inference.resolve import (
    default_tail,
    resolve_build,
    shaft_radius_in,
    typical_gr_per_in,
)
from shaftwright.parameters import setting
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.fits import cheapest, dearness, fit, part_fits, unit_price

BORE, REJECT, CAUTION = (setting(f"matching.{n}") for n in ("bore_fit_in", "outside_reject_in", "outside_caution_in"))  # fmt: skip


def item(name, kind, **more):
    return StockItem.model_validate({"item": name, "kind": kind, "mass_gr": 20, **more})


def shaft(name="S", material="carbon", **more):
    plain = {"spine_mils": 500, "gr_per_in": 8, "full_length_in": 32, "mass_gr": None}
    return item(name, "shaft", material=material, **{**plain, **more})


BORED = shaft(inside_diameter_in=0.246, outside_diameter_in=0.300)
WOOD = shaft(material="wood", outside_diameter_in=0.344)


@pytest.mark.parametrize(
    ("part", "of", "fits"),
    [
        ({}, BORED, True), ({"material": "carbon"}, BORED, True), ({"material": "wood"}, BORED, False),
        ({"inside_diameter_in": 0.246}, BORED, True), ({"inside_diameter_in": 0.246 + BORE}, BORED, True),
        ({"inside_diameter_in": 0.246 - BORE}, BORED, True), ({"inside_diameter_in": 0.2461 + BORE}, BORED, False),
        ({"inside_diameter_in": 0.2459 - BORE}, BORED, False), ({"inside_diameter_in": 0.246}, WOOD, False), ({}, WOOD, True),
        ({"kind": "insert"}, WOOD, False), ({"kind": "bushing"}, WOOD, False), ({"kind": "insert"}, BORED, True),
        ({"kind": "nock", "inside_diameter_in": 0.246}, shaft(), True),
        ({"outside_diameter_in": 0.300 + REJECT}, BORED, True), ({"outside_diameter_in": 0.3001 + REJECT}, BORED, False),
        ({"outside_diameter_in": 0.2999 - REJECT}, BORED, False), ({"outside_diameter_in": 0.6}, shaft(), True),
    ],
)  # fmt: skip
def test_a_part_fits_within_the_limits(part, of, fits):
    one = item("P", part.get("kind", "point"), **{k: v for k, v in part.items() if k != "kind"})
    assert part_fits(one, of) is fits
    assert fit(one, of).fits is fits


def test_why_a_part_does_not_fit_or_only_just():
    def why(of=BORED, kind="point", **told):
        return fit(item("P", kind, **told), of).reason

    assert why(material="wood") == "is made for wood, the shaft is carbon"
    assert why(WOOD, "insert") == "goes into a bore, and wood has none"
    assert (
        why(shaft(), inside_diameter_in=0.246)
        == "the shaft's bore is not stated; check that it fits"
    )
    assert why(inside_diameter_in=0.300) == "is made for a 0.300 in bore, not 0.246 in"
    assert why(outside_diameter_in=0.400) == "is made for 0.400 in outside, not 0.300 in"
    assert why(outside_diameter_in=0.300 + CAUTION) == ""
    step = CAUTION + 0.002
    assert (
        why(outside_diameter_in=0.300 + step)
        == f"P leaves a step of {step / 2:.3f} in on the shaft's side"
    )
    assert why() == ""


def test_prices_of_one_piece():
    assert unit_price(None) == 0
    assert unit_price(item("P", "point", price=12, pack=6)) == 2
    assert unit_price(item("P", "point", price=12, pack=6, in_hand=1)) == 0
    assert math.isnan(unit_price(item("P", "point")))
    assert dearness(item("P", "point")) == math.inf
    assert dearness(item("P", "point", price=3)) == 3


def stock(*items):
    return Stock(items=tuple(items))


def test_the_cheapest_that_fits_then_the_lighter_then_by_name():
    def best(*parts, of=BORED):
        found = cheapest(stock(of, *parts), "nock", of)
        return found and found.item

    def nock(name, **more):
        return item(name, "nock", **more)

    assert best() is None
    assert best(nock("A", price=3), nock("B", price=2)) == "B"
    assert best(nock("A", price=3), nock("B", price=2, material="wood")) == "A"
    assert best(nock("A", price=2), nock("B", price=2, mass_gr=8)) == "B"
    assert best(nock("B", price=2), nock("A", price=2)) == "A"
    assert best(nock("A", price=2), nock("B", in_hand=1)) == "B"
    assert best(nock("A"), nock("B", price=99)) == "B"
    held = stock(BORED, nock("A", price=3))
    assert cheapest(held, "nock", BORED) is cheapest(held, "nock", BORED)


# --- builds ----------------------------------------------------------------------------------------


PARTS = (
    shaft(price=10, in_hand=2, outside_diameter_in=0.300, rear_taper_in=3.0), item("P", "point", mass_gr=175, price=2),
    item("B", "broadhead", mass_gr=125, price=9), item("I", "insert", mass_gr=25, price=1, in_hand=1),
    item("O", "outsert", mass_gr=40, price=4), item("C", "collar", mass_gr=12, price=3), item("N", "nock", mass_gr=9, price=1),
    item("F", "fletching", mass_gr=8, price=5), item("W", "wrap", mass_gr=6, price=2),
)  # fmt: skip
SHOP = stock(*PARTS)


def made(shop=SHOP, **told):
    found = resolve_build(BuildSpec.model_validate({"shaft": "S", **told}), shop)
    columns = {k: v for k, v in vars(found).items() if k != "names"}
    return {k: v[0] for k, v in columns.items() if isinstance(v, np.ndarray)}, found


def test_a_build_by_names_is_the_sum_of_its_parts():
    one, found = made(length=29, point="P", insert="I", collar="C", wrap="W")
    assert (one["length_in"], one["gr_per_in"], one["spine_mils"]) == (29, 8, 500)
    assert (one["head_gr"], one["insert_gr"], one["collar_gr"], one["stiffening_gr"]) == (
        175,
        25,
        12,
        12,
    )
    # the cheapest nock and fletching are taken where none is named
    assert (one["tail_gr"], one["fletching_gr"]) == (9 + 8 + 6, 8 + 6)
    assert (one["radius_in"], one["rear_taper_in"], one["wood"], one["is_broadhead"]) == (
        0.15,
        3,
        0,
        False,
    )
    assert one["price"] == 0 + 2 + 0 + 3 + 2 + 1 + 5
    assert one["owned"] == pytest.approx(2 / 3)
    names = [found.name(one[role]) for role in ("shaft", "head", "insert", "collar")]
    assert names == ["S", "P", "I", "C"]


def test_broadheads_outserts_and_what_is_not_there():
    one, found = made(broadhead="B", insert="O")
    assert (one["head_gr"], one["is_broadhead"], one["stiffening_gr"], one["insert_gr"]) == (
        125,
        True,
        40,
        40,
    )
    assert one["length_in"] == 32
    assert found.name(one["collar"]) == ""
    assert one["owned"] == pytest.approx(1 / 3)
    both, _ = made(insert="O", collar="C")
    assert (both["stiffening_gr"], both["head_gr"], both["is_broadhead"], both["head"]) == (
        52,
        0,
        False,
        -1,
    )
    assert both["owned"] == pytest.approx(1 / 2)
    bare, _ = made(stock(PARTS[0]))
    assert (bare["tail_gr"], bare["fletching_gr"], bare["insert"], bare["owned"]) == (25, 15, -1, 1)
    wood, _ = made(stock(shaft(material="wood")))
    assert (wood["wood"], wood["radius_in"], wood["rear_taper_in"]) == (1, 0.138, 0)


def test_named_nocks_and_fletchings_go_before_the_cheapest():
    shop = stock(
        *PARTS,
        item("N2", "nock", mass_gr=11, price=30),
        item("F2", "fletching", mass_gr=14, price=30),
    )
    assert made(shop, nock="N2", fletching="F2")[0]["tail_gr"] == 25
    assert made(shop, nock="N2")[0]["tail_gr"] == 19


def test_a_tail_that_is_not_told_is_ten_of_nock_and_fifteen_of_fletching():
    nock, vanes = item("N", "nock", mass_gr=9), item("F", "fletching", mass_gr=8)
    assert default_tail(None, None) == (10, 15)
    assert default_tail(nock, None) == (9, 15)
    assert default_tail(None, vanes) == (10, 8)
    assert shaft_radius_in(None) == 0.138
    assert shaft_radius_in(0.3) == 0.15


@pytest.mark.parametrize(("over", "good"), [(0.016, True), (0.03, False)])
def test_a_build_is_no_longer_than_its_shaft_comes(over, good):
    if good:
        assert made(length=32 + over)[0]["length_in"] == 32 + over
    else:
        with pytest.raises(InputError, match="is longer than S comes; at most 32 in"):
            made(length=32 + over)


def test_a_build_by_numbers():
    told = {"spine": 500, "length": 29, "front": 150, "tail": 30, "gr_per_in": 7.5, "diameter": 0.3}
    found = resolve_build(BuildSpec.model_validate(told), None)
    assert (found.gr_per_in[0], found.radius_in[0], found.tail_gr[0]) == (7.5, 0.15, 30)
    less = resolve_build(
        BuildSpec.model_validate({k: told[k] for k in ("spine", "length", "front")}), None
    )
    assert (less.gr_per_in[0], less.radius_in[0], less.tail_gr[0]) == (
        typical_gr_per_in(500),
        0.138,
        25,
    )
    assert typical_gr_per_in(None) == typical_gr_per_in(500)
    assert typical_gr_per_in(400) > typical_gr_per_in(450) > typical_gr_per_in(700)


@pytest.mark.parametrize(
    ("told", "shop", "says"),
    [
        ({"point": "P"}, SHOP, "needs a shaft by name"), ({"shaft": "S"}, None, "give the stock with --stock"),
        ({"shaft": "Q"}, SHOP, "is not in the stock"), ({"shaft": "P"}, SHOP, "is a point in the stock, not a shaft"),
        ({"shaft": "S", "insert": "P"}, SHOP, "not a insert or outsert or adapter"),
        ({"shaft": "S", "nock": "Z"}, stock(PARTS[0]), "the stock has none"),
    ],
)  # fmt: skip
def test_what_cannot_be_made_says_why(told, shop, says):
    with pytest.raises(InputError) as error:
        resolve_build(BuildSpec.model_validate(told), shop, "line 3")
    (fault,) = error.value.faults
    assert says in str(fault)
    assert str(fault).startswith("line 3")
