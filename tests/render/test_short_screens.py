"""The screens of choose, build, explain, launch, flight and efficiency: short, narrow, the next thing first."""

import json
import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.cli.main import cli

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
BOWS = ["heron_marsh", "long_fen", "reed_lark"]
#: lines a screen may have on the examples, a blank one and the files it rests on counted
LONGEST = {"choose": 30, "build": 20, "explain": 40, "launch": 25}
#: an arrow of each example's own stock
ARROWS = {
    "heron_marsh": {"shaft": "MARSH-500", "length": "30 in", "point": "P175", "insert": "I25"},
    "long_fen": {"shaft": "SPRUCE-516-35", "length": "29 3/4 in", "point": "PW-516-100"},
    "reed_lark": {"shaft": "TERN-700", "length": "30 in", "point": "P100", "insert": "I25"},
}
NUMBERS = {"spine": 500, "gr_per_in": 8, "length": 30, "front": 200}
#: words of the workshop, which no screen of an archer has; a rule's name may hold one behind a hyphen
WORKSHOP = [
    r"(?<!-)\bbuilds?\b", r"\bpieces?\b", r"\bfront mass\b", r"(?<![-_])\bmass(es)?\b",
    r"\bcan be tuned\b", r"middle at the short", r"some cut of it", r"(?<!-)\bmatch(es|ed)?\b",
    r"\brobust", r"mass is missing", r"height first", r"removes up to", r"\btold\b", r"\breckon",
    r"\bperils?\b", r"\btaught\b", r"\bunread\b", r"\bactual\b", r"\brequired?\b",
]  # fmt: skip
#: what only `--full` may say
FIGURES = [r"\brings at\b", r"\bbuckles\b", r"\bslug\b", r"\bof 1:", r"rad/s"]


@cache
def bow_of(name, stock, notebook):
    """With and without the stock and the notebook of a folder."""
    return shaftwright.open(
        EXAMPLES / name,
        stock_files=() if stock else ("-",),
        notebook_file=None if notebook else "-",
    )


@cache
def answer(command, name, stock=True, notebook=True):
    """As the command prints it (tests/interface), worked out once for all its screens."""
    ask = getattr(bow_of(name, stock, notebook), command)
    if command in ("choose", "explain"):
        return ask()
    arrow = ARROWS[name] if stock else NUMBERS
    return ask(arrow, draws=4) if command == "launch" else ask(arrow)


def screen(*args):
    result = CliRunner().invoke(cli, [str(a) for a in args])
    assert result.exit_code == 0, (args, result.output, result.exception)
    return result.stdout


CASES = [
    (command, bow, stock, notebook)
    for command in ("choose", "build", "explain", "launch", "flight")
    for bow in BOWS
    for stock in (True, False)
    for notebook in (True, False)
    if notebook or bow == "heron_marsh"  # the others have none
    if command != "launch" or (stock and notebook and bow != "reed_lark")  # the dearest
]
EFFICIENCY = ["efficiency", EXAMPLES / "heron_marsh", "--notebook",
              EXAMPLES / "heron_marsh" / "masses.notebook.yaml"]  # fmt: skip


def fit_to_read(text, next_thing, longest=None):
    """Opens with the next thing, in 80 columns, without a word of the workshop or a figure of `--full`."""
    lines = text.splitlines()
    assert longest is None or len(lines) + 2 <= longest, text
    assert max(map(len, lines)) <= 80
    assert text.split("\n\n")[0].split() == next_thing.split()
    slipped = [word for word in [*WORKSHOP, *FIGURES] if re.search(word, prose(text), re.I)]
    assert not slipped, (slipped, text)
    assert "All cautions: shaftwright explain --cautions" in text
    assert len(re.findall(r"^  ! ", text, re.M)) <= 4, text


def prose(text):
    """A screen without what is to be typed."""
    return re.sub(r"shaftwright [^;\n]*|--[a-z-]+", "", text)


