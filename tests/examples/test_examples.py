"""The invented scenario loads, is physically plausible, and tells one story."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.stock import COLUMNS, shaft_facts
from shaftwright.resources import table
from shaftwright.units import GRAIN_KG, INCH_M

EXAMPLES = Path(__file__).parents[2] / "examples"
SHOPS = {
    f: load_stock(EXAMPLES / f / "stock.csv") for f in ("heron_marsh", "long_fen", "reed_lark")
}
STOCK = SHOPS["heron_marsh"]
SHAFTS = STOCK.of_kind("shaft")
PARTS = [item for item in STOCK.items if item.kind != "shaft"]


def names(items):
    return [item.item for item in items]


def test_stock_is_a_shop():
    assert len(SHAFTS) >= 46
    assert len(PARTS) >= 34
    assert {item.material for item in SHAFTS} >= {"carbon", "aluminium", "wood"}
    assert all(item.price is not None and item.price > 0 for item in STOCK.items)
    assert {item.pack for item in SHAFTS} == {1, 6, 12}
    assert any(item.in_hand for item in SHAFTS)
    assert any(item.in_hand for item in PARTS)
    kinds = {item.kind for item in PARTS}
    assert kinds >= {"point", "broadhead", "adapter", "insert", "outsert", "collar", "nock", "fletching", "wrap",
                     "string", "sundry"}  # fmt: skip


def test_stock_header_is_the_contract():
    with (EXAMPLES / "heron_marsh/stock.csv").open(encoding="utf-8", newline="") as handle:
        assert next(csv.reader(handle)) == [*COLUMNS, "size_code", "line"]


@pytest.mark.parametrize("folder", ["long_fen", "reed_lark"])
def test_smaller_shops_sell_the_same_things_to_archers_who_own_little(folder):
    shop = SHOPS[folder]
    assert len(shop.items) < len(STOCK.items) / 2
    for item in shop.items:
        its_own = {"in_hand": 0, "price": 1.0, "pack": 1}
        same = STOCK.by_name[item.item].model_copy(update=its_own)
        assert item.model_copy(update=its_own) == same
        assert item.kind != "shaft" or item.pack == 1
    assert not any(item.in_hand for item in shop.of_kind("shaft"))
    sold = {item.material for item in shop.of_kind("shaft")}
    assert sold == ({"wood"} if folder == "long_fen" else {"carbon", "aluminium"})


@pytest.mark.parametrize("stock", list(SHOPS.values()), ids=list(SHOPS))
def test_a_line_is_of_one_material_and_one_bore_or_diameter(stock):
    """What a kit is cut from: neighbours that take the same parts."""
    lines = {item.line for item in stock.of_kind("shaft") if item.line}
    assert lines
    for line in lines:
        made = [item for item in stock.of_kind("shaft") if item.line == line]
        assert len({item.material for item in made}) == 1
        bores = {shaft_facts(item).inside_in or shaft_facts(item).outside_in for item in made}
        assert len(bores) == 1
        assert len({shaft_facts(item).spine_mils for item in made}) > 1


def test_singles_cost_more_each():
    for item in SHAFTS:
        if item.item.endswith("-12") and item.item[:-3] in STOCK.by_name:
            single = STOCK.by_name[item.item[:-3]]
            assert shaft_facts(single) == shaft_facts(item)
            assert item.price / item.pack < single.price / single.pack


@pytest.mark.parametrize("item", SHAFTS, ids=names(SHAFTS))
def test_shaft_could_be_made_of_its_material(item):
    """Density and Young's modulus from the row; ranges of engineering handbooks, recalled."""
    facts = shaft_facts(item)
    inside = facts.inside_in or 0.0
    area = math.pi / 4 * (facts.outside_in**2 - inside**2) * INCH_M**2
    second = math.pi / 64 * (facts.outside_in**4 - inside**4) * INCH_M**4
    density = facts.gr_per_in * GRAIN_KG / INCH_M / area
    # Centre-loaded beam, 28 in span, 1.94 lb (ASTM F2031): EI = 2.54618 / d.
    modulus = 2.54618 / (facts.spine_mils / 1000) / second / 1e9
    low, high, soft, stiff = {
        "carbon": (1450, 1700, 40, 140),
        "aluminium": (2650, 2850, 65, 75),
        "wood": (350, 700, 8, 18),
    }[item.material]
    assert low < density < high
    # a tube's printed spine is of its real wall, the size names only the nominal one: within its doubt
    doubt = facts.spine_sd_pct * 1.96 / 100 if item.size_code else 0
    assert soft < modulus * (1 + doubt)
    assert modulus * (1 - doubt) < stiff


@pytest.mark.parametrize(
    "item", [s for s in SHAFTS if s.material == "carbon"], ids=lambda i: i.item
)
def test_carbon_mass_is_usual(item):
    row = {int(r["spine_mils"]): r for r in table("usual_shafts")}[int(item.spine_mils)]
    assert float(row["gr_per_in_low"]) <= item.gr_per_in <= float(row["gr_per_in_high"])


