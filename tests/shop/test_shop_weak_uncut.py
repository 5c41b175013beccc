"""What is told of test shafts too weak to be shot uncut, and of a chance that is out of reach."""

from dataclasses import replace

import pytest
from shop_cases import asked, item, shaft, shop_stock, unowned

from shaftwright.answers.shop import Wishes, shop
from shaftwright.answers.shop_kit import kit_question
from shaftwright.answers.shop_wishes import kit_for
from shaftwright.errors import NoAnswer
from shaftwright.records.stock import Stock
from shaftwright.render.shop_tests import trials_text
from shaftwright.render.shop_words import first_line, promise


def flat(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def plain():
    return shop(asked("heron_marsh"), unowned(shop_stock()), Wishes(arrows=0))


def with_first(answer, **facts):
    first = replace(answer.kit.shafts[0], **facts)
    return replace(answer, kit=replace(answer.kit, shafts=(first, *answer.kit.shafts[1:])))


def test_the_headline_carries_the_caution_of_a_shaft_too_weak_uncut(plain):
    safe = with_first(plain, shaft="FEN", chance_far_too_weak=0.0)
    weak = with_first(plain, shaft="FEN", chance_far_too_weak=0.4)
    assert "FEN" not in first_line(safe)
    assert "stiffest first; see caution for FEN" in first_line(weak)
    assert "full length" not in first_line(weak)
    assert "FEN uncut may be far too weak" in flat(trials_text(weak.kit, "right"))


def test_the_caution_names_a_lighter_point_of_the_stock(plain):
    weak = with_first(plain, chance_far_too_weak=0.4, lighter_point="P-LIGHT")
    assert "P-LIGHT of the stock is lighter and heavy enough" in flat(
        trials_text(weak.kit, "right")
    )
    assert "lightest point of this kit" in flat(trials_text(plain.kit, "right"))


def test_a_lighter_point_is_lighter_than_the_one_chosen(plain):
    mass = {i.item: i.mass_gr for i in shop_stock().items}
    for trial in plain.kit.shafts:
        assert not trial.lighter_point or mass[trial.lighter_point] < mass[trial.point]


def test_shafts_left_out_for_being_too_weak_uncut_are_named():
    stock = Stock((shaft("LIMP", 600.0, full_length_in=33.0), item("P", "point", mass_gr=200.0, price=3.0, pack=6), item("I", "insert", mass_gr=12.0, inside_diameter_in=0.246, price=3.0),
                   item("N", "nock", mass_gr=9.0, price=1.0)))  # fmt: skip
    with pytest.raises(NoAnswer) as told:
        shop(asked("heron_marsh"), stock, Wishes(arrows=0, chance=0.9))
    assert "LIMP" in str(told.value)
    assert "far too weak to be shot" in str(told.value)


def test_out_of_reach_the_cheapest_kit_near_the_most_is_taken():
    question = asked("heron_marsh")
    stock = Stock((shaft("S400", 400.0), shaft("S500", 500.0), shaft("S250", 250.0, 1.0),
                   item("P", "point", mass_gr=200.0, price=3.0, pack=6), item("N", "nock", mass_gr=9.0, price=1.0),
                   item("I", "insert", mass_gr=12.0, inside_diameter_in=0.246, price=3.0)))  # fmt: skip
    problem, kit = kit_for(lambda _, mass: kit_question(question, stock, None, mass), Wishes(), [])
    assert kit.reachable < kit.asked_chance == 0.95
    assert problem.chance(kit.kit.covered) >= kit.reachable - 0.0051
    assert "S250" not in [t.shaft for t in kit.shafts]
    assert "no kit of this stock reaches more than" in promise(kit)
