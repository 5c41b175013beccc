"""Rules of one's own at the command line, in the public interface, on cards, in reports and on the page."""

import json
import re
from dataclasses import replace

import pytest
from click.testing import CliRunner
from own_kit import ALWAYS, CASES, SIZE, STEP, bow_with, folder_of
from starlette.testclient import TestClient

import shaftwright
from shaftwright.cli.main import cli
from shaftwright.web.app import create_app
from shaftwright.web.guard import Door

pytestmark = pytest.mark.slow

ADDRESS = "http://127.0.0.1:8417"
ARROW = {"shaft": "MARSH-500", "length": "30 in", "point": "P175", "insert": "I25"}
#: as the commands print them: tests/interface holds both to the same words
FACES = {
    "next": lambda bow: bow.next(), "choose": lambda bow: bow.choose(), "explain": lambda bow: bow.explain(),
    "bareshaft": lambda bow: bow.bareshaft(), "shop": lambda bow: bow.shop(), "card": lambda bow: bow.card(),
    "build": lambda bow: bow.build(ARROW), "flight": lambda bow: bow.flight(ARROW),
    "launch": lambda bow: bow.launch(ARROW, draws=4),
    "efficiency": lambda bow: replace(bow, notebook_file="examples/heron_marsh/masses.notebook.yaml").efficiency(),
}  # fmt: skip
RESTS = "Rests on your own: size of shaft-length, cold-days."


def run(*args):
    return CliRunner().invoke(cli, [str(a) for a in args])


@pytest.fixture(scope="module")
def mine(tmp_path_factory):
    return shaftwright.open(bow_with(tmp_path_factory.mktemp("own"), SIZE, ALWAYS))


@pytest.mark.parametrize("face", FACES)
@pytest.mark.slow
def test_every_answer_says_in_one_line_that_it_rests_on_ones_own(mine, face):
    found = FACES[face](mine)
    assert [line.strip() for line in str(found).splitlines() if "Rests on" in line] == [RESTS]
    told = found.to_dict()["own_rules"]
    assert [(one["rule"], one["name"], one["kind"]) for one in told] == [
        ("A03", "shaft-length", "size"), ("M03", "cold-days", "rule")
    ]  # fmt: skip
    assert all(re.fullmatch(r"rules/mine.yaml:\d+", one["place"]) for one in told)


@pytest.mark.parametrize("face", ["next", "choose", "card"])
@pytest.mark.slow
def test_an_answer_that_rests_on_none_says_nothing(face):
    assert "Rests on" not in run(face, "examples/heron_marsh").stdout
    assert "own_rules" not in run(face, "examples/heron_marsh", "--json").stdout


def test_many_names_stay_one_line(tmp_path):
    many = [
        ALWAYS | {"code": f"M{i:02d}", "name": f"something-quite-long-in-name-{i}"}
        for i in range(10, 19)
    ]
    said = run("next", bow_with(tmp_path, *many)).stdout
    (line,) = [line for line in said.splitlines() if "Rests on" in line]
    assert line.endswith("more.")
    assert max(map(len, said.splitlines())) <= 80


def test_the_trace_marks_what_is_ones_own(tmp_path):
    bow = bow_with(tmp_path, SIZE, ALWAYS)
    marked = {"A03": "size", "M03": "rule"}

    def own(node):
        found = {node["rule"]: node["own"]} if node.get("own") else {}
        for child in node["children"]:
            found |= own(child)
        return found

    for basis in ("both", "trade", "physics"):
        trace = json.loads(run("explain", bow, "--json", "--basis", basis).stdout)["trace"]
        assert own(trace["root"]) == marked
    text = " ".join(run("explain", bow).stdout.split())
    assert "you shoot in the cold (your own rule)" in text
    assert text.count("(your own size)") == 1
    full = " ".join(run("explain", bow, "--full").stdout.split())
    assert "(recalled, your own rule)" in full
    assert "(recalled, your own size)" in full


def test_a_size_of_ones_own_that_is_silent_is_marked_too(tmp_path):
    """The example's chronograph stands in for the string."""
    bow = bow_with(tmp_path, CASES)
    silent = json.loads(run("explain", bow, "--json").stdout)["trace"]["silent"]
    assert [s["rule"] for s in silent if "own" in s] == ["S01"]
    assert "string-material (your own size):" in " ".join(
        run("explain", bow, "--full").stdout.split()
    )


@pytest.mark.slow
def test_card_and_report_mark_what_is_ones_own(tmp_path):
    bow = bow_with(tmp_path, SIZE, ALWAYS)
    card, report = tmp_path / "card.html", tmp_path / "report.html"
    assert run("card", bow, "--html", card).exit_code == 0
    assert run("report", bow, "--html", report).exit_code == 0
    assert RESTS in card.read_text()
    page = report.read_text()
    assert RESTS in page
    assert "(recalled, your own rule" in page
    assert "shaft length (own)" in page


def test_the_whole_of_a_rule_of_ones_own(tmp_path):
    bow = bow_with(tmp_path, SIZE, ALWAYS)
    said = run("explain", bow, "--rule", "cold-days").stdout
    assert said.startswith("cold-days (M03, rules/mine.yaml:")
    assert "Your own rule; it stands as written." in said
    assert "+5 (3 to 8)" in run("explain", bow, "--rule", "A03").stdout
    assert json.loads(run("explain", bow, "--rule", "A03", "--json").stdout)["own"] == "size"
    assert run("explain", "examples/heron_marsh", "--rule", "cold-days").exit_code == 2


