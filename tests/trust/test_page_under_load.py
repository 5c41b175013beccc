"""The page with many at once, with odd requests, and with those that ask and never say what."""

from __future__ import annotations

import asyncio
import socket
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

sys.path.insert(0, str(Path(__file__).parents[1] / "web"))
from web_kit import ADDRESS, ORIGIN, fill, open_page

from shaftwright.errors import InputError
from shaftwright.files.notebook import load_notebook
from shaftwright.web import changes, exports, guard, launches, pages
from shaftwright.web.answers import State
from shaftwright.web.forms import rig_check
from shaftwright.web.guard import Door
from shaftwright.web.pages import number, wishes_of
from shaftwright.web.workbook import Workbook

ROUTES = [r.path.replace("{name}", "rig.yaml")
          for r in (*pages.ROUTES, *exports.ROUTES, *launches.ROUTES)]  # fmt: skip
SHOT = {"build.shaft": "MARSH-500", "build.length": "29.5", "build.point": "P175", "build.insert": "I25",
        "distance": "20", "reads": "straight", "date": "2026-05-02"}  # fmt: skip


@pytest.fixture(scope="module")
def refusing(tmp_path_factory):
    """A client of a page that is asked for nothing but what it refuses."""
    return open_page(fill(tmp_path_factory.mktemp("page")))[0]


@pytest.mark.parametrize("path", [*ROUTES, "/static/page.js"])
@pytest.mark.parametrize("site", ["cross-site", "same-site", "odd"])
def test_no_other_page_starts_any_work(refusing, path, site):
    assert refusing.get(path, headers={"sec-fetch-site": site}).status_code == 403


@pytest.mark.parametrize("site", ["none", "same-origin"])
def test_what_one_typed_or_the_page_asks_is_answered(refusing, site):
    assert refusing.get("/rig", headers={"sec-fetch-site": site}).status_code == 200


def test_two_identical_posts_at_once_store_one_entry(tmp_path):
    client, door = open_page(fill(tmp_path, notebook=True))
    before = len(load_notebook(tmp_path / "notebook.yaml").entries)
    at_once = threading.Barrier(6)

    def post(_):
        at_once.wait()
        own = TestClient(client.app, base_url=ADDRESS, follow_redirects=False)
        return own.post("/shots", data=SHOT | {"token": door.token}, headers=ORIGIN).headers[
            "location"
        ]

    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(post, range(6)))
    assert len(load_notebook(tmp_path / "notebook.yaml").entries) == before + 1
    assert answers.count("/shots?twice=1") == 5


def test_many_heavy_questions_at_once_all_get_their_answer(tmp_path):
    state = State(Workbook(tmp_path), Door())

    def work(n):
        time.sleep(0.01)
        return n

    with ThreadPoolExecutor(16) as pool:
        found = list(pool.map(lambda n: state._found(f"k{n}", lambda: work(n), 30), range(16)))
    assert found == list(range(16))
    assert len(state._futures) <= 16
    assert not state._waited
    state._found("last", lambda: 1, 5)
    assert len(state._futures) <= 6
    state.close()


