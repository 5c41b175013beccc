"""Long work on the page: how far it is, and a way to end it."""

import threading

import pytest
from web_kit import ORIGIN, Reader, fill, open_page

from shaftwright.watched import Pace, Stopped, watcher


def test_the_rest_takes_as_long_as_what_is_done_says(monkeypatch):
    now = [100.0]
    monkeypatch.setattr("shaftwright.watched.time.monotonic", lambda: now[0])
    pace = Pace()
    pieces = pace.watch(iter(["abc", "d", "efgh"]), 8)
    next(pieces)
    assert pace.left_s is None
    now[0] = 106.0
    next(pieces)
    assert (pace.done, pace.many, pace.left_s) == (3, 8, 10.0)
    pace.stopped = True
    with pytest.raises(Stopped):
        next(pieces)


def test_only_what_is_worked_out_meanwhile_is_watched():
    pace = Pace()
    with pace.kept():
        assert list(watcher.get()(iter(["ab"]), 2)) == ["ab"]
    assert list(watcher.get()(iter(["abcd"]), 4)) == ["abcd"]
    assert (pace.done, pace.many) == (2, 2)


def test_an_answer_is_stopped_and_begun_again(tmp_path, monkeypatch):
    from shaftwright.web import answers

    real, go_on, begun = answers.work_out, threading.Event(), threading.Event()

    def slow(papers):
        def pieces():
            yield "abc"
            begun.set()
            go_on.wait(20)
            yield "def"

        list(watcher.get()(pieces(), 6))
        return real(papers)

    monkeypatch.setattr(answers, "work_out", slow)
    client, door = open_page(fill(tmp_path))
    shown = client.get("/").text
    assert begun.wait(20)
    assert "Stop" in Reader(shown).words
    assert client.get("/pace").json()["done"] == 3
    token = {"token": door.token}
    assert client.post("/stop", data={"token": "another"}, headers=ORIGIN).status_code == 403
    assert client.post("/stop", data=token, headers=ORIGIN).headers["location"] == "/"
    go_on.set()
    stopped = client.get("/", headers={"x-part": "1"})
    assert "Stopped" in Reader(stopped.text).words
    # it stays so whatever page is looked at, until somebody begins again
    assert client.get("/stock").status_code == 200
    assert "Begin again" in client.get("/").text
    assert client.post("/again", data=token, headers=ORIGIN).status_code == 303
    assert "Stopped" not in Reader(client.get("/", headers={"x-part": "1"}).text).words