def test_the_list_has_them_and_says_so(tmp_path):
    bow = bow_with(tmp_path, SIZE, ALWAYS)
    said = run("rules", "list", bow).stdout
    assert said.count("your own") == 2
    rules = json.loads(run("rules", "list", bow, "--json").stdout)["rules"]
    assert {r["code"]: r["own"] for r in rules if "own" in r} == {"A03": "size", "M03": "rule"}
    assert "your own" not in run("rules", "list").stdout


def test_rules_from_a_named_folder_and_none_at_all(tmp_path):
    bow, other = bow_with(tmp_path, ALWAYS), folder_of(tmp_path / "other", STEP)
    named = json.loads(run("next", bow, "--rules", other, "--json").stdout)["own_rules"]
    assert [one["rule"] for one in named] == ["M02"]
    assert "own_rules" not in json.loads(run("next", bow, "--rules", "-", "--json").stdout)
    assert "rules" in run("next", bow).stdout.splitlines()[-1]


@pytest.mark.parametrize(
    "args",
    [
        ["next"],
        ["choose"],
        ["shop"],
        ["card"],
        ["note", "bow", "chrono"],
        ["explain", "--rule", "A03"],
    ],
)
def test_a_wrong_file_stops_every_answer_with_a_line_a_fault(tmp_path, args):
    bow = bow_with(tmp_path, ALWAYS, SIZE | {"basis": "guess"})
    if args[0] == "note":
        said = run("note", bow, "chrono", "--speed", "171 fps", "--arrow-mass", "505 gr")
        assert "noted" in said.stdout  # the reading is kept; that no answer can follow is told
        assert "rule A03: basis" in said.stderr
        return
    said = run(*args[:1], bow, *args[1:])
    assert said.exit_code == 2
    (line,) = said.stderr.strip().splitlines()
    assert re.search(
        r"rules/mine.yaml:\d+: rule A03: basis: 'guess' is not allowed; .*recalled", line
    )
    assert said.stdout == ""


def test_a_folder_that_is_not_there(tmp_path):
    said = run("next", "examples/heron_marsh", "--rules", tmp_path / "nowhere")
    assert said.exit_code == 2
    assert "shaftwright rules new" in said.stderr


def test_check_counts_what_it_ran(tmp_path, monkeypatch):
    bow = bow_with(tmp_path, SIZE, ALWAYS, STEP)
    said = run("rules", "check", bow)
    assert (said.exit_code, said.stdout) == (
        0,
        f"Your own, {bow}/rules: 2 rules, 1 size, 5 cases. No fault.\n",
    )
    found = json.loads(run("rules", "check", "--rules", bow / "rules", "--json").stdout)
    assert (found["rules"], found["sizes"], found["cases"], found["faults"]) == (2, 1, 5, [])
    monkeypatch.chdir(bow)
    assert "2 rules, 1 size" in run("rules", "check").stdout


def test_check_refuses_a_bow_without_and_still_knows_a_whole_set(tmp_path):
    assert run("rules", "check", "examples/heron_marsh").exit_code == 2
    assert re.match(r"\d+ rules, \d+ cases", run("rules", "check", "--rules", "rules").stdout)
    assert re.match(r"\d+ rules, \d+ cases", run("rules", "check").stdout)
    bad = folder_of(tmp_path, ALWAYS | {"saw": "a full stop."})
    said = run("rules", "check", "--rules", bad)
    assert said.exit_code == 2
    assert "leave the full stop away" in said.stderr


def test_new_writes_once_and_what_it_writes_can_be_used(tmp_path):
    bow = bow_with(tmp_path)
    said = run("rules", "new", bow)
    assert said.exit_code == 0
    there = bow / "rules" / "mine.yaml"
    assert str(there) in said.stdout
    assert "0 rules, 0 sizes" in run("rules", "check", bow).stdout
    text = there.read_text()
    assert "own_rules" not in json.loads(run("next", bow, "--json").stdout)
    there.write_text(text + "# mine\n")
    again = run("rules", "new", bow)
    assert again.exit_code == 2
    assert "is not overwritten" in again.stderr
    assert there.read_text() == text + "# mine\n"
    assert run("rules", "new", tmp_path / "nowhere").exit_code == 2


def test_the_public_interface_uses_them_and_hands_out_the_line(tmp_path):
    bow = shaftwright.open(bow_with(tmp_path, SIZE, ALWAYS))
    assert RESTS in str(bow.choose())
    assert bow.next().to_dict()["own_rules"][1]["rule"] == "M03"
    assert bow.what_if("string.material=polyester").own_rules.find("M03") is not None
    assert "own_rules" not in shaftwright.open(bow.path, rules_folder="-").next().to_dict()


def test_two_bows_of_one_list_each_by_its_own_rules(tmp_path):
    one, two = bow_with(tmp_path / "x", ALWAYS), bow_with(tmp_path / "y")
    said = run("shop", one, two)
    assert said.exit_code == 0
    assert "rules" in said.stdout.splitlines()[-2]
    assert "rules" not in said.stdout.splitlines()[-1].rpartition(":")[2]


@pytest.mark.slow
def test_the_page_reads_them_at_start_and_on_change(tmp_path):
    bow = bow_with(tmp_path, SIZE, ALWAYS)
    client = TestClient(create_app(bow, Door()), base_url=ADDRESS)

    def shown():
        return re.sub(r"\s+", " ", client.get("/next").text)

    assert RESTS in shown()
    folder_of(bow, SIZE)
    assert "Rests on your own: size of shaft-length." in shown()
    folder_of(bow, SIZE | {"basis": "guess"})
    assert "Rests on" not in shown()
    map_page = client.get("/")
    assert "rule A03: basis" in map_page.text
    assert "recalled" in map_page.text
    (bow / "rules" / "mine.yaml").unlink()
    assert "Rests on" not in shown()
    assert "rule A03" not in client.get("/").text
