"""The whole list: the dozen against counts by hand, stages, limits, two bows, screens and CSV."""

import csv
import io
import itertools
import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from shop_cases import asked, part, plain_shop, rig, shaft, shop, with_in_hand

from shaftwright.answers.scenario import scenario
from shaftwright.answers.shop.dozen import Weighed, after_buying, dozen_for, pieces_of, tightest_set
from shaftwright.answers.shop.lines import cheapest_packs, listed
from shaftwright.answers.shop.musts import read_musts
from shaftwright.answers.shop.shopping import Wishes, shopping
from shaftwright.answers.shop.two import shop_two
from shaftwright.cli.main import cli
from shaftwright.errors import NoAnswer
from shaftwright.records.notebook import ENTRY, BuildSpec
from shaftwright.render.screens.shop import _spine_span, csv_text, shop_text, two_text

EXAMPLES = ("heron_marsh", "long_fen", "reed_lark")
SPEC = {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"}


def spec(**more):
    return BuildSpec.model_validate({**SPEC, **more})


def whole_shop(**counts):
    """A shop that has singles and a dozen of one shaft, broadheads and small things."""
    more = [
        shaft("MARSH-500-12", 500, 90.0, 11.0 - 500 / 175, pack=12),
        part("B175", "broadhead", 175, 42.0, pack=3), part("S-LOW", "string", 120, 24.0, note="low-stretch"),
        part("HOTMELT", "sundry", None, 7.0), part("TAPE", "sundry", None, 4.0, in_hand=1),
        part("MASK", "sundry", None, 15.0, pack=10, note="dust masks"),
    ]  # fmt: skip
    return with_in_hand(shop(*plain_shop().items, *more), **counts)


def by_item(lines):
    return {line.item: line for line in lines}


def test_the_dozen_is_counted_as_by_hand():
    """12 and 15 % are 14: one pack of 12 and two singles are cheapest; no pack of parts is opened for the two."""
    lines = by_item(dozen_for(asked(whole_shop()), spec()))
    assert (lines["MARSH-500-12"].packs, lines["MARSH-500-12"].price) == (1, 90.0)
    assert (lines["MARSH-500"].packs, lines["MARSH-500"].price) == (2, 19.0)
    assert (lines["P175"].quantity, lines["P175"].packs, lines["P175"].price) == (12, 2, 16.0)
    # six to hunt with and one given to practice, in packs of three
    assert (lines["B175"].quantity, lines["B175"].packs, lines["B175"].price) == (7, 3, 126.0)
    assert (lines["I25"].quantity, lines["I25"].packs, lines["I25"].price) == (12, 1, 11.0)
    assert (lines["N246"].packs, lines["F3x4"].packs) == (1, 1)
    assert lines["TAPE"].packs == 0
    assert lines["S-LOW"].packs == 1


def test_a_pack_that_holds_them_has_parts_for_the_spares_too():
    """Ten arrows and two spares; two more small parts for ten percent are spoiled, the pack holds twelve."""
    lines = by_item(dozen_for(asked(whole_shop(I25=3)), spec(), arrows=10))
    assert [lines[x].quantity for x in ("P175", "I25", "N246")] == [12, 14, 12]


def test_what_is_in_hand_is_taken_off():
    lines = by_item(dozen_for(asked(whole_shop(MARSH_500=3, P175=20, I25=5)), spec()))
    # eleven more: a pack of twelve is cheaper than eleven singles
    assert (lines["MARSH-500-12"].packs, lines["MARSH-500-12"].in_hand) == (1, 3)
    assert "MARSH-500" not in lines
    assert lines["P175"].packs == 0
    assert lines["I25"].packs == 1


def test_shafts_in_hand_that_are_too_short_do_not_count():
    stock = whole_shop(MARSH_500=14)
    cut = [
        i.model_copy(update={"in_hand_length_in": 29.0}) if i.item == "MARSH-500" else i
        for i in stock.items
    ]
    long = dozen_for(asked(stock), spec())
    short = dozen_for(asked(shop(*cut)), spec())
    assert sum(line.packs for line in long if line.kind == "shaft") == 0
    assert sum(line.packs * line.pack for line in short if line.kind == "shaft") == 14


def test_another_row_of_the_same_shaft_will_do_another_shaft_will_not():
    other = [
        shaft("SEDGE-500", 500, 1.0, 11.0 - 500 / 175), shaft("MARSH-500-X", 500, 1.0, 9.9),
        shaft("MARSH-500-SHORT", 500, 1.0, 11.0 - 500 / 175, full_length_in=29.0),
    ]  # fmt: skip
    stock = shop(*whole_shop().items, *other)
    names = {line.item for line in dozen_for(asked(stock), spec()) if line.kind == "shaft"}
    assert names == {"MARSH-500", "MARSH-500-12"}


def test_what_the_shop_lacks_is_named_to_look_for():
    stock = shop(
        *(
            i
            for i in whole_shop().items
            if i.item not in ("P175", "B175", "MARSH-500", "MARSH-500-12")
        )
    )
    lines = {line.kind: line for line in dozen_for(asked(stock), spec())}
    assert "MARSH-500" in lines["shaft"].item
    assert "29 1/2 in" in lines["shaft"].item
    assert "not in this shop" in lines["shaft"].why
    assert "shoot one" in lines["shaft"].why
    assert lines["point"].item == "P175"
    assert lines["point"].price is None


def test_a_shaft_given_by_numbers_is_looked_for_by_its_numbers():
    numbers = BuildSpec.model_validate(
        {"spine": 500, "gr_per_in": 11.0 - 500 / 175, "length": 29.5, "front": 200}
    )
    lines = dozen_for(asked(whole_shop()), numbers)
    assert {line.item for line in lines if line.kind == "shaft"} == {"MARSH-500", "MARSH-500-12"}
    far = numbers.model_copy(update={"spine_mils": 425.0})
    (shaft_line,) = (line for line in dozen_for(asked(whole_shop()), far) if line.kind == "shaft")
    assert "spine 425" in shaft_line.item


def test_practice_needs_no_broadheads_and_no_arrows_need_no_list():
    kinds = {line.kind for line in dozen_for(asked(whole_shop(), purpose="practice"), spec())}
    assert "broadhead" not in kinds
    assert dozen_for(asked(whole_shop()), spec(), arrows=0) == ()
    few = by_item(dozen_for(asked(whole_shop()), spec(), arrows=3, breakage_pct=0.0))
    assert few["MARSH-500"].quantity == 3


def test_packs_are_the_cheapest_that_hold_enough():
    single, six, dozen = (
        shaft(f"A-{n}", 500, p, pack=n) for n, p in ((1, 10.0), (6, 48.0), (12, 90.0))
    )
    assert cheapest_packs([single, six, dozen], 13) == (100.0, {"A-1": 1, "A-12": 1})
    assert cheapest_packs([single, six, dozen], 5) == (48.0, {"A-6": 1})
    assert cheapest_packs([single], 0) == (0.0, {})


def test_the_dozen_comes_from_the_kits_line_with_its_points_and_insert():
    answer = shopping(asked(whole_shop()))
    assert answer.question.plan.next.stage == "test_shafts"
    assert answer.build.shaft in {s.item for s in answer.kit.shafts}
    assert answer.build.insert == answer.kit.insert
    masses = {p.mass_gr for p in answer.kit.parts if p.kind == "point"}
    head = whole_shop().by_name[answer.build.head]
    assert head.mass_gr in masses
    assert 9.0 <= answer.build.gr_per_lb <= 11.0
    one = next(s for s in answer.kit.shafts if s.item == answer.build.shaft)
    assert answer.cut_plan.shortest_safe_in <= answer.build.length_in <= one.length_in
    document = json.loads(json.dumps(answer.to_dict()))
    bought = sum(line["price"] or 0.0 for line in (*document["test_kit"], *document["list"]))
    assert document["total_price"] == pytest.approx(bought)
    keys = {
        "format",
        "test_kit",
        "chance_of_success",
        "list",
        "list_price",
        "cut_plan",
        "cautions",
        "next",
        "shot",
    }
    assert keys <= set(document)
    line = {"item", "kind", "quantity", "packs", "unit_price", "price", "in_hand", "why"}
    assert all(line <= set(one) for one in (*document["test_kit"], *document["list"]))


BARE = {"kind": "bareshaft", "build": SPEC, "distance": 20, "fletched": [[0, 0], [1, 1], [-1, 0]],
        "bare": [[0.4, 0.2], [-0.3, 0.4]], "taped": True, "marks": "none"}  # fmt: skip


def test_once_something_flies_straight_the_list_is_for_it_and_no_kit_is_bought():
    stock = whole_shop(MARSH_500=2, P175=6)
    entries = [ENTRY.validate_python(BARE)] * 2
    q = scenario(
        rig(brace_height=7.5, maker_minimum_gr_per_lb=7), stock=stock, entries=entries, lines=[1, 9]
    )
    answer = shopping(q)
    assert q.plan.next.stage in ("prove", "dozen")
    assert answer.kit is None
    assert answer.test_kit == ()
    assert (answer.build.shaft, answer.build.length_in, answer.build.head) == (
        "MARSH-500",
        29.5,
        "P175",
    )
    assert by_item(answer.lines)["MARSH-500-12"].packs == 1
    text = shop_text(answer)
    assert "test kit" not in text.lower()
    assert text.splitlines()[0] in q.plan.next.do
    limited = shopping(q, Wishes(musts=read_musts(["point=P125"])))
    assert limited.build == answer.build
    assert any("--must" in note for note in limited.notes)


def made(*more, **counts):
    """The proven arrow's dozen noted as made, and what was noted besides."""
    stock = whole_shop(MARSH_500=2, P175=6, **counts)
    notes = [ENTRY.validate_python(BARE)] * 3
    notes += [
        ENTRY.validate_python({"kind": "dozen", "build": SPEC, "made": 12, "date": "2026-05-02"})
    ]
    q = scenario(
        rig(brace_height=7.5, maker_minimum_gr_per_lb=7), stock=stock,
        entries=[*notes, *map(ENTRY.validate_python, more)], lines=range(1, len(notes) + len(more) + 1),
    )  # fmt: skip
    assert q.plan.next.stage == "done"
    return q


def test_once_the_dozen_is_made_nothing_is_to_be_bought():
    """Twelve are made, and `next` says keep and shoot: the list says the same."""
    answer = shopping(made())
    assert (answer.lines, answer.test_kit, answer.total_price, answer.cut_plan) == (
        (),
        (),
        0.0,
        None,
    )
    assert answer.made == 12
    said = shop_text(answer)
    assert "12 of them are made: nothing to buy" in said
    assert "to buy  " not in said


def test_more_than_were_made_are_listed_without_what_is_on_those_made():
    """For twenty-four: twelve more and two spare; the points and nocks on the twelve are not loose."""
    lines = by_item(shopping(made(N246=20), Wishes(arrows=24)).lines)
    bought = [x for x in lines.values() if x.kind == "shaft"]
    assert sum(x.packs * x.pack for x in bought) == 14
    assert (lines["P175"].in_hand, lines["P175"].quantity) == (0, 12)
    assert lines["N246"].in_hand == 8
    assert "12 more arrows and 2 spares like the MARSH-500" in shop_text(
        shopping(made(), Wishes(arrows=24))
    )


def test_those_that_broke_since_are_to_be_bought_again():
    lost = {"kind": "have", "item": "MARSH-500", "count": 9, "date": "2026-06-01"}
    answer = shopping(made(lost))
    assert answer.made == 9
    # three more, and one spare
    assert sum(x.packs * x.pack for x in answer.lines if x.kind == "shaft") == 4
    assert "3 more arrows and 1 spare like" in shop_text(answer)


def test_while_tuning_the_kit_is_what_is_in_hand_and_nothing_is_bought():
    stock = whole_shop(MARSH_500=2, MARSH_400=1, P175=6, P125=6, I25=4, N246=6)
    answer = shopping(asked(stock))
    assert answer.question.plan.next.stage == "tune"
    assert all(line.packs == 0 for line in answer.test_kit)
    assert {s.item for s in answer.kit.shafts} <= {"MARSH-500", "MARSH-400"}
    # another line that is asked for is a kit to buy
    other = shopping(asked(stock), Wishes(musts=read_musts(["shaft=MARSH-600"])))
    assert {s.item for s in other.kit.shafts} == {"MARSH-600"}


def test_while_tuning_the_list_names_what_next_says_to_buy():
    """An arrow that is gone lay off: another shaft, for what the shop asks."""
    bare = [{"at": [6 + x, 0]} for x in (-1, 0, 1)]
    off = ENTRY.validate_python({**BARE, "bare": bare})
    gone = ENTRY.validate_python({"kind": "have", "item": "MARSH-500", "count": 0})
    stock = whole_shop(MARSH_500=1, P175=6, I25=4)
    answer = shopping(scenario(rig(), stock=stock, entries=[off, gone]))
    (bought,) = answer.question.plan.next.buy
    price = answer.question.stock.by_name[bought.item].price
    assert f"to buy now, as next says: 1 {bought.item} for {price:.2f}" in " ".join(answer.notes)
    here = shopping(scenario(rig(), stock=stock, entries=[off]))
    assert not here.question.plan.next.buy
    assert not any("to buy now" in note for note in here.notes)


def test_nothing_that_can_be_right_is_an_answer_with_what_to_look_for():
    answer = shopping(asked(plain_shop((900,))))
    assert answer.kit is None
    assert answer.lines == ()
    document = answer.to_dict()
    assert (document["test_kit"], document["chance_of_success"]) == ([], None)
    assert "look for" in document["next"]["do"]
    assert "look for" in " ".join(shop_text(answer).split())
    with pytest.raises(NoAnswer):
        shopping(asked(plain_shop((900,))), Wishes(chance=0.5))


@pytest.mark.slow
def test_the_budget_binds_or_frees():
    free = shopping(asked(whole_shop()))
    with pytest.raises(NoAnswer, match=r"a budget of \d+\.\d\d would do.*--arrows 0"):
        shopping(asked(whole_shop()), Wishes(budget=free.kit_price + 5.0))
    same = shopping(asked(whole_shop()), Wishes(budget=free.total_price + 1.0))
    assert same.total_price <= free.total_price + 1.0
    alone = shopping(asked(whole_shop()), Wishes(arrows=0, budget=free.kit_price + 1.0))
    assert alone.lines == ()
    with pytest.raises(NoAnswer, match="--must foc=45"):
        shopping(asked(whole_shop()), Wishes(musts=read_musts(["foc=45"])))


def test_two_bows_have_one_list_where_one_kit_serves_both():
    stock = whole_shop()
    first, second = asked(stock, pounds=45.0), asked(stock, pounds=45.0, purpose="practice")
    answer = shop_two(first, second, Wishes(chance=0.3))
    assert answer.shared
    assert answer.second.lines == ()
    text = two_text(answer)
    assert all(
        one.question.plan.next.do.split(":")[0] in " ".join(text.split()) for one in answer.both
    )
    apart = shop_two(first, asked(stock, pounds=56.0), Wishes(chance=0.4))
    assert not apart.shared
    document = apart.to_dict()
    assert document["total_price"] == pytest.approx(sum(one.total_price for one in apart.both))
    assert len(document["each_next"]) == 2
    # a bow square or a string is bought once for both
    tools = [
        line["item"]
        for line in document["list"]
        if line["kind"] in ("sundry", "string") and line["packs"]
    ]
    assert len(tools) == len(set(tools))


def test_what_is_left_over_is_in_hand_afterwards():
    stock = whole_shop(P175=1)
    left = after_buying(
        stock, [listed(stock.by_name["P175"], 14, ""), listed(stock.by_name["HOTMELT"], 1, "")]
    )
    # one in hand and three packs of six, fourteen used
    assert left.by_name["P175"].in_hand == 5
    assert left.by_name["HOTMELT"].in_hand == 1


@given(
    st.lists(st.tuples(st.floats(300, 330), st.floats(380, 420)), min_size=1, max_size=8),
    st.integers(1, 6), st.booleans(),
)  # fmt: skip
def test_the_tightest_set_equals_exhaustive_search(values, number, spined):
    batch = [Weighed(f"shaft {i}", m, s if spined else None) for i, (m, s) in enumerate(values)]
    found = tightest_set(batch, number)

    def width(some):
        masses, spines = [p.mass_gr for p in some], [p.spine_mils or 0.0 for p in some]
        return (max(masses) - min(masses)) / 5 + (max(spines) - min(spines)) / 10

    least = min(map(width, itertools.combinations(batch, min(number, len(batch)))))
    assert width(found.inside) == pytest.approx(least)
    assert len(found.inside) + len(found.outside) == len(batch)
    assert (found.spine_range_mils is None) == (not spined)


def test_weighed_pieces_are_those_of_the_batch():
    noted = [
        {"kind": "weigh", "item": "arrow 1", "mass": "440 gr"}, {"kind": "weigh", "item": "MARSH-500 2", "mass": 441},
        {"kind": "weigh", "item": "MARSH-500", "mass": 237}, {"kind": "weigh", "item": "string A", "mass": 120},
        {"kind": "weigh", "item": "arrow 1", "mass": "442 gr"},
    ]  # fmt: skip
    pieces = pieces_of([ENTRY.validate_python(one) for one in noted], ["MARSH-500"])
    assert [(p.name, p.mass_gr) for p in pieces] == [("arrow 1", 442.0), ("MARSH-500 2", 441.0)]
    assert tightest_set((), 12) is None


def test_the_spread_of_a_wooden_set_is_told_in_pounds():
    """The trade's definition: 26 / (deflection of 26 in under 2 lb); the same bar bends (28/26)^3 x 1.94 / 2 on 28 in."""
    mils = [26 / lb * 1000 * (28 / 26) ** 3 * 1.94 / 2 for lb in (41.0, 42.0, 43.5)]
    found = tightest_set([Weighed(f"shaft {i}", None, m) for i, m in enumerate(mils)], 3)
    assert _spine_span(found, wood=True) == "2.5 lb of spine"
    assert _spine_span(found, wood=False) == f"{max(mils) - min(mils):.0f} thousandths of spine"


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("options", [(), ("--notebook", "-"), ("--purpose", "practice")])
@pytest.mark.slow
def test_the_screen_is_short_and_narrow(name, options):
    found = CliRunner().invoke(cli, ["shop", f"examples/{name}", *options])
    assert found.exit_code == 0, found.output
    lines = found.output.splitlines()
    assert len(lines) <= 45
    assert max(map(len, lines)) <= 80
    document = json.loads(
        CliRunner().invoke(cli, ["shop", f"examples/{name}", *options, "--json"]).output
    )
    assert " ".join(document["next"]["do"].split()).startswith(lines[0])
    full = CliRunner().invoke(cli, ["shop", f"examples/{name}", *options, "--full"]).output
    assert len(full) > len(found.output)
    assert max(map(len, full.splitlines())) <= 80


def test_no_sentence_stands_beside_an_item_and_what_is_elsewhere_takes_one_line():
    found = CliRunner().invoke(cli, ["shop", "examples/long_fen"]).output
    assert "grips" not in found
    assert found.count("Not in this shop") == 1


def test_without_a_stock_the_list_names_usual_things_without_prices():
    found = CliRunner().invoke(cli, ["shop", "examples/heron_marsh/rig.yaml", "--json"])
    assert found.exit_code == 0, found.output
    document = json.loads(found.output)
    assert all(
        line["item"].startswith("any ") for line in document["test_kit"] if line["kind"] == "shaft"
    )
    assert document["total_price"] == 0.0
    assert document["without_price"]


def test_csv_opens_cleanly_and_adds_up():
    evil = shop(*whole_shop().items, part("=1+1", "sundry", None, 3.0, note="nock points"))
    answer = shopping(asked(evil))
    rows = list(csv.DictReader(io.StringIO(csv_text(answer))))
    assert any(row["item"] == "'=1+1" for row in rows)
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row.values())
    total = sum(float(row["price"] or 0) for row in rows if row["part"] != "total")
    assert float(rows[-1]["price"]) == pytest.approx(total)
    assert {row["part"] for row in rows} == {"test kit", "list", "total"}


