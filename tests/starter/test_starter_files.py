"""The files that a new user begins with load as they stand, and so does every line they offer."""

import re
from importlib.resources import files
from typing import get_args

import pytest

from shaftwright.files.notebook import parse_notebook
from shaftwright.files.rig import rig_from
from shaftwright.files.stock import load_stock
from shaftwright.files.strict_yaml import parse_yaml
from shaftwright.records.rig import (
    Archer,
    Bow,
    BowKind,
    BowString,
    Cut,
    Hand,
    Limbs,
    PlateMaterial,
    Purpose,
    Release,
    Rest,
    Rig,
    StringMaterial,
)

STARTER = files("shaftwright") / "starter"


def text(name):
    return (STARTER / name).read_text(encoding="utf-8")


def test_rig_loads_as_it_stands():
    rig = rig_from(parse_yaml(text("rig.yaml"), "rig.yaml"))
    assert rig.bow.brace_height_in == "unknown"
    assert rig.string.material == "unknown"


def test_rig_loads_with_every_offered_line_switched_on():
    full = re.sub(r"^  # (?=[a-z_]+: )", "  ", text("rig.yaml"), flags=re.MULTILINE)
    assert full != text("rig.yaml")
    rig = rig_from(parse_yaml(full, "rig.yaml"))
    assert rig.bow.maker_minimum_gr_per_lb == 8
    assert rig.string.twists == 20
    assert rig.bow.plunger.out_in == 1 / 16
    metric = full.replace("# units: metric", "units: metric")
    no_scale = metric.replace("{lb: 45, at: 28 in}\n\n", "{lb: 45, at: 28 in, no_scale: true}\n\n")
    rig = rig_from(parse_yaml(no_scale, "rig.yaml"))
    assert rig.units == "metric"
    assert rig.bow.draw_weight.no_scale


@pytest.mark.parametrize("model", [Rig, Archer, Bow, BowString])
def test_every_field_of_the_rig_is_explained(model):
    for name, info in model.model_fields.items():
        if name != "launch":
            assert re.search(
                rf"\b{info.alias or name}: ", text("rig.yaml")
            ) or f"{info.alias or name}:\n" in text("rig.yaml")


def test_every_choice_is_offered():
    choices = {
        word
        for alias in (
            Hand,
            Release,
            BowKind,
            Limbs,
            Cut,
            Rest,
            PlateMaterial,
            StringMaterial,
            Purpose,
        )
        for word in get_args(alias)
    }
    assert "unknown" in choices
    for word in choices:
        assert re.search(rf"\b{word}\b", text("rig.yaml")), word


def test_notebook_begins_empty_and_its_samples_are_entries():
    assert parse_notebook(text("notebook.yaml"), "notebook.yaml").entries == ()
    samples = "\n".join(
        line[2:]
        for line in text("notebook.yaml").splitlines()
        if re.match(r"# (- |  [a-z_]+: )", line)
    )
    book = parse_notebook(samples, "samples")
    assert not book.faults
    assert {entry.kind for entry in book.entries} == {
        "bareshaft", "chrono", "sound", "brace", "weigh", "broadhead", "change",
    }  # fmt: skip


def test_stock_loads_and_is_small_and_usable(tmp_path):
    path = tmp_path / "stock.csv"
    path.write_text(text("stock.csv"), encoding="utf-8")
    stock = load_stock(path)
    shafts = stock.of_kind("shaft")
    assert 10 <= len(shafts) <= 14
    assert 18 <= len(stock.items) - len(shafts) <= 26
    assert {item.material for item in shafts} == {"carbon", "aluminium", "wood"}
    assert all(item.price for item in stock.items)
    named = set(
        re.findall(r"(?:shaft|point|insert|broadhead): ([A-Z0-9-]+)", text("notebook.yaml"))
    )
    assert named
    assert named <= set(stock.by_name)
