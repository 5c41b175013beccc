"""The linter: what it refuses, put into a copy of the shipped rule set; the shipped set has none of it."""

import csv
import re
import shutil

import pytest

from shaftwright.errors import InputError
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.rules.check import _quotes, check, note_faults, source_keys
from shaftwright.rules.load import rulebook
from shaftwright.rules.own import load_own

BOOK = rulebook()
NAMES = [rule.name for rule in BOOK.rules]
SIZE_OF_MINE = """format: 1
topic: mine
rules:
  - {{code: A03, name: shaft-length, value: 5, low: 3, high: 8, basis: recalled, note: "{note}"}}
"""


@pytest.fixture
def folders(tmp_path):
    for folder in (rules_dir(), tables_dir()):
        shutil.copytree(folder, tmp_path / folder.name)
    return tmp_path / "rules", tmp_path / "tables"


def refused(folders, file, old, new):
    """The faults once one thing is changed in one file."""
    path = next(p for folder in folders for p in [folder / file] if p.exists())
    text = path.read_bytes().decode()
    assert text.count(old) == 1
    path.write_bytes(text.replace(old, new).encode())
    with pytest.raises(InputError) as error:
        check(*folders)
    return [str(fault) for fault in error.value.faults]


def test_the_shipped_set_has_no_fault(folders):
    check(*folders)


def test_a_published_rule_whose_source_is_nowhere(folders):
    faults = refused(folders, "weight.yaml", "club-equipment-guide", "no-such-guide")
    assert any("rule W01" in f and "not a key of bibliography.yaml" in f for f in faults)


def test_an_entry_that_nothing_uses(folders):
    entry = 'sources:\n  idle-page: {title: "A page", where: "nowhere", seen: recalled}\n'
    (fault,) = refused(folders, "bibliography.yaml", "sources:\n", entry)
    assert re.search(r"bibliography.yaml:\d+: idle-page: is used by no rule and no table", fault)


@pytest.mark.parametrize(
    ("file", "old", "new", "says"),
    [
        ("price_classes.csv", "arrow-specs-article", "no-such-page", "needs keys"),
        ("price_classes.csv", "arrow-specs-article", "", "needs keys"),
        ("measuring.csv", "recalled,\"nist-handbook: section", "published,\"words alone", "needs keys"),
        ("sound.csv", "recalled,\"iec-61672-1: peak C\"", "published,iec-61672-1", "from memory"),
    ],
)  # fmt: skip
def test_a_published_row_without_a_source_that_was_seen(folders, file, old, new, says):
    faults = refused(folders, file, old, new)
    assert any(f"{file}:" in f and says in f for f in faults), faults


@pytest.mark.slow
@pytest.mark.parametrize(
    "quoted",
    [
        "A launch model gave 1.8 % for it.",
        "By front_mass.csv 7 % at 200 gr.",
        "Of string-mass 0.7 lb are in it.",
        "S02 says 0.7 lb.",
        "It was 0.7 lb.",  # nobody's
    ],
)
def test_a_note_that_quotes(folders, quoted):
    (*_, fault) = refused(folders, "string.yaml", "Best learned", f"{quoted} Best learned")
    assert "rule S04: note" in fault
    assert "is quoted from" in fault or "is not the rule's own" in fault


def test_a_row_with_a_comma_too_many(folders):
    (fault,) = refused(folders, "shaft_length.csv", "; straight lines", ", straight lines")
    assert re.search(r"shaft_length.csv:2: has not as many cells", fault)


@pytest.mark.parametrize("basis", ["hearsay", ""])
def test_a_row_that_does_not_say_what_it_rests_on(folders, basis):
    faults = refused(folders, "shaft_length.csv", "14,-8.564,calculated", f"14,-8.564,{basis}")
    assert any("shaft_length.csv:2: basis" in f and "is needed in every row" in f for f in faults)


def test_a_row_that_quotes_another_table(folders):
    (fault,) = refused(folders, "shaft_doubt.csv", "has the doubt of materials.csv", "has 7 % of materials.csv")  # fmt: skip
    assert re.search(r"shaft_doubt.csv:\d+: note: 7 is quoted from materials.csv", fault)


@pytest.mark.parametrize(
    "note",
    [
        "The trade says 0.7 lb.",
        "So 2 lb at 1/2 in.",
        "See string-mass and rig_usual.csv.",
        "Of string-mass nothing is in these 2 lb.",
        "",
    ],
)
def test_a_note_that_keeps_to_its_rule(note):
    rule = BOOK.find("S04").model_copy(update={"note": note})
    assert note_faults(rule, NAMES) == []


def test_pounds_of_a_percent_rule_are_its_own_only_on_the_bow_they_are_told_for():
    """A tenth of a 50 lb bow is 5 lb, a fifteenth of it is not."""
    rule = BOOK.find("A03")
    for text, good in (("5 lb on about 50 lb.", True), ("4 lb on about 50 lb.", False), ("5 lb.", False)):  # fmt: skip
        assert (not note_faults(rule.model_copy(update={"note": text}))) is good


def test_a_size_of_ones_own_may_tell_its_story_but_quotes_nothing(tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text(SIZE_OF_MINE.format(note="Twelve shafts, 40 ends, in 2025."))
    assert load_own(tmp_path).rules
    path.write_text(SIZE_OF_MINE.format(note="The launch model gave 4.4 %."))
    with pytest.raises(InputError, match=r"rule A03: note: 4\.4 is quoted from launch model"):
        load_own(tmp_path)


def test_keys_stand_before_the_words_of_a_row():
    assert source_keys("ortiz-2020;hickman-1947: 1.56 seen") == {"ortiz-2020", "hickman-1947"}
    assert source_keys("makers claim better than 99.5 %; 1/16 in") == set()


def test_no_bow_of_ones_own_stands_in_a_table():
    """Figures of one single bow are no usual ones: neither a draw to the quarter inch nor its speeds."""
    for name in ("energy_per_lb", "virtual_mass"):
        with (tables_dir() / f"{name}.csv").open(newline="") as handle:
            rows = [r for r in csv.DictReader(handle) if r["limbs"] == "deep_curve"]
        assert not [r for r in rows if re.search(r"\d 1/4 in|50[35] gr|203", r["source"])]


def test_a_table_may_say_its_own_number_beside_another_tables_name():
    row = {"mass_gr": "12", "note": "As usual_parts.csv has 12 gr and 13 gr."}
    assert [told for told in _quotes(row) if "12" in told.partition(" is quoted")[0]] == []
    assert len([told for told in _quotes(row) if "13" in told.partition(" is quoted")[0]]) == 1
