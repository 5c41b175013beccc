"""What the list says: 80 columns, the answer first, where it differs from `choose`, when it is no advice."""

import json

import pytest
from click.testing import CliRunner
from shop_cases import EXAMPLES, asked, item, shaft, shop_stock, unowned

from shaftwright.answers.choose import choose
from shaftwright.answers.shop import Wishes, shop
from shaftwright.answers.shop_chosen import expected_word
from shaftwright.answers.shop.musts import read_musts
from shaftwright.cli.shop import command
from shaftwright.errors import NoAnswer
from shaftwright.files.notebook import load_notebook
from shaftwright.records.stock import Stock
from shaftwright.render.shop import shop_text
from shaftwright.render.shop_rows import shop_dict

RIG, STOCK = str(EXAMPLES / "heron_marsh/rig.yaml"), str(EXAMPLES / "heron_marsh/stock.csv")


@pytest.fixture(scope="module")
def plain():
    return shop(asked("heron_marsh"), unowned(shop_stock()))


def lead(answer):
    return " ".join(shop_text(answer).split("\n\n")[0].split())


@pytest.mark.parametrize("rig", ["heron_marsh", "reed_lark", "long_fen"])
@pytest.mark.parametrize(
    "wishes", [Wishes(), Wishes(arrows=0, each=2), Wishes(wraps=True, breakage_pct=40)]
)
def test_every_line_of_the_examples_keeps_to_80_columns(rig, wishes):
    text = shop_text(shop(asked(rig), shop_stock(), wishes))
    assert max(map(len, text.splitlines())) <= 80


def test_with_a_notebook_too():
    notebook = load_notebook(EXAMPLES / "heron_marsh/notebook.yaml")
    question = asked("heron_marsh").after(notebook.entries, shop_stock(), lines=notebook.lines)
    answer = shop(question, shop_stock(), entries=notebook.entries)
    assert max(map(len, shop_text(answer).splitlines())) <= 80
    assert answer.matched is not None


def test_names_as_long_as_they_may_be_keep_to_80_columns():
    long = "X" * 60
    stock = Stock((shaft(f"S500{long}", 500.0), shaft(f"S600{long}", 600.0), item(f"P{long}", "point", mass_gr=100.0, price=3.0, pack=6),
                   item(f"Q{long}", "point", mass_gr=150.0, price=3.0, pack=6), item(f"N{long}", "nock", mass_gr=9.0, price=1.0)))  # fmt: skip
    text = shop_text(shop(asked("reed_lark", "practice"), stock, Wishes(chance=0.3)))
    assert max(map(len, text.splitlines())) <= 80


def test_the_first_line_says_what_to_buy_first_and_for_how_much(plain):
    answer, told = plain, lead(plain)
    assert told.startswith("Buy ")
    assert f"{answer.kit.price:.2f}" in told
    assert answer.kit.shafts[0].shaft in told
    assert len(told) <= 160


@pytest.mark.parametrize("rig", ["heron_marsh", "reed_lark", "long_fen"])
@pytest.mark.parametrize("owned", [True, pytest.param(False, marks=pytest.mark.slow)])
@pytest.mark.parametrize("purpose", ["practice", "target"])
def test_another_shaft_than_choose_puts_first_is_explained(rig, owned, purpose):
    stock = shop_stock() if owned else unowned(shop_stock())
    question = asked(rig, purpose)
    ranking = choose(question, stock).ranking
    first = ranking.builds.name(int(ranking.builds.shaft[ranking.best_of_shafts()[0]]))
    answer = shop(question, stock)
    same = first in {i.item for i in answer.final.want.shaft.items}
    assert (answer.unlike_choose == "") == same
    if not same:
        told = " ".join(shop_text(answer).split())
        assert f"`choose` puts {first} first; " in told
        assert shop_dict(answer)["unlike_choose"] == answer.unlike_choose


