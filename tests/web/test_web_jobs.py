"""The list: worked out beside the page, told stage by stage, stopped at any instant."""

from __future__ import annotations

import time

import pytest
from web_kit import ORIGIN, Reader, fill, open_page, stock_text

from shaftwright.answers.scenario import scenario
from shaftwright.web.jobs import Jobs
from shaftwright.web.workbook import Workbook


def request_for(folder, arrows=12, budget=None):
    book = Workbook(folder)
    return {"rig": book.read("rig").text, "stock": book.read("stock").text,
            "arrows": arrows, "budget": budget}  # fmt: skip


def finished(jobs, seconds=120.0):
    until = time.monotonic() + seconds
    while jobs.job.state == "working" and time.monotonic() < until:
        time.sleep(0.05)
    return jobs.job


@pytest.mark.slow
def test_the_list_is_that_of_shop(tmp_path):
    from shaftwright.answers.shop.shopping import shopping
    from shaftwright.files.rig import load_rig
    from shaftwright.files.stock import load_stock

    jobs = Jobs()
    jobs.start("key", request_for(fill(tmp_path)))
    job = finished(jobs)
    assert job.state == "done", job.result
    asked = scenario(load_rig(tmp_path / "rig.yaml"), stock=load_stock(tmp_path / "stock.csv"))
    expected = shopping(asked).to_dict()
    answer = job.result["answer"]
    assert answer["total_price"] == expected["total_price"]
    assert [r["item"] for r in answer["test_kit"]] == [r["item"] for r in expected["test_kit"]]
    assert job.stage == 3


@pytest.mark.slow
def test_a_stop_stops(tmp_path):
    jobs = Jobs()
    job = jobs.start("key", request_for(fill(tmp_path)))
    jobs.stop()
    assert job.state == "stopped"
    assert job.process.poll() is not None
    time.sleep(0.2)
    assert job.state == "stopped"


@pytest.mark.slow
def test_no_answer_is_told_with_its_reason(tmp_path):
    fill(tmp_path, stock=stock_text().replace("I25,insert", "I25,sundry"))
    jobs = Jobs()
    jobs.start("key", request_for(tmp_path, budget=1.0))
    job = finished(jobs)
    assert job.state == "failed"
    assert "budget" in job.result["faults"][0]


@pytest.mark.slow
def test_a_new_list_stops_the_old(tmp_path):
    jobs = Jobs()
    first = jobs.start("key", request_for(fill(tmp_path)))
    second = jobs.start("key", request_for(tmp_path, arrows=0))
    assert first.state == "stopped"
    assert jobs.job is second
    jobs.stop()


@pytest.mark.slow
def test_the_page_shows_the_list_and_its_age(tmp_path):
    client, door = open_page(fill(tmp_path))
    form = {"token": door.token, "arrows": "12", "budget": ""}
    assert client.post("/list/start", data=form, headers=ORIGIN).status_code == 303
    until = time.monotonic() + 120
    while client.get("/list/state").json()["state"] == "working" and time.monotonic() < until:
        assert (
            "Stop" in client.get("/list").text
            or client.get("/list/state").json()["state"] != "working"
        )
        time.sleep(0.3)
    words = Reader(client.get("/list").text).words
    assert "Test kit" in words
    assert "have changed since" not in words
    assert client.get("/files/list.csv").text.startswith("part,item")
    assert client.get("/files/list.json").json()["format"] == 2
    (tmp_path / "stock.csv").write_text(stock_text("OTHER-500"))
    assert "have changed since" in Reader(client.get("/list").text).words


@pytest.mark.parametrize(
    "arrows", ["", "-1", "145", "twelve", "1e2", "\N{SUPERSCRIPT TWO}", "9" * 400]
)
def test_odd_numbers_of_arrows_are_refused(tmp_path, arrows):
    client, door = open_page(fill(tmp_path))
    form = {"token": door.token, "arrows": arrows, "budget": ""}
    assert client.post("/list/start", data=form, headers=ORIGIN).status_code == 422


@pytest.mark.parametrize("budget", ["-1", "nan", "inf", "much", "1e99"])
def test_odd_budgets_are_refused(tmp_path, budget):
    client, door = open_page(fill(tmp_path))
    form = {"token": door.token, "arrows": "12", "budget": budget}
    assert client.post("/list/start", data=form, headers=ORIGIN).status_code == 422