def test_csv_is_written_beside_the_screen(tmp_path):
    file = tmp_path / "list.csv"
    found = CliRunner().invoke(cli, ["shop", "examples/reed_lark", "--csv", str(file)])
    assert found.exit_code == 0
    assert file.read_text(encoding="utf-8").startswith("part,item,kind")


def test_a_stock_without_shafts_is_an_answer_and_no_crash(tmp_path):
    file = tmp_path / "stock.csv"
    lines = Path("examples/heron_marsh/stock.csv").read_text(encoding="utf-8").splitlines()
    file.write_text(
        "\n".join([lines[0], *(line for line in lines if line.startswith("P1"))]) + "\n"
    )
    for command in ("shop", "choose"):
        words = [command, "examples/heron_marsh/rig.yaml", "--stock", str(file)]
        found = CliRunner().invoke(cli, words)
        assert found.exit_code == 0
        said = " ".join(found.stdout.split())
        assert "look for spines" in said
        assert "he stock has no shafts: add some of the spines that suit" in said


def test_a_shop_too_large_for_a_kit_is_told_what_to_leave_out(monkeypatch):
    monkeypatch.setattr("shaftwright.answers.shop.fronts._MOST", 2)
    large = asked(whole_shop(), pounds=44.5)
    assert large.plan.next.do == "Shorten stock.csv to what you would buy, then ask again."
    assert "look for" in large.plan.next.why
    assert "more than the 2 that can be compared" in large.plan.next.why
    assert not shopping(large, Wishes()).test_kit


def test_the_list_is_not_headed_to_buy_before_an_arrow_is_proven():
    said = CliRunner().invoke(cli, ["shop", "examples/heron_marsh"]).stdout
    assert "once one is proven" in said
    assert "  to buy " not in said


def test_no_shaft_of_a_material_leaves_the_band():
    words = ["choose", "examples/heron_marsh", "--material", "fibreglass"]
    said = " ".join(CliRunner().invoke(cli, words).stdout.split())
    assert "Spine that suits" in said
    assert "The stock has no shafts of fibreglass: add some" in said
