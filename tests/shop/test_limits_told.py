"""What limits a list: the purpose's weights, a budget, wishes; one kit and one sum, told as they are."""

import re

import pytest
from shop_cases import asked, part, plain_shop, rig, shaft, shop, wood

from shaftwright.answers.choose.choose import choose
from shaftwright.answers.scenario import scenario, what_to_look_for
from shaftwright.answers.shop.dozen import after_buying
from shaftwright.answers.shop.kit import kit_for
from shaftwright.answers.shop.musts import biting, read_musts
from shaftwright.answers.shop.shopping import Wishes, shopping
from shaftwright.errors import NoAnswer
from shaftwright.records.notebook import ENTRY
from shaftwright.records.stock import Stock
from shaftwright.render.screens.choose import choice_text
from shaftwright.render.screens.shop import shop_text

GROVE = (
    *(wood(f"ALDER-{lb}", lb, 0.3438, 4.4, gr_per_in=g, line="ALDER")
      for lb, g in ((47.5, 10.4), (52.5, 10.9), (57.5, 11.3))),
    *(part(f"PW-{m}", "point", m, 7.5, pack=12, material="wood", outside_diameter_in=0.3438)
      for m in (100, 125, 160)),
    part("NW", "nock", 9, 4.0, pack=12, material="wood", outside_diameter_in=0.3438),
)  # fmt: skip
#: of a light bow: at 7 to 9 gr/lb only the weakest, and shafts that are heavier
CREEK = shop(
    *(shaft(f"CREEK-{s}", s, 5.0, g, 0.204, full_length_in=x) for s, g, x in
      ((700, 6.0, 31.0), (800, 5.6, 30.5), (900, 5.2, 30.0), (1000, 4.9, 29.5), (1200, 4.3, 29.0))),
    *(part(f"P{m}", "point", m, 6.0, pack=12) for m in (60, 80, 100, 125)),
    part("I10", "insert", 10, 8.0, pack=12, inside_diameter_in=0.204),
    part("N204", "nock", 7, 6.0, pack=12, inside_diameter_in=0.204),
    part("V2", "fletching", 5, 6.0, pack=12),
)  # fmt: skip
LONGBOW = {"pounds": 44.0, "purpose": "target", "kind": "longbow"}
LIGHT = {"pounds": 25.7, "draw": 26.5, "purpose": "three_d"}


