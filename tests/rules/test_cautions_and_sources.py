"""The cautions say what the trade always says, hold no law as fact, and every source resolves."""

import csv
import re

import pytest

from shaftwright.files.strict_yaml import load_yaml
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.rules.facts import FACTS

CAUTIONS = load_yaml(rules_dir() / "cautions.yaml").data["cautions"]
SOURCES = load_yaml(rules_dir() / "bibliography.yaml").data["sources"]
FIELDS = ["code", "name", "severity", "when", "text", "why", "do", "basis", "source"]
OURS = [
    "usual_parts",
    "usual_shafts",
    "wood_diameters",
    "wood_masses",
    "tolerance_classes",
    "price_classes",
]


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda c: c["code"])
def test_caution_is_whole(caution):
    assert list(caution) == FIELDS
    assert caution["severity"] in ("info", "caution", "danger")
    assert caution["basis"] in ("published", "common_practice", "calculated", "fitted", "recalled")
    assert set(caution["source"]) <= set(SOURCES)
    assert bool(caution["source"]) == (caution["basis"] == "published")
    assert len(caution["text"]) < 140
    assert caution["text"].endswith(".")
    assert all("\n" not in caution[name] for name in ("text", "why", "do"))
    assert caution["when"] == "always" or all(
        isinstance(v, list) and v for v in caution["when"].values()
    )


@pytest.mark.parametrize(
    "caution", [c for c in CAUTIONS if c["when"] != "always"], ids=lambda c: c["code"]
)
def test_conditions_are_choices_of_the_closed_list(caution):
    materials = {"carbon", "aluminium", "wood", "fibreglass"}
    purposes = {"hunting", "hunting_large_game", "three_d", "target", "practice"}
    for name, values in caution["when"].items():
        known = {"shaft.material": materials, "purpose": purposes}.get(name)
        assert set(values) <= (known if known else set(FACTS[name].choices))


def test_codes_and_names_are_unique_and_in_order():
    codes = [c["code"] for c in CAUTIONS]
    assert codes == [f"C{n:02d}" for n in range(1, len(codes) + 1)]
    assert len({c["name"] for c in CAUTIONS}) == len(CAUTIONS)


@pytest.mark.parametrize(
    "word",
    ["mass", "too short|fall behind", "broadhead must stand clear", "Flex each carbon", "without an arrow",
     "low-stretch string only if the bow maker", "Bare shafts", "Cut carbon", "look it up"],
)  # fmt: skip
def test_the_cautions_that_are_always_there(word):
    """The list every teacher of the trade gives (common practice, no source)."""
    assert any(re.search(word, c["text"]) for c in CAUTIONS)


def test_law_is_looked_up_never_told():
    for caution in CAUTIONS:
        if caution["name"].startswith("look-up"):
            assert "look it up" in caution["text"]
            assert not re.search(
                r"\d+ ?(lb|gr|in|yd|years)\b", " ".join(caution[n] for n in ("text", "why", "do"))
            )


def test_sources_say_where_and_how_well_they_were_seen():
    for key, entry in SOURCES.items():
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key)
        assert list(entry) == ["title", "where", "seen"]
        assert entry["seen"] in ("quoted", "opening_only", "recalled")


def test_sources_name_no_web_address():
    """Authors, titles, years, journals and standards stay; addresses of pages and shops do not."""
    for entry in SOURCES.values():
        words = f"{entry['title']} {entry['where']}"
        assert not re.search(r"://|www\.|\b[\w-]+\.(?:com|org|net|io|info|co|uk|au|za|de)\b", words)


@pytest.mark.parametrize("name", OURS)
def test_every_row_of_a_table_says_where_it_comes_from(name):
    with (tables_dir() / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    assert rows
    for row in rows:
        assert None not in row
        assert row["basis"] in ("published", "common_practice", "calculated", "fitted", "recalled")
        keys = [key for key in row["source"].split(";") if key]
        assert set(keys) <= set(SOURCES)
        assert keys or row["basis"] != "published"
        for low, middle, high in (
            ("low", "mass_gr", "high"),
            ("gr_per_in_low", "gr_per_in", "gr_per_in_high"),
        ):
            if middle in row:
                assert float(row[low]) <= float(row[middle]) <= float(row[high])
