"""The final list: sums, spares, packs, limits, cut plan, matched set, two rigs, CSV, JSON."""

import csv
import io
import itertools
import json

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from shop_cases import EXAMPLES, asked, carbon_stock, item, shaft, shop_stock, unowned

from shaftwright.answers.shop import Wishes, shop
from shaftwright.answers.shop_cut import Piece, pieces_of, tightest_set
from shaftwright.answers.shop.musts import read_musts
from shaftwright.answers.shop_list import number_with_spares
from shaftwright.cli.shop import command
from shaftwright.errors import InputError, NoAnswer
from shaftwright.files.notebook import load_notebook
from shaftwright.records.stock import Stock
from shaftwright.render.shop import shop_text
from shaftwright.render.shop_csv import csv_text, safe_cell
from shaftwright.render.shop_rows import shop_dict

RIG, STOCK = str(EXAMPLES / "heron_marsh/rig.yaml"), str(EXAMPLES / "heron_marsh/stock.csv")
NOTEBOOK = EXAMPLES / "heron_marsh/notebook.yaml"


@pytest.fixture(scope="module")
def answer():
    return shop(asked("heron_marsh"), unowned(shop_stock()))


def test_json_keys_and_sums(answer):
    told = shop_dict(answer)
    for key in (
        "format",
        "test_kit",
        "chance_of_success",
        "list",
        "total_price",
        "cut_plan",
        "cautions",
    ):
        assert key in told
    total = 0.0
    for row in [*told["test_kit"], *told["list"]]:
        assert {
            "item",
            "kind",
            "quantity",
            "packs",
            "unit_price",
            "price",
            "in_hand",
            "why",
        } <= set(row)
        assert row["why"]
        if row["packs"]:
            assert row["price"] == pytest.approx(row["packs"] * row["unit_price"])
        total += row["price"] or 0.0
        stock = shop_stock().by_name.get(row["item"])
        if stock is not None:
            assert row["in_hand"] + row["packs"] * stock.pack >= row["quantity"]
    assert told["total_price"] == pytest.approx(total)
    assert told["chance_of_success"] >= 0.95
    json.dumps(told, allow_nan=False)


def test_the_list_of_a_hunting_dozen_is_whole(answer):
    """Every kind of thing the trade puts on it (common practice, no source)."""
    lines = answer.final.lines
    kinds = {line.kind for line in lines}
    assert {"shaft", "point", "broadhead", "nock", "fletching", "string", "sundry"} <= kinds
    head = next(line for line in lines if line.kind == "broadhead")
    point = next(line for line in lines if line.kind == "point")
    by_name = shop_stock().by_name
    assert by_name[head.item].mass_gr == by_name[point.item].mass_gr
    assert head.quantity == 7
    assert sum(line.quantity for line in lines if line.kind == "shaft") == number_with_spares(
        12, 15
    )
    words = " ".join(line.why for line in lines)
    for told in ("proof shafts", "one wing", "practice", "tap", "serving", "spare"):
        assert told in words


def test_in_hand_is_taken_off():
    lines = shop(asked("heron_marsh"), shop_stock()).final.lines
    for line in lines:
        if line.item == "N246":
            assert line.in_hand == 14
            assert line.packs == 1
    glue = next(line for line in lines if line.item == "HOTMELT")
    assert (glue.packs, glue.price) == (0, 0.0)


OTHERS = ("MARSH-300", "MARSH-600-12", "TERN-700", "CEDAR-1132-45")


@pytest.mark.parametrize(
    "name", ["MARSH-500", *(pytest.param(n, marks=pytest.mark.slow) for n in OTHERS)]
)
@pytest.mark.parametrize("count", [1, pytest.param(12, marks=pytest.mark.slow)])
def test_owning_a_shaft_never_raises_the_whole_price(name, count):
    stock = unowned(shop_stock())
    items = [i.model_copy(update={"in_hand": count}) if i.item == name else i for i in stock.items]
    before = shop(asked("heron_marsh"), stock).total_price
    assert shop(asked("heron_marsh"), Stock(tuple(items))).total_price <= before + 1e-9