@pytest.mark.parametrize(("command", "bow", "stock", "notebook"), CASES, ids=str)
@pytest.mark.slow
def test_screen_is_short_and_in_an_archers_english(command, bow, stock, notebook):
    told = answer(command, bow, stock, notebook)
    fit_to_read(str(told), told.to_dict()["next"]["do"], LONGEST.get(command))


def test_efficiency_is_in_an_archers_english():
    found = json.loads(screen(*EFFICIENCY, "--json"))
    fit_to_read(screen(*EFFICIENCY), found["next"]["do"])


@pytest.mark.parametrize("command", ["choose", "build", "explain", "launch", "flight"])
@pytest.mark.slow
def test_full_has_more_and_no_words_of_the_workshop(command):
    told = answer(command, "heron_marsh")
    short, full = str(told), told.full()
    assert len(full.splitlines()) > len(short.splitlines())
    assert max(map(len, full.splitlines())) <= 80
    assert full.split("\n\n")[0] == short.split("\n\n")[0]
    slipped = [word for word in WORKSHOP if re.search(word, prose(full), re.I)]
    assert not slipped, (slipped, full)


def test_the_figures_that_short_keeps_back_stand_in_full():
    build = answer("build", "heron_marsh").full()
    for words in ("rings at", "buckles", "slug ft/s"):
        assert words in build
    assert "of 1:" in answer("choose", "heron_marsh", notebook=False).full()


def test_figures_are_rounded_as_an_archer_sets_them():
    text = str(answer("choose", "heron_marsh"))
    rows = re.findall(r"^  (\S+(?: \*)?)  +([\d/ ]+?)  +(\d+) gr  +(\d+) gr", text, re.M)
    assert len(rows) >= 4
    for _, length, front, weight in rows:
        assert re.fullmatch(r"\d+( (1/8|1/4|3/8|1/2|5/8|3/4|7/8))?", length), length
        assert int(front) % 5 == int(weight) % 5 == 0
    spines = re.findall(r"(?:cut to|full length).*?(\d+) +(\d+) +(\d+)$", text, re.M)
    assert len(spines) >= 2
    assert all(int(spine) % 5 == 0 for row in spines for spine in row)


def test_wood_is_named_in_pounds_as_it_is_sold():
    text = screen("choose", EXAMPLES / "long_fen", "--material", "wood")
    assert len(re.findall(r"\d+ lb +\d+ lb +\d+ lb$", text, re.M)) == 2
    answer = json.loads(screen("choose", EXAMPLES / "long_fen", "--material", "wood", "--json"))
    pounds = int(re.search(r"cut to .* (\d+) lb +\d+ lb +\d+ lb", text)[1])
    # the trade's definition: 26 / (deflection of 26 in under 2 lb), the same bar bends (28/26)^3 x 1.94 / 2
    deflection_in = answer["spine_band_mils"]["mid"] / 1000 * (26 / 28) ** 3 * 2 / 1.94
    assert pounds == pytest.approx(26 / deflection_in, abs=0.6)


def test_a_wooden_arrow_is_named_by_its_pounds():
    arrow = ["--shaft", "SPRUCE-516-35", "--length", "28 in", "--point", "PW-516-100"]
    said = " ".join(screen("build", EXAMPLES / "long_fen", *arrow).split())
    assert "SPRUCE-516-35, spine 37.5 lb, 28 in" in said
    full = " ".join(screen("choose", EXAMPLES / "long_fen", "--material", "wood", "--full").split())
    assert re.search(
        r"Best spine cut to [^.]*0\.5 in longer: \d\d lb; 0\.5 in shorter: \d\d lb;", full
    )


def test_the_list_of_words_finds_them():
    for word in (
        "the build",
        "two pieces",
        "front mass",
        "chance of a match",
        "25 required",
        "as told",
    ):
        assert any(re.search(pattern, prose(word)) for pattern in WORKSHOP), word
    assert not any(re.search(p, prose("shaftwright build X; front-mass")) for p in WORKSHOP)
