"""The one reader of the numbers in rules/: every key is read, and faults name file, line and field."""

import re

import pytest

from shaftwright import parameters as reader
from shaftwright.errors import InputError
from shaftwright.files.strict_yaml import load_yaml
from shaftwright.resources import rules_dir
from shaftwright.rules.sections import DiagnosisRules, EvidenceRules, Setup, ShoppingRules

BESIDE = {"plan": None, "matching": None, "setup": Setup, "diagnosis": DiagnosisRules,
          "evidence": EvidenceRules, "shopping": ShoppingRules}  # fmt: skip
GOOD = """format: 1
settings:
  fair_yd:
    value: 15
    low: 12
    high: 20
    why: "near"
    basis: recalled
    source: []
"""


@pytest.mark.parametrize("file", BESIDE)
def test_nothing_in_a_file_of_numbers_goes_unread(file):
    known = {"format", "topic", "settings"} | set(BESIDE[file].model_fields if BESIDE[file] else ())
    assert set(load_yaml(rules_dir() / f"{file}.yaml").data) <= known
    assert reader.parameters(file)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("value: 15", "value: 25", "own.yaml:4?.*settings.fair_yd: needs low <= value <= high"),
        ("value: 15", "valu: 15", "own.yaml:4: settings.fair_yd.valu: is not a known field"),
        ("basis: recalled", "basis: published", "needs a source"),
        (
            "basis: recalled",
            "basis: known",
            "own.yaml:8: settings.fair_yd.basis: 'known' is not allowed",
        ),
        ("format: 1", "format: 2", "own.yaml:1: format"),
    ],
)
def test_a_fault_names_file_line_and_field(tmp_path, monkeypatch, old, new, told):
    (tmp_path / "own.yaml").write_text(GOOD.replace(old, new), encoding="utf-8")
    monkeypatch.setattr(reader, "rules_dir", lambda: tmp_path)
    reader._document.cache_clear()
    with pytest.raises(InputError) as error:
        reader.parameters("own")
    reader._document.cache_clear()
    assert re.search(told, str(error.value)), error.value