def test_budget_is_kept_or_the_binding_limit_is_named():
    stock = carbon_stock()
    free = shop(asked("heron_marsh"), stock)
    with pytest.raises(NoAnswer) as error:
        shop(asked("heron_marsh"), stock, Wishes(budget=40.0))
    told = str(error.value)
    assert "budget of 40.00 binds" in told
    need = float(told.split("a budget of ")[1].split(" would do")[0])
    answer = shop(asked("heron_marsh"), stock, Wishes(budget=need))
    assert answer.total_price <= need + 1e-9
    assert need <= free.total_price + 1e-9
    with pytest.raises(NoAnswer, match="--arrows 0"):
        shop(asked("heron_marsh"), stock, Wishes(budget=free.kit.price + 1))


def test_must_have_limits_are_kept_and_named_when_they_bind():
    wood = shop(asked("long_fen"), shop_stock(), Wishes(musts=read_musts(["material=wood"])))
    rows = [shop_stock().by_name[t.shaft] for t in wood.kit.shafts]
    assert {r.material for r in rows} == {"wood"}
    assert wood.final.want.shaft.first.material == "wood"
    with pytest.raises(NoAnswer, match="material=fibreglass binds"):
        shop(
            asked("long_fen"),
            shop_stock(),
            Wishes(chance=0.9, musts=read_musts(["material=fibreglass"])),
        )
    heavy = shop(asked("heron_marsh"), shop_stock(), Wishes(musts=read_musts(["gr_per_lb=11.5"])))
    assert heavy.final.gr_per_lb >= 11.5
    with pytest.raises(InputError, match="material"):
        read_musts(["material=glass", "colour=red"])


def test_breakage_and_arrows_scale_the_dozen():
    assert number_with_spares(12, 0) == 12
    assert number_with_spares(6, 50) == 9
    kit_only = shop(asked("heron_marsh"), shop_stock(), Wishes(arrows=0))
    assert kit_only.final is None
    assert kit_only.list_price == 0


def test_cut_plan_goes_down_to_the_shortest_safe_length(answer):
    cut = answer.cut
    lengths = [s.length_in for s in cut.steps]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[0] == cut.full_in
    assert lengths[-1] == cut.shortest_safe_in == 29.25
    assert "never cut below" in cut.steps[-1].note
    weak = [s.chance_weak for s in cut.steps]
    assert weak == sorted(weak, reverse=True)
    assert all(s.cut_in <= 0.25 + 1e-9 for s in cut.steps[2:])


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.floats(250, 450), st.floats(380, 420)), min_size=1, max_size=8),
    st.integers(1, 6),
)
def test_tightest_set_equals_exhaustive_search(values, number):
    pieces = [Piece(f"shaft {i}", m, s) for i, (m, s) in enumerate(values)]
    matched = tightest_set(pieces, number)
    count = min(number, len(pieces))

    def spread(group):
        masses, spines = [p.mass_gr for p in group], [p.spine_mils for p in group]
        return (max(masses) - min(masses)) / 5 + (max(spines) - min(spines)) / 10

    best = min(spread(group) for group in itertools.combinations(pieces, count))
    assert len(matched.inside) == count
    assert spread(matched.inside) == pytest.approx(best, abs=1e-9)


def test_weigh_entries_of_the_notebook_make_the_cut_table():
    entries = load_notebook(NOTEBOOK).entries
    names = [i.item for i in shop_stock().of_kind("shaft")]
    assert [p.name for p in pieces_of(entries, names)] == ["arrow 1", "arrow 2", "arrow 3"]
    assert tightest_set(pieces_of(entries, names), 2).mass_range_gr == 0.0
    assert tightest_set((), 12) is None


def test_what_i_own_comes_before_what_is_bought():
    answer = shop(asked("heron_marsh"), shop_stock())
    assert {o.shaft for o in answer.own} == {"MARSH-400", "MARSH-500"}
    assert all(0 <= o.chance_owned <= o.chance_any <= 1 for o in answer.own)
    assert all(not o.to_buy for o in answer.own)
    assert shop(asked("heron_marsh"), unowned(shop_stock())).own == ()