def straight(stock):
    """A shop of which one arrow flew straight twice."""
    entry = {
        "kind": "bareshaft", "build": {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"},
        "distance": 20, "fletched": [[0, 0], [1, 1], [-1, 0]], "bare": [[0.4, 0.2], [-0.3, 0.4]],
        "taped": True, "marks": "none",
    }  # fmt: skip
    q = scenario(rig(maker_minimum_gr_per_lb=7), stock=stock, entries=[ENTRY.validate_python(entry)] * 2,
                 lines=[1, 9])  # fmt: skip
    assert q.plan.next.stage == "prove"
    return q


# ---------------------------------------------------------------- the purpose's weights


def test_wood_is_kept_for_a_longbow_whatever_else_the_stock_holds():
    """Wood of 10 gr an inch makes arrows of 10 gr/lb on 44 lb (common practice: 8 to 11, no source)."""
    both = Stock((*plain_shop((500, 600, 700, 800)).items, *GROVE), "both")
    choice = choose(asked(both, **LONGBOW), both)
    assert sum(b.wood_lb is not None for b in choice.listed) == 3
    assert not any(name.startswith("ALDER") for name in choice.outside_weights)
    # what is asked of carbon does not change with it
    carbon = plain_shop((500, 600, 700, 800))
    alone = choose(asked(carbon, **LONGBOW), carbon)
    assert choice.outside_weights == alone.outside_weights


def test_a_kit_of_wood_is_the_same_beside_carbon_that_is_not_asked_for():
    both = Stock((*plain_shop((500, 600)).items, *GROVE), "both")
    of_wood = kit_for(asked(both, **LONGBOW), musts=read_musts(["material=wood"]))
    assert of_wood.material == "wood"
    assert {s.item for s in of_wood.shafts} == {
        s.item for s in kit_for(asked(shop(*GROVE), **LONGBOW)).shafts
    }


@pytest.mark.parametrize("pounds", [20.0, 28.0, 40.0, 55.0])
@pytest.mark.parametrize("purpose", ["target", "three_d", "hunting"])
def test_what_is_to_be_looked_for_can_be_built(pounds, purpose):
    """A shaft of 3.5 gr an inch is about the lightest there is (recalled); no tail weighs less than 10 gr."""
    told = what_to_look_for(asked(pounds=pounds, draw=26.5, purpose=purpose))
    length, front, heavy = (
        float(re.search(pattern, told).group(1))
        for pattern in (r"cut to (\d+)", r"about (\d+) gr up", r"(\d+) gr in all")
    )
    assert heavy >= 3.5 * length + front + 10
    assert front >= 75


def test_a_bow_too_light_for_its_purposes_weights_is_told_so():
    assert "shoots heavier ones" in what_to_look_for(
        asked(pounds=18.0, draw=26.5, purpose="target")
    )
    assert "shoots heavier ones" not in what_to_look_for(asked(pounds=45.0, purpose="target"))


def test_the_usual_weights_are_told_where_they_alone_hold_a_kit_back():
    q = asked(CREEK, **LIGHT)
    kit = kit_for(q)
    (note,) = (n for n in kit.notes if "usual" in n)
    own, other = (int(x) for x in re.findall(r"(\d+) in 100", note))
    assert own == round(100 * kit.chance)
    assert other >= own + 10
    assert note == kit.heavier
    assert note.replace("within", "Within") in q.plan.next.if_not
    # the limits stay
    most = q.purpose_rule.gr_per_lb.high * q.demand(q.reference_build()).own_lb
    assert all(s.bare_gr <= most for s in kit.shafts)


def test_where_only_heavier_arrows_would_do_it_says_that_and_not_that_nothing_can():
    stock = shop(
        *(i for i in CREEK.items if i.kind != "shaft" or i.item in ("CREEK-700", "CREEK-800"))
    )
    then = asked(stock, **LIGHT).plan.next
    assert then.do.startswith("Nothing in this stock suits at the usual weight: look for spines")
    assert re.search(
        r"usual 7 to 9 gr/lb has a fair chance; .* as CREEK-\d00 at \d+\.\d gr/lb", then.why
    )
    assert "shop can be right" not in then.do + then.why


def test_without_a_stock_nothing_is_said_of_one():
    then = asked(**LIGHT).plan.next
    assert then.do.startswith("Look for spines")
    assert "stock" not in then.do + then.why


# ---------------------------------------------------------------- one kit, one sum


def test_the_dozen_takes_in_what_is_left_of_the_kit():
    """Bought and noted, the kit's parts are in hand: the list asks for the same then."""
    answer = shopping(asked(plain_shop()), Wishes(arrows=12))
    held = {}
    for line in answer.test_kit:
        held[line.item] = held.get(line.item, 0) + line.packs * line.pack
    for line in answer.lines:
        assert line.in_hand == held.get(line.item, 0)
    shafts = next(x for x in answer.lines if x.kind == "shaft")
    assert shafts.packs == 14 - held[shafts.item]
    assert shafts.price == pytest.approx(9.5 * shafts.packs)


def test_a_budget_of_just_the_sum_buys_the_kit_and_list_that_it_would_without_one():
    free = shopping(asked(CREEK, **LIGHT))
    told = shopping(asked(CREEK, **LIGHT), Wishes(budget=free.total_price))
    assert told.test_kit == free.test_kit
    assert told.total_price == free.total_price
    with pytest.raises(NoAnswer) as refused:
        shopping(asked(CREEK, **LIGHT), Wishes(budget=free.total_price - 0.01))
    assert f"the test kit is {free.kit_price:.2f} " in str(refused.value)
    assert f"a budget of {free.total_price:.2f} would do" in str(refused.value)


def test_a_budget_that_pays_for_the_kit_of_next_takes_that_one():
    """Even where a cheaper one is nearly as likely, so that the first line and the list name one kit."""
    free = kit_for(asked(shop(*GROVE), **LONGBOW))
    for more in (0.0, 3.0, 500.0):
        same = kit_for(asked(shop(*GROVE), **LONGBOW), budget=free.price + more)
        assert same.to_buy == free.to_buy


def test_money_is_named_only_where_it_raises_the_chance():
    free = kit_for(asked(shop(*GROVE), **LONGBOW))
    assert any("other spines or points would free it" in note for note in free.notes)
    assert kit_for(asked(shop(*GROVE), **LONGBOW), budget=500.0).notes == free.notes
    less = kit_for(asked(shop(*GROVE), **LONGBOW), budget=free.price - 0.01)
    (note,) = less.notes
    assert less.chance < free.chance
    assert note.endswith(f"more money would make it {100 * free.chance:.0f} in 100")


def test_a_budget_holds_for_an_arrow_that_flies_straight_too():
    stock = plain_shop()
    cost = shopping(straight(stock)).list_price
    assert shopping(straight(stock), Wishes(budget=cost)).list_price == cost
    with pytest.raises(NoAnswer, match=rf"budget of 30\.50 binds: .* is {cost:.2f}; that would do"):
        shopping(straight(stock), Wishes(budget=30.5))


def test_what_the_kit_and_the_dozen_both_use_is_used_once():
    answer = shopping(asked(plain_shop()))
    left = after_buying(plain_shop(), answer.test_kit, answer.lines).by_name
    (point,) = {x.item for x in answer.lines if x.kind == "point"}
    bought = sum(x.packs * x.pack for x in (*answer.test_kit, *answer.lines) if x.item == point)
    (used,) = (x.quantity for x in answer.lines if x.item == point)
    assert left[point].in_hand == bought - used


def test_the_spares_are_told_and_are_of_shafts():
    text = shop_text(shopping(straight(plain_shop())))
    assert "12 arrows and 2 spares like the MARSH-500" in " ".join(text.split())
    parts = {x.item: x for x in shopping(straight(plain_shop())).lines}
    assert [parts[x].packs for x in ("I25", "N246", "F3x4", "P175")] == [1, 1, 1, 2]


# ---------------------------------------------------------------- wishes


def test_a_limit_that_rules_nothing_out_changes_nothing():
    held = {"MARSH-400": 2, "P100": 6, "I25": 12, "N246": 12}
    items = [
        i.model_copy(update={"in_hand": held.get(i.item, 0)})
        for i in plain_shop((400, 500, 600)).items
    ]
    plain = shopping(asked(shop(*items)))
    assert plain.question.plan.next.stage == "tune"
    same = shopping(
        asked(shop(*items)), Wishes(musts=read_musts(["material=carbon", "gr_per_lb=5"]))
    )
    assert same.to_dict() == plain.to_dict()


def test_which_limits_bite():
    some = read_musts(
        ["material=carbon", "shaft=MARSH-500", "gr_per_lb=9", "gr_per_lb=10", "foc=8"]
    )
    assert [str(m) for m in biting(some, plain_shop(), 9.0)] == [
        "shaft=MARSH-500", "gr_per_lb=10", "foc=8"
    ]  # fmt: skip


def test_what_is_asked_for_beside_the_plan_is_told_so():
    both = Stock((*plain_shop((500, 600, 700, 800)).items, *GROVE), "both")
    q = asked(both, **LONGBOW)
    other = {"wood": "carbon", "carbon": "wood"}[both.by_name[q.plan.next.shaft].material]
    same = both.by_name[q.plan.next.shaft].material
    told = "What to do now goes by the whole stock."
    assert told in choice_text(choose(q, both, material=other))
    assert told not in choice_text(choose(q, both, material=same))
    assert told not in choice_text(choose(q, both))
    note = "what to do now goes by the whole stock; this kit keeps your limits"
    assert note in shopping(q, Wishes(musts=read_musts([f"material={other}"]))).notes
    assert note not in shopping(q).notes


def test_limits_are_told_only_where_some_were_given():
    note = "what to do now goes by the whole stock; this kit keeps your limits"
    fresh = scenario(rig(brace_height="unknown"), stock=plain_shop())
    tuned = asked(shop(*(i.model_copy(update={"in_hand": 1}) for i in plain_shop((500,)).items)))
    for q, stage in ((fresh, "set_up"), (tuned, "tune")):
        assert q.plan.next.stage == stage
        for wishes in (Wishes(), Wishes(breakage_pct=30)):
            assert note not in shopping(q, wishes).notes
    assert note not in shopping(fresh, Wishes(budget=500)).notes


def test_a_kit_of_one_shaft_needs_one_of_each_part():
    """One point, insert and nock make the one arrow that there is."""
    one = asked(shop(*(i.model_copy(update={"in_hand": 1}) for i in plain_shop((500,)).items
                       if i.item in ("MARSH-500", "P175", "I25", "N246"))))  # fmt: skip
    kit = shopping(one).kit
    assert [(s.item, s.quantity) for s in kit.shafts] == [("MARSH-500", 1)]
    assert kit.to_buy == ()
    assert all(p.quantity == 1 for p in kit.parts)
