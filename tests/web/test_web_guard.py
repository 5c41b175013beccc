"""Whom the page answers, and what it lets a browser do.

Headers and checks follow the OWASP cheat sheets on DNS rebinding, CSRF (verifying origin with standard
headers, synchroniser token) and Content Security Policy (recalled).
"""

from __future__ import annotations

import re

import pytest
from starlette.routing import Route
from web_kit import ADDRESS, ORIGIN, Reader, fill, open_page

from shaftwright.web import changes, exports, pages
from shaftwright.web.guard import FORM_BYTES, UPLOAD_BYTES, Door

pytestmark = pytest.mark.slow

CHANGES = [route.path for route in changes.ROUTES]
VIEWS = [r.path for r in (*pages.ROUTES, *exports.ROUTES) if "{" not in r.path]


def state_of(folder):
    return {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """A folder, a client of its page and the door: for what is refused, or only looked at."""
    folder = fill(tmp_path_factory.mktemp("page"))
    return folder, *open_page(folder)


@pytest.mark.parametrize("host", ["127.0.0.1:8417", "localhost:8417", "[::1]:8417", "127.0.0.1"])
def test_own_names_are_answered(tmp_path, host):
    client, _ = open_page(tmp_path)
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8417", "127.0.0.1.evil.example", "localhost.evil.example", "192.168.1.7",
     "0.0.0.0:8417", "", "[", "127.0.0.1@evil.example", "evil.example#127.0.0.1", "2130706433"],
)  # fmt: skip
def test_rebound_names_are_refused(page, host):
    _, client, _ = page
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "heron" not in answer.text


def test_two_hosts_are_refused(tmp_path):
    client, _ = open_page(tmp_path)
    answer = client.get("/", headers=[("host", "127.0.0.1:8417"), ("host", "evil.example")])
    assert answer.status_code == 421


@pytest.mark.parametrize("path", CHANGES)
@pytest.mark.parametrize(
    "headers",
    [{}, {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "http://127.0.0.1:9999"},
     {"origin": "http://["}, {"origin": "file://127.0.0.1:8417"}, {"sec-fetch-site": "cross-site"},
     {"sec-fetch-site": "same-site", "origin": ADDRESS}, {"sec-fetch-site": "none", "origin": ADDRESS}],
)  # fmt: skip
def test_changes_from_elsewhere_are_refused_even_with_the_token(page, path, headers):
    folder, client, door = page
    before = state_of(folder)
    answer = client.post(path, data={"token": door.token, "starter": "yes"}, headers=headers)
    assert answer.status_code == 403
    assert state_of(folder) == before


@pytest.mark.parametrize("path", CHANGES)
@pytest.mark.parametrize("token", ["", "wrong", "\N{LATIN SMALL LETTER E WITH ACUTE}"])
def test_every_change_asks_for_the_token(page, path, token):
    folder, client, _ = page
    before = state_of(folder)
    answer = client.post(path, data={"token": token, "rig": "other"}, headers=ORIGIN)
    assert answer.status_code == 403
    assert state_of(folder) == before


@pytest.mark.slow
def test_no_change_goes_by_get(tmp_path):
    assert all(route.methods == {"POST"} for route in changes.ROUTES)
    assert all(
        route.methods <= {"GET", "HEAD"}
        for route in (*pages.ROUTES, *exports.ROUTES) if isinstance(route, Route)
    )  # fmt: skip
    client, _ = open_page(fill(tmp_path))
    before = state_of(tmp_path)
    for path in (*VIEWS, *CHANGES):
        client.get(path)
    assert state_of(tmp_path) == before


def test_other_methods_change_nothing(tmp_path):
    client, door = open_page(fill(tmp_path))
    before = state_of(tmp_path)
    headers = {**ORIGIN, "x-shaftwright-token": door.token}
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"):
        assert client.request(method, "/rig", headers=headers).status_code in (400, 405)
    assert state_of(tmp_path) == before


@pytest.mark.parametrize("path", [*VIEWS, "/nowhere", "/static/page.js", "/files/rig.yaml"])
@pytest.mark.slow
def test_every_answer_is_sealed(page, path):
    _, client, _ = page
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe-eval" not in policy
    assert "script-src 'self'" in policy or "script-src" not in policy
    if not path.startswith("/files/"):
        assert "unsafe-inline" not in policy
        assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "access-control-allow-origin" not in headers
    assert headers["cache-control"] in ("no-store", "no-cache")


def test_refusals_are_sealed_too(tmp_path):
    client, _ = open_page(tmp_path)
    answer = client.get("/", headers={"host": "evil.example"})
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")


@pytest.mark.parametrize("notebook", [False, True])
@pytest.mark.slow
def test_pages_hold_nothing_the_policy_forbids(tmp_path, notebook):
    client, _ = open_page(fill(tmp_path, notebook))
    assert client.get("/", headers={"x-part": "1"}).status_code == 200
    for path in VIEWS:
        if path == "/look":
            continue
        reader = Reader(client.get(path).text)
        for tag, names in reader.tags:
            assert tag not in ("style", "iframe", "object", "embed", "base", "comment")
            assert tag != "script" or "src" in names
            assert not [n for n in names if n.startswith("on") or n == "style"], (path, tag, names)
        for tag, name, value in reader.attributes:
            if name in ("src", "href", "action"):
                assert value.startswith(("/", "#")), (path, tag, value)
                assert not value.startswith("//")