HOSTILE = [
    "=1+1",
    "+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    " =1",
    "a\nb",
    '"quoted", comma',
    "矢",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_csv_holds_no_formula(name):
    assert not safe_cell(name).lstrip().startswith(("=", "+", "-", "@"))
    assert "\n" not in safe_cell(name)


def test_csv_opens_cleanly(answer):
    rows = list(csv.DictReader(io.StringIO(csv_text(answer), newline="")))
    assert all(None not in row and None not in row.values() for row in rows)
    total = sum(float(r["price"] or 0) for r in rows if r["part"] != "total")
    assert float(rows[-1]["price"]) == pytest.approx(total)


def test_text_leads_with_the_advice_and_prints_no_pounds(answer):
    text = shop_text(answer)
    assert text.startswith("Buy ")
    assert len(text.split("\n\n")[0]) < 200
    for part in (
        "Test shafts at 10 yd",
        "Chance against money",
        "Final list",
        "Cut plan",
        "Cautions",
    ):
        assert part in text
    assert "that is intended" in text
    assert "mask" in text
    assert " lb" not in text.replace("gr/lb", "")
    assert max(len(line) for line in text.splitlines()) <= 80


def run(*args):
    return CliRunner().invoke(command, list(args), catch_exceptions=True)


def test_command_json_csv_and_exit(tmp_path):
    target = tmp_path / "list.csv"
    result = run(RIG, "--stock", STOCK, "--json", "--csv", str(target))
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert told["format"] == 2
    assert target.read_text(encoding="utf-8").startswith("part,item,kind")


def test_command_wants_a_stock():
    assert run(RIG).exit_code == 2


def test_missing_kinds_are_lines_to_buy_elsewhere():
    stock = Stock((shaft("S500", 500.0), shaft("S600", 600.0)))
    answer = shop(asked("reed_lark", "practice"), stock, Wishes(chance=0.3))
    assert answer.notes
    assert answer.unpriced
    told = shop_dict(answer)
    elsewhere = [row for row in told["list"] if row["unit_price"] is None]
    assert {"nock", "fletching", "string"} <= {row["kind"] for row in elsewhere}


def test_hostile_names_stay_inert():
    stock = Stock((shaft("=S500", 500.0), shaft("S600", 600.0),
                   item("@P", "point", mass_gr=100.0, price=3.0), item("N", "nock", mass_gr=9.0, price=1.0)))  # fmt: skip
    answer = shop(asked("reed_lark", "practice"), stock, Wishes(chance=0.3))
    rows = list(csv.reader(io.StringIO(csv_text(answer), newline="")))
    assert not [c for row in rows[1:] for c in row if c.startswith(("=", "@", "+"))]


def test_an_unpriced_stock_is_never_told_as_free():
    stock = Stock((shaft("S500", 500.0, price=None), shaft("S600", 600.0, price=None),
                   item("P", "point", mass_gr=100.0), item("N", "nock", mass_gr=9.0)))  # fmt: skip
    answer = shop(asked("reed_lark", "practice"), stock, Wishes(chance=0.3))
    assert answer.kit.unpriced
    assert answer.kit.price == 0
    assert answer.kit.reckoned > 0
    assert "at usual prices" in " ".join(shop_text(answer).split("\n\n")[0].split())


def test_shopping_rules_are_ranges_with_reasons():
    from shaftwright.answers.shop.settings import shopping_rules, usual_price

    rules = shopping_rules()
    for name, one in rules.settings.items():
        assert one.low <= one.value <= one.high, name
        assert one.why
    assert list(rules.curve) == sorted(rules.curve)
    assert (rules.habit.likeliest, rules.habit.neighbour) == (3, 2)
    # single shafts 4 to 15, points 6 to 20 a pack (common practice, no source)
    assert usual_price("shaft") == 9.5
    assert usual_price("point") == 13.0
