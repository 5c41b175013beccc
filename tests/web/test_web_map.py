"""Moving on the map: the figures are those of the commands, and the reasons add up."""

from __future__ import annotations

import math
import re
import shutil

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from web_kit import EXAMPLES, Reader, fill, open_page

from shaftwright.answers.build import one_build
from shaftwright.answers.choose.choose import choose
from shaftwright.answers.choose.map import differences, look, moved, nearest_index
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.web.answers import read_papers, work_out
from shaftwright.web.workbook import Workbook

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def answer(tmp_path_factory):
    return work_out(read_papers(Workbook(fill(tmp_path_factory.mktemp("book")))))


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    client, _ = open_page(fill(tmp_path_factory.mktemp("page")))
    client.get("/", headers={"x-part": "1"})
    return client


def test_the_best_build_is_the_one_that_choose_lists(answer):
    papers = answer.papers
    best = choose(scenario(papers.rig, None, papers.stock), papers.stock).listed[0]
    seen = answer.seen(0, None, None).listed
    for name in ("shaft", "point", "insert", "length_in", "front_gr", "total_gr", "gr_per_lb", "foc_pct",
                 "chance_match", "mismatch_gr"):  # fmt: skip
        assert getattr(seen, name) == pytest.approx(getattr(best, name)), name


def test_a_place_on_the_map_is_the_build_by_numbers(answer):
    seen = answer.seen(0, 30.0, 220.0)
    alone = one_build(answer.asked, seen.build, answer.papers.stock).listed
    for name in ("total_gr", "foc_pct", "chance_match", "mismatch_gr", "gr_per_lb"):
        assert getattr(seen.listed, name) == pytest.approx(getattr(alone, name)), name
    assert seen.listed.front_gr == pytest.approx(220)
    assert seen.listed.length_in == 30


def test_the_frame_is_never_left(answer):
    drawn = answer.map(0)
    low, high = answer.seen(0, -1e9, -1e9).listed, answer.seen(0, 1e9, 1e9).listed
    assert (low.length_in, low.front_gr) == (drawn.shortest_in, drawn.lowest_gr)
    assert (high.length_in, high.front_gr) == (drawn.full_in, drawn.highest_gr)


def test_the_nearest_build_by_brute_force(answer):
    ranking, listed = answer.choice.ranking, answer.choice.listed
    builds = ranking.builds
    rng = np.random.default_rng(1)
    for _ in range(50):
        length, front = rng.uniform(28, 33), rng.uniform(100, 300)
        place = int(rng.integers(len(listed)))
        found = nearest_index(answer.choice, listed[place].shaft_index, length, front)

        def off(i, length=length, front=front):
            return math.hypot(
                (builds.length_in[i] - length) / 0.25, (builds.front_gr[i] - front) / 12.5
            )

        mine = [i for i in range(len(builds)) if builds.shaft[i] == listed[place].shaft_index]
        assert off(found) == pytest.approx(min(off(i) for i in mine))


def test_more_front_acts_weaker_by_as_much_as_was_added(answer):
    before, after = (answer.seen(0, 30.0, front).build for front in (200.0, 220.0))
    told = differences(answer.asked, before, after)
    by_name = {d.name: d for d in told}
    assert by_name["front-mass"].saw == "20 gr more up front"
    assert by_name["front-mass"].as_front_gr == pytest.approx(20, rel=0.15)
    assert all(abs(d.as_front_gr) < 3 for d in told if d.name != "front-mass")


@pytest.mark.parametrize("longer", [0.5, -0.5])
def test_longer_acts_weaker_common_practice(answer, longer):
    # the trade: a longer shaft acts weaker (common practice, no source)
    before, after = (answer.seen(0, length, 200.0).build for length in (30.5, 30.5 + longer))
    told = {d.name: d for d in differences(answer.asked, before, after)}
    assert told["shaft-length"].saw == ("1/2 in longer" if longer > 0 else "1/2 in shorter")
    assert math.copysign(1, told["shaft-length"].as_front_gr) == math.copysign(1, longer)


def test_the_reasons_add_up_to_the_change(answer):
    # all differences together are the change of mismatch, told in grains by the slope at the end
    from shaftwright.answers.choose.rank import front_slope_lb_per_gr

    before, after = answer.seen(0, 29.5, 150.0), answer.seen(0, 31.0, 230.0)
    total = sum(d.as_front_gr for d in differences(answer.asked, before.build, after.build))
    own_lb = answer.asked.demand(after.build).own_lb
    slope = front_slope_lb_per_gr(after.build, own_lb, answer.asked.book)[0]
    change = before.listed.mismatch_lb.mid - after.listed.mismatch_lb.mid
    assert total == pytest.approx(change / slope, abs=2.0 * 3)


def test_the_same_build_differs_by_nothing(answer):
    build = answer.seen(0, 30.0, 200.0).build
    assert differences(answer.asked, build, build) == ()


def test_a_step_over_the_wire(client):
    first = client.get("/look?shaft=PLAIN-500&length=30&front=200").json()
    assert (first["length"], first["front"], first["shaft"]) == (30, 200, "PLAIN-500")
    page = Reader(first["html"])
    assert "PLAIN-500, 30 in, 200 gr up front" in page.words
    assert "Front of centre" in page.words
    lighter = client.get("/look?shaft=PLAIN-500&length=30&front=150&kept_shaft=PLAIN-500&kept_length=30"
                         "&kept_front=200").json()  # fmt: skip
    assert "50 gr less up front" in Reader(lighter["html"]).words
    assert "acts stiffer" in Reader(lighter["html"]).words


