"""Every number of a trace is done again from its children: as nodes, and from the JSON alone."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from core_rigs import changed, rigs, some_builds
from hypothesis import given, settings
from scipy import stats

from shaftwright.answers.choose.choose import choose
from shaftwright.answers.scenario import scenario
from shaftwright.errors import NoAnswer
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.belief import prior_belief
from shaftwright.inference.demand import demand_of
from shaftwright.inference.trace import spine_node, spine_trace
from shaftwright.records.notebook import Chrono
from shaftwright.resources import table
from shaftwright.rules.sizes import shipped

BOOK = shipped()
BELIEF = prior_belief(BOOK)
OPS = {"sum", "product", "min", "max", "lookup", "model", "input"}


def nodes_of(plain):
    yield plain
    for child in plain["children"]:
        yield from nodes_of(child)


def again(node):
    """A node's value from its children, by this test's own arithmetic on the plain JSON."""
    v = [child["value"] for child in node["children"]]
    op, model = node["op"], node.get("model")
    if op == "input":
        return node["value"]
    if op in ("sum", "product", "min", "max"):
        return {"sum": math.fsum, "product": math.prod, "min": min, "max": max}[op](v)
    if op == "lookup":
        name, x, y = model.split(":")
        rows = table(name)
        xs, ys = ([float(row[c]) for row in rows] for c in (x, y))
        if v[0] > xs[-1]:
            return ys[-1] + (v[0] - xs[-1]) * (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
        if v[0] < xs[0]:
            return ys[0] + (v[0] - xs[0]) * (ys[1] - ys[0]) / (xs[1] - xs[0])
        return float(np.interp(v[0], xs, ys))
    if model == "quotient":
        return v[0] / v[1]
    if model == "spine_from_stiffness":
        return 1000 * 26 / ((2 / 1.94) * (26 / 28) ** 3) / v[0]
    assert model == "split_normal_mean", node
    value, low, high = v
    return value + math.sqrt(2 / math.pi) * ((high - value) - (value - low)) / 1.96


def _every_node(rig, builds, book=BOOK):
    means = demand_of(rig, builds, book).mean
    for index, mean in enumerate(means):
        demand = demand_of(rig, builds.take(slice(index, index + 1)), book)
        plain = json.loads(json.dumps(spine_node(demand, book, None).as_dict()))
        for node in nodes_of(plain):
            assert again(node) == pytest.approx(node["value"], rel=1e-9, abs=1e-9), node["label"]
        assert plain["children"][0]["value"] == pytest.approx(mean, rel=1e-12)
        fired = {f.rule.code for f in demand.firings}
        assert {n["rule"] for n in nodes_of(plain) if "rule" in n} == fired


@settings(max_examples=30, deadline=None)
@given(rigs(shortest_draw=25), some_builds(size=2))
@pytest.mark.slow
def test_every_node_recomputes(rig, builds):
    _every_node(rig, builds)


@pytest.mark.parametrize("basis", ["trade", "physics"])
@settings(max_examples=15, deadline=None)
@given(rig=rigs(shortest_draw=25), builds=some_builds(size=2))
@pytest.mark.slow
def test_every_node_recomputes_on_one_leg_alone(basis, rig, builds):
    _every_node(rig, builds, shipped(basis))


def test_the_trace_says_that_trade_and_model_are_joined():
    asked = scenario(changed())
    demand = demand_of(changed(), asked.reference_build(), BOOK)
    node = next(n for n in nodes_of(spine_trace(demand, BOOK)["root"]) if n.get("rule") == "A01")
    assert node["sizes"] == "both"
    way = next(n for n in node["children"] if n["label"] == "the way from there")
    size, used = way["children"][0], BOOK.sizes["A01", ""].used
    assert "joined" in size["label"]
    assert (size["low"], size["high"]) == (used.low, used.high)
    alone = spine_trace(demand_of(changed(), asked.reference_build(), shipped("trade")),
                        shipped("trade"))  # fmt: skip
    assert alone["basis"] == "trade"
    told = next(n for n in nodes_of(alone["root"]) if n.get("rule") == "A01")
    assert told["sizes"] == "trade"
    size = next(n for n in told["children"] if n["label"] == "the way from there")["children"][0]
    assert (size["low"], size["high"]) == (0.55, 1.45)


@settings(max_examples=20, deadline=None)
@given(rigs(), some_builds(size=1))
def test_every_rule_is_told_as_fired_or_silent_with_what_was_found_and_what_it_needs(rig, builds):
    trace = spine_trace(demand_of(rig, builds, BOOK), BOOK)
    assert trace["trace_format"] == 1
    fired = [n["rule"] for n in nodes_of(trace["root"]) if "rule" in n]
    silent = [s["rule"] for s in trace["silent"]]
    assert sorted(fired + silent) == sorted(rule.code for rule in BOOK.rules)
    for told in trace["silent"]:
        assert told["found"]
        assert told["needs"]
        assert told["found"] != told["needs"]
        assert told["name"] == BOOK.find(told["rule"]).name


def test_nodes_have_the_promised_keys():
    trace = spine_trace(demand_of(changed(), scenario(changed()).reference_build(), BOOK), BOOK)
    for node in nodes_of(trace["root"]):
        assert {"label", "op", "value", "unit", "children"} <= set(node)
        assert node["op"] in OPS
        assert len(node["label"]) < 140
        assert (node["op"] == "input") == (not node["children"])
        if "rule" in node:
            assert {"reason", "basis", "source"} <= set(node)


@pytest.mark.slow
@settings(max_examples=15, deadline=None)
@given(rigs())
def test_the_trace_ends_in_the_answer(rig):
    try:
        choice = choose(scenario(rig))
    except NoAnswer:
        return
    root = choice.trace["root"]
    assert root["value"] == pytest.approx(choice.band.mid, rel=1e-12)
    assert root["children"][0]["value"] == pytest.approx(choice.effective.mid, rel=1e-12)


def test_size_of_an_effect_is_the_mean_of_its_split_normal_by_scipy():
    # low-stretch string, 1.2 % (0.4 to 3.2): mean by quadrature of two half normals
    trace = spine_trace(
        demand_of(
            changed(string__material="low_stretch"), scenario(changed()).reference_build(), BOOK
        ),
        BOOK,
    )
    node = next(n for n in nodes_of(trace["root"]) if n.get("rule") == "S01")
    size = node["children"][0]["value"]
    below, above = 0.8 / 1.96, 2 / 1.96
    halves = stats.halfnorm(scale=above).mean() * above / (below + above) - stats.halfnorm(
        scale=below
    ).mean() * below / (below + above)
    assert size == pytest.approx(1.2 + halves, rel=1e-9)


@pytest.mark.parametrize("with_shots", [False, True])
def test_every_node_recomputes_after_chronograph_and_shots(with_shots):
    """What the notebook taught is in the tree too, and the tree still adds up."""
    stock = load_stock("examples/heron_marsh/stock.csv")
    notebook = load_notebook("examples/heron_marsh/notebook.yaml")
    kept = [(e, n) for e, n in zip(notebook.entries, notebook.lines, strict=True)
            if with_shots or isinstance(e, Chrono)]  # fmt: skip
    entries, lines = zip(*kept, strict=True)
    asked = scenario(load_rig("examples/heron_marsh/rig.yaml"), None, stock, entries, lines)
    assert asked.belief.learned is with_shots
    choice = choose(asked)
    nodes = list(nodes_of(choice.trace["root"]))
    for node in nodes:
        assert again(node) == pytest.approx(node["value"], rel=1e-9, abs=1e-9), node["label"]
    assert choice.trace["root"]["children"][0]["value"] == pytest.approx(
        choice.effective.mid, rel=1e-9
    )
    assert {n["rule"] for n in nodes if "rule" in n} & {"L03", "L04"}, "the chronograph speaks"
    assert any("your own shots" in n["label"] for n in nodes) is with_shots


def test_a_rules_range_is_told_in_pounds_of_this_build_by_hand():
    # trade alone: 150 gr against 125, which is usual at 36 lb, is 5.4 % of the table, times 0.55 to 1.45, of 36 lb
    book, rig = shipped("trade"), load_rig(Path("examples/reed_lark/rig.yaml"))
    build = scenario(rig).reference_build(front_gr=150.0)
    trace = spine_trace(demand_of(rig, build, book), book)
    node = next(n for n in nodes_of(trace["root"]) if n.get("rule") == "A01")
    assert node["low"] == pytest.approx(0.55 * 0.054 * 36)
    assert node["high"] == pytest.approx(1.45 * 0.054 * 36)
    # at 50 lb 200 gr are usual: 14 % are known, and the way from there is in doubt
    heavy = rig.model_copy(update={"bow": rig.bow.model_copy(update={"draw_weight": rig.bow.draw_weight.model_copy(update={"lb": 50.0})})})  # fmt: skip
    trace = spine_trace(demand_of(heavy, build, book), book)
    node = next(n for n in nodes_of(trace["root"]) if n.get("rule") == "A01")
    assert node["low"] == pytest.approx(7 - 1.45 * 4.3)
    assert node["high"] == pytest.approx(7 - 0.55 * 4.3)
    assert node["value"] == pytest.approx(2.7)
    plate = next(n for n in nodes_of(trace["root"]) if n.get("rule") == "P01")
    assert plate["low"] <= plate["value"] <= plate["high"]  # a negative amount turns the ends round