@pytest.mark.parametrize(
    ("kind", "body"),
    [("multipart/form-data; boundary=x; charset=nonsense", b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\nb\r\n--x--\r\n'),
     ("multipart/form-data; boundary=x; charset=utf-16", b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\nb\r\n--x--\r\n'),
     ("multipart/form-data; boundary=x; charset=ascii", b'--x\r\nContent-Disposition: form-data; name="\xff"\r\n\r\n\xff\r\n--x--\r\n'),
     ("multipart/form-data; boundary=x; charset=rot13", b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\nb\r\n--x--\r\n'),
     ("multipart/form-data; boundary=x; charset=hex", b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\nb\r\n--x--\r\n'),
     ("multipart/form-data", b"x"), ("multipart/form-data; boundary=", b"--\r\n"),
     ("multipart/form-data; boundary=x", b"--x\r\nContent-Disposition: form-data\r\n\r\nb\r\n--x--\r\n"),
     ("application/x-www-form-urlencoded; charset=nonsense", b"a=%ff&b=%00"), ("text/plain", b"\xff")],
)  # fmt: skip
@pytest.mark.parametrize("path", [r.path for r in changes.ROUTES])
@pytest.mark.slow
def test_odd_bodies_are_refused(refusing, path, kind, body):
    answer = refusing.post(path, content=body, headers={**ORIGIN, "content-type": kind})
    assert answer.status_code in (400, 403)


words = st.one_of(st.text(max_size=12), st.sampled_from(
    ["nan", "inf", "1e999", "-1", "0", "1_0", "\u0661\u0662", "0000009999999", "1/0", "29 1/2 in", "unknown", "\ud800",
     "9" * 400, "{}", "[1", "'", "&a", "*a", "!x"]))  # fmt: skip


@pytest.mark.slow
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(
            st.sampled_from(
                ["shaft", "length", "front", "kept_length", "arrows", "budget", "of", "noted", "x"]
            ),
            words,
        ),
        max_size=4,
    )
)
def test_every_view_answers_any_query(client_of_all, query):
    client = client_of_all
    given = [(name, value.encode(errors="replace").decode()) for name, value in query]
    for path in ROUTES:
        if path not in ("/launch", "/files/rig.yaml"):
            assert client.get(path, params=given).status_code in (200, 303, 404, 409, 422), (
                path,
                query,
            )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.dictionaries(
        st.sampled_from(
            [
                *SHOT,
                "rig",
                "bow.kind",
                "bow.draw_weight.lb",
                "bow.draw_weight.way",
                "archer.draw_length",
                "bow.draw_weight.curve",
                "hit-right",
                "hit-up",
                "hit-kind",
                "hit-tail",
                "piece",
                "what",
                "revision",
                "by",
            ]
        ),
        words,
        max_size=6,
    )
)
@pytest.mark.slow
def test_every_change_answers_any_form(client_of_all, form):
    client = client_of_all
    form = {name: value.encode(errors="replace").decode() for name, value in form.items()}
    for path in ("/rig", "/rig/check", "/stock", "/files", "/shots"):
        answer = client.post(path, data=form | {"token": client.token}, headers=ORIGIN)
        assert answer.status_code in (200, 303, 409, 422), (path, form)


@pytest.fixture(scope="module")
def client_of_all(tmp_path_factory):
    client, door = open_page(fill(tmp_path_factory.mktemp("page")))
    client.get("/", headers={"x-part": "1"})
    client.token = door.token
    return client


@pytest.mark.parametrize(
    "text", ["nan", "inf", "1_0", "\u0661", "1e3", "0x1", "", " ", "--1", "1" * 40]
)
def test_numbers_of_a_form_are_plain_numbers(text):
    assert number(text) is None
    assert wishes_of({"arrows": "12", "budget": text.strip() or "x"})[1]


def test_numbers_of_a_form_are_read():
    assert [number(t) for t in ("12", "-0.25", "29.", ".5", None)] == [12, -0.25, 29, 0.5, None]
    for arrows in ("0000009999999", "145", "-1", "1.0", "\u0661\u0662", "1_2", ""):
        assert wishes_of({"arrows": arrows})[1], arrows
    assert wishes_of({"arrows": "144", "budget": "99.50"})[0].budget == 99.5


@pytest.mark.parametrize("text", ["1_0", "\u0664\u0667", "nan", "1e400"])
def test_a_rig_form_takes_no_odd_number(text):
    checked = rig_check({"bow.draw_weight.lb": text, "bow.draw_weight.way": "own_draw"}, None)
    assert "bow.draw_weight.lb" in checked.faults


def test_a_form_that_never_ends_is_let_go(monkeypatch):
    monkeypatch.setattr(guard, "BODY_WITHIN_S", 0.05)

    async def never():
        await asyncio.sleep(60)

    async def wait():
        with pytest.raises(guard.TooLarge):
            await guard._limited(never, 100)()

    asyncio.run(wait())


@pytest.mark.slow
def test_silent_clients_shut_nobody_out(tmp_path, monkeypatch):
    import httpx2 as httpx
    import uvicorn

    from shaftwright.web.app import create_app

    monkeypatch.setattr(guard, "HEAD_WITHIN_S", 1.0)
    monkeypatch.setattr(guard, "READ_WITHIN_S", 1.0)
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen(256)
    where = listener.getsockname()
    server = uvicorn.Server(uvicorn.Config(
        create_app(fill(tmp_path)), http=guard.Patient, ws="none", log_level="error"))  # fmt: skip
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    silent = []
    try:
        for n in range(150):
            one = socket.create_connection(where, timeout=5)
            if n % 2:
                one.sendall(b"GET / HTTP/1.1\r\nHost: 127")  # a head that never ends
            silent.append(one)
        slow = socket.socket()  # asks a lot and reads nothing
        slow.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        slow.connect(where)
        ask = f"GET /static/page.js HTTP/1.1\r\nHost: 127.0.0.1:{where[1]}\r\n\r\n".encode()
        slow.sendall(ask * 2000)
        assert httpx.get(f"http://127.0.0.1:{where[1]}/rig", timeout=10).status_code == 200
        time.sleep(3)
        slow.settimeout(5)
        got = 0
        with suppress(ConnectionResetError):
            while more := slow.recv(1 << 16):
                got += len(more)
        assert got < 2000 * 5000  # cut off: what it left waiting was not kept for it
        slow.close()
        for one in silent:
            one.settimeout(2)
            with suppress(ConnectionResetError):
                assert one.recv(100) == b""
    finally:
        server.should_exit = True
        thread.join(10)
        for one in silent:
            one.close()


def test_a_link_in_the_place_of_a_file_is_no_crash(tmp_path):
    client, door = open_page(fill(tmp_path))
    (tmp_path / "notebook.yaml").symlink_to(tmp_path / "nowhere")
    shot = SHOT | {"build.shaft": "PLAIN-500", "token": door.token}
    answer = client.post("/shots", data=shot, headers=ORIGIN)
    # what was typed stays in the form
    assert answer.status_code == 422
    assert "is a link; the page follows none" in answer.text
    with pytest.raises(InputError):
        Workbook(tmp_path).path("notebook")