def test_whether_the_first_is_a_firm_one_is_told_in_plain_words(tmp_path):
    shutil.copytree(EXAMPLES / "heron_marsh", tmp_path / "bow")
    client, _ = open_page(tmp_path / "bow")
    client.get("/", headers={"x-part": "1"})
    told = client.get("/").text
    assert re.search(r"irst: .*counts a fifth more or less\.", told)


def test_a_measure_not_known_is_named_after_its_tick(client):
    told = client.get("/rig").text
    assert ">: By how much?</span>" in told
    assert "I do not know the" not in re.sub(r"<[^>]*>", "", told)


def test_names_keep_their_letters(client):
    there = {"shaft": "PLAIN-400", "length": "30", "front": "200", "kept_shaft": "PLAIN-500"}
    words = Reader(client.get("/look", params=there).json()["html"]).words
    assert "PLAIN-400 instead of PLAIN-500" in words
    assert "with P1" in words or "exactly this: P1" in words


def test_far_too_weak_is_never_told_to_be_shot(tmp_path):
    stock = load_stock(fill(tmp_path) / "stock.csv")
    asked = scenario(load_rig(tmp_path / "rig.yaml"))
    choice = choose(asked, stock)
    base = choice.ranking.builds.take([choice.listed[0].index])
    from dataclasses import replace

    weak = replace(moved(base, 32.0, 300.0), spine_mils=np.array([1100.0]))
    assert any(
        "not to be shot" in danger for danger in look(asked, weak, choice.candidates).dangers
    )


def test_the_map_never_shows_two_pound_figures_to_be_matched(client):
    # grains, inches and chances; "lb" only as grains for each pound, or as the marked group of wood
    words = Reader(client.get("/").text).words
    for at in (i for i in range(len(words)) if words.startswith(" lb", i)):
        assert words[at - 6 : at + 3].strip().endswith("gr/lb") or "wood" in words[at : at + 10]


@pytest.mark.slow
def test_without_a_stock_the_map_shows_usual_sizes(tmp_path):
    fill(tmp_path)
    (tmp_path / "stock.csv").unlink()
    client, _ = open_page(tmp_path)
    client.get("/", headers={"x-part": "1"})
    words = Reader(client.get("/").text).words
    assert "usual sizes" in words
    assert client.get("/look?length=30&front=200").status_code == 200


def test_a_stock_without_shafts_is_said_beside_the_band(tmp_path):
    fill(tmp_path)
    stock = tmp_path / "stock.csv"
    lines = stock.read_text(encoding="utf-8").splitlines()
    stock.write_text("\n".join([lines[0], *(line for line in lines if ",point," in line)]) + "\n")
    client, _ = open_page(tmp_path)
    words = Reader(client.get("/", headers={"x-part": "1"}).text).words
    assert "The stock has no shafts: add some of the spines that suit." in words
    assert "stiffest" in words


def test_an_empty_folder_begins(tmp_path):
    client, _ = open_page(tmp_path)
    for path in ("/", "/rig", "/stock", "/shots", "/list", "/files", "/shots/says"):
        assert client.get(path).status_code == 200
    assert client.get("/look").status_code == 409


@settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.sampled_from(["length", "front", "kept_length", "kept_front", "shaft", "kept_shaft"]),
    st.one_of(st.text(max_size=30), st.floats().map(str), st.sampled_from(["1e999", "-0", "nan", "inf", "0x1"])),
)  # fmt: skip
@pytest.mark.slow
def test_any_query_is_answered(client, name, value):
    query = {"shaft": "PLAIN-500", "length": "30", "front": "200", name: value}
    answer = client.get("/look", params=query)
    assert answer.status_code == 200
    found = answer.json()
    assert 28 <= found["length"] <= 33
    assert 0 < found["front"] < 700


def test_a_changed_file_is_noticed(tmp_path):
    client, _ = open_page(fill(tmp_path))
    before = client.get("/look").json()["revision"]
    text = (tmp_path / "rig.yaml").read_text().replace("lb: 47", "lb: 40")
    (tmp_path / "rig.yaml").write_text(text)
    after = client.get("/look").json()
    assert after["revision"] != before


def test_the_map_opens_on_the_arrow_of_the_next_thing_and_says_so(tmp_path):
    client, _ = open_page(fill(tmp_path, notebook=True))
    now = client.get("/files/choose.json").json()["next"]
    page = client.get("/", headers={"x-part": "1"}).text
    opened = dict(re.findall(r'data-(kept-shaft|shaft|kept-length|length)="([^"]+)"', page))
    assert opened["shaft"] == opened["kept-shaft"] == now["shaft"]
    assert float(opened["length"]) == float(opened["kept-length"]) == now["length_in"]
    words = Reader(page).words
    assert "This is the arrow of the next thing to do: " in words
    assert "you kept" not in words
    kept = client.get("/?kept_shaft=MARSH-400&kept_length=30&kept_front=150").text
    assert "Against the one you kept" in Reader(kept).words


def test_where_the_next_thing_names_no_arrow_the_map_opens_on_the_first_by_rank(tmp_path):
    fill(tmp_path)
    rig = tmp_path / "rig.yaml"
    rig.write_text(re.sub("brace_height: .*", "brace_height: unknown", rig.read_text()))
    client, _ = open_page(tmp_path)
    answer = client.get("/files/choose.json").json()
    assert answer["next"]["shaft"] is None
    page = client.get("/", headers={"x-part": "1"}).text
    assert "This is the best of the stock by rank: " in Reader(page).words
    assert f'data-kept-shaft="{answer["builds"][0]["shaft"]}"' in page