def test_large_forms_are_refused(tmp_path):
    client, door = open_page(fill(tmp_path))
    big = {"token": door.token, "rig": "x" * (FORM_BYTES + 1)}
    assert client.post("/rig", data=big, headers=ORIGIN).status_code == 413


def test_large_forms_without_a_length_are_refused(tmp_path):
    client, _ = open_page(fill(tmp_path))

    def pieces():
        for _ in range(20):
            yield b"rig=" + b"x" * 100_000 + b"&"

    headers = {**ORIGIN, "content-type": "application/x-www-form-urlencoded"}
    assert client.post("/rig", content=pieces(), headers=headers).status_code == 413


def test_large_uploads_are_refused(tmp_path):
    client, door = open_page(fill(tmp_path))
    before = state_of(tmp_path)
    for size, status in ((16 * 1024 * 1024 + 1, 422), (UPLOAD_BYTES + 1, 413)):
        files = {"file": ("stock.csv", b"x" * size)}
        answer = client.post("/stock", data={"token": door.token}, files=files, headers=ORIGIN)
        assert answer.status_code == status
    assert state_of(tmp_path) == before


def test_many_fields_are_refused(tmp_path):
    client, door = open_page(fill(tmp_path))
    many = {"token": door.token, **{f"f{i}": "x" for i in range(1000)}}
    assert client.post("/rig", data=many, headers=ORIGIN).status_code == 400


def test_beyond_loopback_a_key_is_asked_for(tmp_path):
    door = Door("0.0.0.0", "the-key")
    client, _ = open_page(fill(tmp_path), door, "http://192.168.1.7:8417")
    assert client.get("/").status_code == 401
    assert client.get("/?key=wrong").status_code == 401
    assert client.get("/files/rig.yaml").status_code == 401
    opened = client.get("/?key=the-key")
    assert opened.status_code == 303
    cookie = opened.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    client.cookies.set("shaftwright-key", "the-key")
    assert client.get("/rig").status_code == 200
    assert client.get("/rig", headers={"host": "fen.example"}).status_code == 421


def test_a_broken_cookie_opens_nothing(tmp_path):
    client, _ = open_page(tmp_path, Door("0.0.0.0", "the-key"), "http://192.168.1.7:8417")
    for cookie in ("shaftwright-key", "=;=", "shaftwright-key=\x01", "a" * 5000):
        assert client.get("/", headers={"cookie": cookie}).status_code == 401


def test_a_page_from_before_a_restart_loses_nothing(tmp_path):
    old, old_door = open_page(fill(tmp_path))
    page = Reader(old.get("/rig").text)
    revision = page.value("revision")
    new, door = open_page(tmp_path)
    fields = {
        "token": old_door.token,
        "revision": revision,
        "rig": "fen & <co>",
        "archer.hand": "left",
    }
    answer = new.post("/rig", data=fields, headers=ORIGIN)
    assert answer.status_code == 403
    again = Reader(answer.text)
    assert again.value("rig") == "fen & <co>"
    assert again.value("archer.hand") == "left"
    assert again.value("token") == door.token
    assert ADDRESS not in answer.text


def test_a_phone_reads_the_address_and_its_key(tmp_path):
    """ISO/IEC 18004: a symbol has three finder patterns, each 7 modules wide, and 4 modules of quiet around it."""
    told = "http://192.0.2.7:8417/?key=" + "k" * 32
    door = Door("0.0.0.0", key="k" * 32, address=told)
    client, _ = open_page(fill(tmp_path), door, "http://192.0.2.7:8417")
    client.get(told)
    text = client.get("/files").text
    assert told in text
    svg = text[text.index("<svg") : text.index("</svg>")]
    assert "style=" not in svg
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', svg)[1])
    assert (size - 8 - 17) % 4 == 0  # a version has 4 modules more than the one before
    rows: dict[int, set[int]] = {}
    x = y = 0.0
    for move, right, down in re.findall(r"([Mmh])(-?\d+)(?: (-?[\d.]+))?", svg.split('d="')[2]):
        if move == "h":
            rows.setdefault(int(y), set()).update(range(int(x), int(x) + int(right)))
            x += int(right)
        else:
            x, y = (int(right), float(down)) if move == "M" else (x + int(right), y + float(down))
    for left, top in ((4, 4), (size - 11, 4), (4, size - 11)):
        seen = [[left + i in rows.get(top + k, set()) for i in range(7)] for k in range(7)]
        assert seen[0] == seen[6] == [True] * 7
        assert seen[1] == seen[5] == [True, *[False] * 5, True]
        assert seen[3] == [True, False, True, True, True, False, True]
    quiet = set(range(4)) | set(range(size - 4, size))
    assert not quiet & set().union(*rows.values())
    assert not quiet & set(rows)


def test_on_this_machine_only_there_is_no_address_for_a_phone(tmp_path):
    client, _ = open_page(fill(tmp_path))
    assert "<svg" not in client.get("/files").text