def test_limits_that_rule_the_first_of_choose_out_are_named():
    answer = shop(asked("heron_marsh"), shop_stock(), Wishes(musts=read_musts(["material=wood"])))
    assert "your limits (material=wood) rule it out" in answer.unlike_choose


def two_priced() -> Stock:
    """A cheap shaft that is nearly always wrong and a dear one that suits."""
    parts = (item("P", "point", mass_gr=125.0, price=6.0, pack=12, in_hand=60),
             item("I", "insert", mass_gr=25.0, inside_diameter_in=0.246, price=6.0, pack=12, in_hand=60),
             item("N", "nock", mass_gr=9.0, price=6.0, pack=12, in_hand=60))  # fmt: skip
    return Stock((shaft("CHEAP-390", 390.0, 2.0), shaft("DEAR-500", 500.0, 30.0), *parts))


def test_a_budget_that_leaves_a_poor_build_is_told_and_never_recommended():
    question = asked("heron_marsh", "practice")
    free = shop(question, two_priced(), Wishes(chance=0.5))
    assert free.final.want.shaft.first.item == "DEAR-500"
    assert free.freed_by == ()
    answer = shop(question, two_priced(), Wishes(chance=0.5, budget=free.kit.reckoned + 60.0))
    assert answer.final.want.shaft.first.item == "CHEAP-390"
    told = lead(answer)
    assert told.startswith("Buy no dozen: CHEAP-390")
    assert f"--budget {free.total_price:.2f} pays for DEAR-500" in told
    assert "DEAR-500" in told.split(". ")[1]
    text = " ".join(shop_text(answer).split())
    assert "Not advised" in text
    assert "Final list" not in text
    document = shop_dict(answer)
    assert document["list_advised"] is False
    assert document["what_would_free_it"]


def test_a_must_that_leaves_a_poor_build_is_named():
    wishes = Wishes(musts=read_musts(["shaft=CHEAP-390"]))
    answer = shop(asked("heron_marsh", "practice"), two_priced(), wishes)
    assert lead(answer).startswith("Buy nothing from this stock yet")
    assert "without --must shaft=CHEAP-390 there is DEAR-500" in " ".join(shop_text(answer).split())
    assert any("shaft=CHEAP-390 binds" in note for note in answer.notes)
    assert "your limits (shaft=CHEAP-390) rule it out" in answer.unlike_choose


@pytest.mark.slow
def test_a_budget_under_the_test_kit_alone_is_refused_with_the_price(plain):
    stock, price = unowned(shop_stock()), plain.kit.reckoned
    with pytest.raises(
        NoAnswer, match=f"budget of 20.00 binds: the cheapest test kit is {price:.2f}"
    ):
        shop(asked("heron_marsh"), stock, Wishes(arrows=0, budget=20.0))


def test_the_kit_is_also_told_for_doubts_larger_than_the_rules_state(plain):
    assert plain.kit.chance_were_wider < plain.kit.chance
    assert plain.kit.chance >= plain.kit.asked_chance


def test_words_of_a_bare_shaft():
    words = [expected_word(share) for share in (0.75, 0.9, 0.95, 1.0, 1.05, 1.1, 1.3)]
    assert words == [
        "weak",
        "slightly weak",
        "straight",
        "straight",
        "straight",
        "slightly stiff",
        "stiff",
    ]


def test_before_without_a_notebook_is_refused():
    old = str(EXAMPLES / "heron_marsh/before.yaml")
    result = CliRunner().invoke(command, [RIG, "--stock", STOCK, "--before", old])
    assert result.exit_code == 2
    assert "--before needs --notebook" in result.output


def test_basis_is_taken():
    told = [
        json.loads(CliRunner().invoke(command, [RIG, "--stock", STOCK, "--json", "--arrows", "0", "--basis", b]).stdout)
        for b in ("both", "physics")
    ]  # fmt: skip
    assert told[0]["chance_of_success"] != told[1]["chance_of_success"]
