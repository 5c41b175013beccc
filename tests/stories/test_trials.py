"""What trials of the product found about its advice, each as it was seen, through the command line."""

import re

import pytest
from click.testing import CliRunner
from story import End, Story, document, run
from story_rigs import MARKED, THREE_D, rig_of
from table_bow import is_kit
from table_proving import OWN, PROVEN

from shaftwright.cli.main import cli

M500 = "MARSH-500"
EMPTY = Story("nothing owned", {}, only=".*")


def shafts(items):
    return {b["item"] for b in items if re.match(r"(MARSH|SEDGE|SPRUCE)-", b["item"])}


@pytest.mark.parametrize("purpose", ["hunting", "three_d", "practice", "hunting_large_game"])
def test_6_a_kit_is_of_one_line_and_so_is_its_dozen(purpose, tmp_path):
    story = Story("kit", {}, rig=rig_of(purpose=purpose), only=".*")
    found = document("shop", story.write(tmp_path))
    assert is_kit(found["test_kit"])
    line = {s.split("-")[0] for s in shafts(found["test_kit"])}
    assert {s.split("-")[0] for s in shafts(found["list"])} == line


def test_6_the_kit_is_sold_at_the_price_it_is_said_to_cost(tmp_path):
    found = document("shop", EMPTY.write(tmp_path))
    prices = {line["item"]: line["price"] for line in found["test_kit"]}
    total = sum(prices.values())
    costs = re.search(r"(\d+\.\d\d)", found["next"]["do"])
    assert costs is None or float(costs[1]) == pytest.approx(total)


def test_7_choose_and_shop_name_the_same_shafts_and_point(tmp_path):
    folder = EMPTY.write(tmp_path)
    chosen, bought = document("choose", folder), document("shop", folder)
    assert chosen["next"] == bought["next"]
    buy = chosen["next"]["buy"]
    assert shafts(bought["test_kit"]) == shafts(buy)
    listed = {re.sub("-12$", "", b["shaft"]) for b in chosen["builds"]}
    assert {re.sub("-12$", "", shaft) for shaft in shafts(buy)} <= listed
    points = {b["item"] for b in buy if b["item"].startswith("P")}
    assert points <= {b["item"] for b in bought["test_kit"]}


@pytest.mark.parametrize(
    ("purpose", "low", "high"), [("hunting_large_game", 11, 14), ("hunting", 9, 11)]
)
def test_12_no_new_arrow_outside_the_purposes_range(purpose, low, high, tmp_path):
    # gr/lb of deer-size and large game: common practice, no source
    folder = EMPTY.write(tmp_path)
    found = document("choose", folder, "--purpose", purpose)
    listed = [b["gr_per_lb"] for b in found["builds"]]
    assert listed
    assert all(low - 0.05 <= each <= high + 0.05 for each in listed)


@pytest.mark.parametrize(
    ("given", "about"),
    [
        (["--shaft", M500, "--length", "34", "--reads", "weak"], "32"),
        (["--shaft", "HERON-500", "--length", "29.5", "--reads", "weak"], "HERON-500"),
    ],
)
def test_13_note_refuses_what_cannot_be(given, about, tmp_path):
    folder = Story("note", {}, owned={M500: 1}).write(tmp_path)
    before = (folder / "notebook.yaml").read_text()
    arguments = ["note", str(folder), "bareshaft", *given, "--point", "P175", "--distance", "20"]
    found = CliRunner().invoke(cli, arguments)
    assert found.exit_code == 2
    assert about in found.stderr
    assert (folder / "notebook.yaml").read_text() == before


def test_13_note_echoes_a_nock_on_the_other_side_than_the_word(tmp_path):
    folder = Story("note", {}, owned={M500: 1}).write(tmp_path)
    found = run("note", folder, "bareshaft", "--shaft", M500, "--length", "32", "--point", "P175",
                "--distance", "20", "--reads", "weak", "--nock-side", "right")  # fmt: skip
    assert re.search("stiff", found.stdout + found.stderr)
    assert re.search("nock", found.stdout + found.stderr)


def test_13_build_refuses_a_shaft_longer_than_it_is_sold(tmp_path):
    folder = EMPTY.write(tmp_path)
    found = CliRunner().invoke(
        cli, ["build", str(folder), "--shaft", M500, "--length", "34", "--point", "P175"]
    )
    assert found.exit_code in (1, 2)
    assert "32" in found.stderr


@pytest.mark.slow
def test_14_a_sweep_that_a_tuner_reads_at_a_glance(tmp_path):
    sweep = {7.25: (175.4, 87.2), 7.75: (176.2, 84.6), 8: (175.6, 84.1), 8.25: (174.3, 85.2)}
    entries = [
        {"kind": kind, "brace": f"{brace} in", **reading, "rig_state": {"brace": f"{brace} in"}}
        for brace, (fps, db) in sweep.items()
        for kind, reading in (("chrono", {"speed": f"{fps} fps", "arrow_mass": "435 gr"}),
                              ("sound", {"level": f"{db} dB", "weighting": "A", "response": "max"}))
    ]  # fmt: skip
    folder = Story("sweep", {}).write(tmp_path, entries=entries)
    text = run("brace", folder / "notebook.yaml").stdout
    assert "No best brace" not in text
    assert re.search("7 3/4", text)
    assert re.search(r"\b8\b", text)


@pytest.mark.slow
def test_3_every_face_of_a_weak_shaft_cut_twice_goes_on_with_it(tmp_path):
    ends = [End(M500, n, weak=w) for n, w in ((32, 10), (31.5, 8.5), (31, 8)) for _ in (0, 1)]
    folder = Story("cut twice", {}, ends, owned={M500: 1}).write(tmp_path)
    for face in ("choose", "bareshaft", "shop", "card"):
        text = run(face, folder).stdout
        assert M500 in text.split("\n\n")[0], text
        assert "proof arrow" not in text


@pytest.mark.slow
def test_5_it_ends(tmp_path):
    folder = Story("proven", {}, PROVEN, owned=OWN).write(tmp_path)
    for face in ("choose", "bareshaft", "shop", "card"):
        text = run(face, folder).stdout
        assert not re.search(r"(three|3) more|two proof|test kit", text), text


def test_7_what_next_buys_for_the_dozen_is_what_the_list_holds(tmp_path):
    found = document("shop", Story("proven", {}, PROVEN, owned=OWN).write(tmp_path))
    assert shafts(found["next"]["buy"]) <= {line["item"] for line in found["list"]}


def test_7_the_kit_of_a_marked_weight_is_named_everywhere(tmp_path):
    folder = Story("marked", {}, rig=MARKED).write(tmp_path)
    plan, bought = document("next", folder), document("shop", folder)
    assert plan["next"] == bought["next"]
    for shaft in shafts(bought["test_kit"]):
        assert shaft in plan["next"]["then"]


@pytest.mark.slow
def test_two_bows_of_one_list_each_keep_their_own_next_thing(tmp_path):
    one = EMPTY.write(tmp_path / "one")
    two = Story("light", {}, rig=THREE_D, only=".*").write(tmp_path / "two")
    text = " ".join(run("shop", one, two).stdout.split())
    for folder in (one, two):
        assert " ".join(document("next", folder)["next"]["do"].split()) in text