def test_aluminium_leaves_its_spine_to_the_tube():
    tubes = [item for item in SHAFTS if item.material == "aluminium"]
    assert len(tubes) >= 6
    for item in tubes:
        assert item.size_code
        assert item.spine_mils is None
        assert item.gr_per_in is None
        outside = int(item.size_code[:2]) / 64
        assert item.outside_diameter_in == pytest.approx(outside, abs=1e-4)
        assert item.inside_diameter_in == pytest.approx(
            outside - 2 * int(item.size_code[2:]) / 1000, abs=2e-4
        )


def every_shaft():
    for folder, stock in SHOPS.items():
        for item in stock.of_kind("shaft"):
            yield pytest.param(stock, item, id=f"{folder}-{item.item}")


@pytest.mark.parametrize(("stock", "item"), list(every_shaft()))
def test_every_shaft_can_be_finished(stock, item):
    """A nock, and a point, fit it: bore within 0.003 in, outside within 0.010 in."""
    facts = shaft_facts(item)

    def fits(part):
        if part.material is not None and part.material != item.material:
            return False
        if part.inside_diameter_in is not None and (
            facts.inside_in is None or abs(part.inside_diameter_in - facts.inside_in) > 0.003
        ):
            return False
        return (
            part.outside_diameter_in is None
            or abs(part.outside_diameter_in - facts.outside_in) <= 0.010
        )

    kinds = ("point",) if item.material == "wood" else ("insert", "outsert")
    assert any(fits(part) for part in stock.of_kind("nock"))
    assert any(
        fits(part)
        for part in stock.of_kind(*kinds)
        if item.material != "wood" or part.material == "wood"
    )


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("heron_marsh/rig", "heron-marsh"),
        ("heron_marsh/before", "heron-marsh-before"),
        ("long_fen/rig", "long-fen"),
        ("reed_lark/rig", "reed-lark"),
    ],
)
def test_rig_loads(file, name):
    assert load_rig(EXAMPLES / f"{file}.yaml").name == name


def test_rigs_are_those_of_the_scenario():
    heron, before = (load_rig(EXAMPLES / "heron_marsh" / f"{n}.yaml") for n in ("rig", "before"))
    assert (heron.bow.draw_weight.lb, heron.bow.draw_weight.at) == (47, "own_draw")
    assert heron.archer == before.archer
    assert before.bow.draw_weight.lb > heron.bow.draw_weight.lb
    assert before.bow.limbs_id != heron.bow.limbs_id
    fen, lark = (load_rig(EXAMPLES / f"{n}/rig.yaml") for n in ("long_fen", "reed_lark"))
    assert (fen.bow.kind, fen.bow.draw_weight.lb, fen.bow.draw_weight.at) == ("longbow", 40, 28)
    assert (lark.archer.hand, lark.bow.draw_weight.lb, lark.purpose) == ("left", 36, "three_d")


def test_notebook_tells_one_story():
    book = load_notebook(EXAMPLES / "heron_marsh/notebook.yaml")
    heron = load_rig(EXAMPLES / "heron_marsh/rig.yaml")
    assert not book.faults
    kinds = [entry.kind for entry in book.entries]
    assert set(kinds) == {"bareshaft", "broadhead", "chrono", "sound", "brace", "weigh", "change"}
    assert kinds.count("change") == 1
    dates = [entry.date for entry in book.entries]
    assert dates == sorted(dates)
    change = book.entries[kinds.index("change")]
    assert change.rig_state.limbs_id == heron.bow.limbs_id
    assert change.rig_state.draw_weight == heron.bow.draw_weight
    braces = [entry for entry in book.entries if entry.kind == "brace"]
    assert braces[-1].brace_in == heron.bow.brace_height_in
    assert braces[-1].twists == heron.string.twists
    assert braces[-1].shots_on == heron.string.shots_on
    shots = [entry for entry in book.entries if entry.kind == "bareshaft"]
    assert any(entry.bare for entry in shots)
    assert any(entry.reads for entry in shots)
    for entry in shots:
        for name in ("shaft", "point", "insert", "nock", "fletching"):
            assert getattr(entry.build, name) in STOCK.by_name
    for string in "AB":
        groups = {e.stringing for e in book.entries if e.kind == "chrono" and e.string == string}
        assert len(groups) == 2


def test_weighed_arrows_are_their_parts():
    book = load_notebook(EXAMPLES / "heron_marsh/notebook.yaml")
    shaft = shaft_facts(STOCK.by_name["MARSH-500"])
    parts = sum(STOCK.by_name[name].mass_gr for name in ("P175", "I25", "N246", "F3x4"))
    weighed = [e.mass_gr for e in book.entries if e.kind == "weigh" and e.item.startswith("arrow")]
    assert np.mean(weighed) == pytest.approx(shaft.gr_per_in * 29.5 + parts, abs=4)


def test_brace_afternoon_loads():
    book = load_notebook(EXAMPLES / "heron_marsh/brace.notebook.yaml")
    assert not book.faults
    assert len({e.brace_in for e in book.entries if e.kind == "brace"}) == 5


def test_examples_carry_no_addresses():
    for path in EXAMPLES.rglob("*.*"):
        assert "http" not in path.read_text(encoding="utf-8")
