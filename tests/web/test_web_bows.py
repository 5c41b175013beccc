"""Several bows in one folder: chosen by a page, each below its own address, never mixed."""

from __future__ import annotations

import shutil

import pytest
from starlette.testclient import TestClient
from web_kit import ADDRESS, EXAMPLES, ORIGIN, Reader, fill, open_page

from shaftwright.files.notebook import load_notebook
from shaftwright.web.app import create_app
from shaftwright.web.guard import Door

BRACE = {"kind": "brace", "brace": "7 3/8 in", "shots_on": "60", "date": "2026-05-31"}


@pytest.fixture
def shelf(tmp_path):
    """A folder of two bows of one rig; the name of one needs care in an address."""
    for name in ("first", "odd % name?"):
        (tmp_path / name).mkdir()
        fill(tmp_path / name)
    (tmp_path / "rules").mkdir()
    return tmp_path


def links(client, address):
    made = Reader(client.get(address).text)
    return [v for tag, name, v in made.attributes if tag == "a" and name == "href"]


@pytest.mark.slow
def test_a_folder_of_bows_opens_with_a_choice(shelf):
    client, _ = open_page(shelf)
    bows = [a for a in links(client, "/") if a.startswith("/bow/")]
    assert bows == ["/bow/first/", "/bow/odd%20%25%20name%3F/"]
    for address in bows:
        answer = client.get(address + "rig")
        assert answer.status_code == 200
        # every link of a bow's page stays with the bow, but the one to another
        own = [a for a in links(client, address + "rig") if a.startswith("/")]
        assert [a for a in own if not a.startswith(address)] == ["/"]
        assert 'aria-current="page">Rig' in answer.text
        forms = [v for _, n, v in Reader(answer.text).attributes if n == "action"]
        assert forms == [address + "rig"]


def test_what_is_sent_goes_to_the_bow_of_its_address(shelf):
    client, door = open_page(shelf)
    # two tabs, both open before either sends
    for name, height in (("first", "7 3/8 in"), ("odd % name?", "7 1/4 in")):
        at = "/bow/" + ("first" if name == "first" else "odd%20%25%20name%3F")
        sent = client.post(
            f"{at}/shots/other", data=BRACE | {"brace": height, "token": door.token}, headers=ORIGIN
        )
        assert sent.headers["location"] == f"{at}/shots/noted?did=noted"
        assert client.get(sent.headers["location"]).status_code == 200
    braces = [
        [e.brace_in for e in load_notebook(shelf / n / "notebook.yaml").entries]
        for n in ("first", "odd % name?")
    ]
    assert braces == [[7.375], [7.25]]
    assert {p.name for p in shelf.iterdir()} == {"first", "odd % name?", "rules"}


def test_a_large_stock_is_taken_below_a_bow_too(shelf):
    client, door = open_page(shelf)
    large = (shelf / "first" / "stock.csv").read_text() + "\n" * 600_000
    sent = client.post(
        "/bow/first/stock", headers=ORIGIN, files={"file": ("s.csv", large)},
        data={"token": door.token, "revision": Reader(client.get("/bow/first/stock").text).value("revision")},
    )  # fmt: skip
    assert sent.headers["location"] == "/bow/first/stock"


@pytest.mark.parametrize(
    "address", ["/bow/none/", "/bow/first", "/bow/../first/", "/bow//", "/rig"]
)
def test_no_other_name_is_opened(shelf, address):
    client, _ = open_page(shelf)
    answer = client.get(address)
    assert (answer.status_code, answer.headers.get("location")) in ((303, "/"), (404, None))


def test_a_bow_is_opened_as_before(tmp_path):
    client, _ = open_page(fill(tmp_path))
    (tmp_path / "kept").mkdir()
    shutil.copy(EXAMPLES / "heron_marsh/rig.yaml", tmp_path / "kept" / "rig.yaml")
    assert "Another bow" not in client.get("/rig").text


def test_the_key_opens_the_choice(shelf):
    door = Door("192.0.2.7", key="secret")
    client = TestClient(
        create_app(shelf, door), base_url="http://192.0.2.7:8417", follow_redirects=False
    )
    assert client.get("/bow/first/rig").status_code == 401
    assert client.get("/?key=secret").headers["location"] == "/"
    assert client.get("/bow/first/rig").status_code == 200
    assert ADDRESS not in client.get("/").text
