"""The list on the page is that of `shop`, at once, for as many arrows and as much money as asked."""

from __future__ import annotations

import re

import pytest
from web_kit import Reader, fill, open_page, stock_text

from shaftwright.answers.scenario import scenario
from shaftwright.answers.shop.shopping import Wishes, shopping
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.render.screens.shop import csv_text

pytestmark = pytest.mark.slow


def opened(folder):
    client, _ = open_page(folder)
    client.get("/list", headers={"x-part": "1"})
    return client


@pytest.mark.slow
@pytest.mark.parametrize("arrows", [0, 12, 30])
def test_the_list_is_that_of_shop(tmp_path, arrows):
    client = opened(fill(tmp_path))
    asked = scenario(load_rig(tmp_path / "rig.yaml"), stock=load_stock(tmp_path / "stock.csv"))
    expected = shopping(asked, Wishes(arrows=arrows))
    query = f"?arrows={arrows}&budget="
    answer = client.get(f"/files/list.json{query}").json()
    assert answer["total_price"] == expected.to_dict()["total_price"]
    assert [r["item"] for r in answer["test_kit"]] == [line.item for line in expected.test_kit]
    assert client.get(f"/files/list.csv{query}").content.decode() == csv_text(expected)
    page = client.get(f"/list{query}").text
    words = Reader(page).words
    for line in (*expected.test_kit, *expected.lines):
        assert line.item in words
        assert " ".join(line.why.split()) in words
    assert f"/files/list.csv?arrows={arrows}&amp;budget=" in page


def test_a_dozen_is_asked_where_nothing_is(tmp_path):
    client = opened(fill(tmp_path))
    assert client.get("/list").text == client.get("/list?arrows=12&budget=").text
    assert "Test kit" in Reader(client.get("/list").text).words
    assert client.get("/files/list.csv").text.startswith("part,item")
    assert client.get("/files/list.json").json()["format"] == 2


def test_what_is_ticked_of_the_kit_is_not_ticked_of_the_dozen(tmp_path):
    """Ticks are kept by what is to be bought for what: six points for the kit are not the dozen's."""
    ticks = re.findall(r'data-tick="([^"]+)"', opened(fill(tmp_path)).get("/list").text)
    assert len(ticks) == len(set(ticks)) > 5
    items = [tick.split(" x ")[1] for tick in ticks]
    assert len(set(items)) < len(items)  # some are in both
    assert {tick.split(":")[0] for tick in ticks} == {"Test kit", "Final list"}


def test_no_answer_is_told_with_its_reason(tmp_path):
    client = opened(fill(tmp_path, stock=stock_text().replace("I25,insert", "I25,sundry")))
    answer = client.get("/list?arrows=12&budget=1")
    assert answer.status_code == 200
    assert "There is no list" in Reader(answer.text).words
    assert "budget" in Reader(answer.text).words
    assert client.get("/files/list.csv?arrows=12&budget=1").status_code == 404


def test_the_list_follows_the_folder(tmp_path):
    client = opened(fill(tmp_path))
    before = client.get("/files/list.json").json()
    (tmp_path / "stock.csv").write_text(stock_text("OTHER-500"))
    after = client.get("/files/list.json").json()
    assert "OTHER-500" in str(after["test_kit"])
    assert "OTHER-500" not in str(before)


def test_without_a_stock_it_says_what_it_needs(tmp_path):
    (fill(tmp_path) / "stock.csv").unlink()
    client = opened(tmp_path)
    assert "A list needs a stock" in Reader(client.get("/list").text).words
    assert client.get("/files/list.csv").status_code == 404


@pytest.mark.parametrize(
    "arrows", ["", "-1", "145", "twelve", "1e2", "\N{SUPERSCRIPT TWO}", "9" * 400]
)
def test_odd_numbers_of_arrows_are_refused(tmp_path, arrows):
    client, _ = open_page(fill(tmp_path))
    answer = client.get("/list", params={"arrows": arrows, "budget": ""})
    assert answer.status_code == 422
    assert "a whole number from 0" in Reader(answer.text).words


@pytest.mark.parametrize("budget", ["-1", "nan", "inf", "much", "1e99"])
def test_odd_budgets_are_refused(tmp_path, budget):
    client, _ = open_page(fill(tmp_path))
    answer = client.get("/list", params={"arrows": "12", "budget": budget})
    assert answer.status_code == 422
    assert "a number, or nothing" in Reader(answer.text).words


def test_too_little_money_is_told_without_the_names_of_options(tmp_path):
    client = opened(fill(tmp_path))
    kit = client.get("/files/list.json?arrows=0&budget=").json()["test_kit_price"]
    words = Reader(client.get(f"/list?arrows=12&budget={kit}").text).words
    assert "would do, or fewer arrows" in words
    assert "arrows 0, the test kit alone, fits" in words
    assert "--" not in words


def test_only_next_names_what_is_shot_while_one_is_tuned(tmp_path):
    """Shafts and parts in hand: the kit is told, but no order or point of its own beside the plan's."""
    held = stock_text()
    none = held.replace("9.00,1,2,", "9.00,1,0,")
    assert "Shoot them in this order" in opened(fill(tmp_path, stock=none)).get("/list").text
    for row in ("PLAIN-500,shaft", "P175,point", "I25,insert", "N246,nock"):
        (line,) = (x for x in held.splitlines() if x.startswith(row))
        cells = line.split(",")
        cells[held.splitlines()[0].split(",").index("in_hand")] = "4"
        held = held.replace(line, ",".join(cells))
    client = opened(fill(tmp_path, stock=held))
    assert client.get("/files/list.json").json()["next"]["stage"] == "tune"
    page = client.get("/list").text
    assert "Test kit" in Reader(page).words
    assert "in this order" not in page
