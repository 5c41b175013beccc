"""Names that mean harm: never markup, never a formula, whatever they hold.

The seeds are the usual ones of the OWASP cheat sheets on XSS filter evasion and CSV injection (recalled).
"""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from web_kit import ORIGIN, Reader, fill, open_page, stock_text

from shaftwright.web.exports import COLUMNS

SEEDS = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "'><svg/onload=alert(1)>", "</title><b>",
    "</script><script>", "{{7*7}}", "{% raw %}", "${7*7}", "<!--", "-->", "]]>", "&lt;b&gt;", "&#60;b&#62;",
    "javascript:alert(1)", "=1+1", "=cmd|' /C calc'!A0", "+1", "-1", "@SUM(A1)", "\t=1", "|calc", "%0a=1",
    "<style>*{}</style>", "<a href=//x>", "\u202egnp", "\u2028", "\x1b[31m", "\\u003cb\\u003e", "<\u0130mg",
    "$x_1$", "onclick=x",
)  # fmt: skip

names = st.one_of(
    st.sampled_from(SEEDS),
    st.builds(lambda a, b, c: (a + b + c)[:70], st.text(max_size=10), st.sampled_from(SEEDS), st.text(max_size=10)),
    st.text(min_size=1, max_size=40),
).filter(lambda n: n.strip() and "\0" not in n and not any(0xD800 <= ord(c) <= 0xDFFF for c in n))  # fmt: skip

PAGES = ("/", "/builds", "/rig", "/stock", "/shots", "/files", "/list")


def book(folder: Path, name: str) -> Path:
    """A workbook in which everything that can be named is named so."""
    fill(folder, stock=stock_text(name, name))
    rig = yaml.safe_load((folder / "rig.yaml").read_text(encoding="utf-8"))
    rig["rig"] = name
    rig["bow"]["limbs_id"] = name
    (folder / "rig.yaml").write_text(yaml.safe_dump(rig, allow_unicode=True), encoding="utf-8")
    entry = [{"kind": "bareshaft", "build": {"shaft": name, "length": 30, "point": "P175", "insert": "I25"},
              "distance": 12, "reads": "slightly_stiff", "remark": name, "rig_state": {"limbs_id": name}}]  # fmt: skip
    (folder / "notebook.yaml").write_text(
        yaml.safe_dump(entry, allow_unicode=True), encoding="utf-8"
    )
    return folder


def shapes(name: str) -> dict[str, list[tuple[str, tuple[str, ...]]]]:
    """The elements of every page, as a browser would build them."""
    with tempfile.TemporaryDirectory() as folder:
        client, _ = open_page(book(Path(folder), name))
        found = {}
        client.get("/", headers={"x-part": "1"})
        for path in PAGES:
            answer = client.get(path)
            if path == "/builds" and answer.status_code == 303:  # a name that no stock can have
                found[path] = []
                continue
            assert answer.status_code == 200, (path, name)
            assert answer.headers["content-type"].startswith("text/html")
            # where a name makes a file unusable, less is shown: only ever the tags of the page's own
            found[path] = Reader(answer.text).tags
        export = client.get("/files/builds.csv")
        if export.status_code == 200:
            for row in csv.reader(io.StringIO(export.text, newline="")):
                for cell in row:
                    numeric = cell.replace(".", "").replace("e", "").lstrip("-").isdigit()
                    assert numeric or not cell.lstrip().startswith(
                        ("=", "+", "-", "@", "|", "%")
                    ), cell
                    assert "\t" not in cell
                    assert "\r" not in cell
        return found


BENIGN: dict[str, set[tuple[str, tuple[str, ...]]]] = {}


@pytest.mark.slow
@settings(max_examples=10, deadline=None)
@given(names)
def test_hostile_names_never_become_markup_or_formulas(name):
    if not BENIGN:
        for path, tags in shapes("plain-name").items():
            BENIGN[path] = set(tags)
        for path, tags in shapes("=plain").items():  # the page warns of it in words of its own
            BENIGN[path] |= set(tags)
        for odd in ("\x01", "a\nb"):  # no stock can have such a name: the faults are shown
            for path, tags in shapes(odd).items():
                BENIGN[path] |= set(tags)
    for path, tags in shapes(name).items():
        assert set(tags) <= BENIGN[path], (path, name, set(tags) - BENIGN[path])


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{7*7}}"]
)
@pytest.mark.slow
def test_hostile_names_stand_as_text(tmp_path, name):
    client, _ = open_page(book(tmp_path, name))
    client.get("/", headers={"x-part": "1"})
    for path in ("/", "/builds", "/stock", "/shots"):
        page = Reader(client.get(path).text)
        assert name in page.words
        assert not [t for t, attributes in page.tags if t == "img" or "onerror" in attributes]
    assert "49" not in Reader(client.get("/look").json()["html"]).words.replace("249", "")[:80]


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """A client of a page that refuses all that is sent, and its door."""
    return open_page(fill(tmp_path_factory.mktemp("page")))


@pytest.mark.parametrize("name", SEEDS)
@pytest.mark.slow
def test_hostile_uploads_are_told_as_text(page, name):
    client, door = page
    raw = stock_text().replace(
        "PLAIN-400,shaft", f'PLAIN-400,"{name.replace(chr(34), chr(34) * 2)}"'
    )
    answer = client.post("/stock", data={"token": door.token}, files={"file": (name.replace('"', "") or "x", raw)},
                         headers=ORIGIN)  # fmt: skip
    assert answer.status_code == 422
    page = Reader(answer.text)
    assert not [t for t, _ in page.tags if t in ("img", "svg", "style", "b", "comment")]
    assert len([t for t, _ in page.tags if t == "script"]) == 1


@pytest.mark.parametrize("name", SEEDS)
@pytest.mark.slow
def test_hostile_form_fields_come_back_as_text(page, name):
    client, door = page
    given_ = {"token": door.token, "archer.draw_length": name, "rig": name, name: name, "build.shaft": name,
              "build.length": name, "distance": name, "hit-kind": name, "hit-right": name, "hit-up": name}  # fmt: skip
    for path in ("/rig", "/shots", "/list"):
        asked = {"arrows": name, "budget": name}
        answer = (client.get(path, params=asked) if path == "/list"
                  else client.post(path, data=given_, headers=ORIGIN))  # fmt: skip
        assert answer.status_code == 422, path
        page = Reader(answer.text)
        scripts = {"/rig": 1, "/shots": 2, "/list": 1}[path]
        assert len([t for t, _ in page.tags if t == "script"]) == scripts
        assert not [t for t, _ in page.tags if t in ("img", "style", "b", "comment")]
        assert not [n for _, attributes in page.tags for n in attributes if n.startswith("on")]


def test_a_mark_byte_and_odd_lines_are_read_as_everywhere(tmp_path):
    client, door = open_page(fill(tmp_path))
    revision = Reader(client.get("/stock").text).value("revision")
    raw = b"\xef\xbb\xbf" + stock_text("BOM-500").replace("\n", "\r\n").encode()
    answer = client.post("/stock", data={"token": door.token, "revision": revision},
                         files={"file": ("stock.csv", raw)}, headers=ORIGIN)  # fmt: skip
    assert answer.status_code == 303
    assert "BOM-500" in client.get("/stock").text


def test_columns_of_builds_are_those_of_choose(tmp_path):
    client, _ = open_page(fill(tmp_path))
    rows = list(csv.DictReader(io.StringIO(client.get("/files/builds.csv").text, newline="")))
    assert tuple(rows[0]) == COLUMNS
    document = client.get("/files/choose.json").json()
    assert [row["shaft"] for row in rows] == [build["shaft"] for build in document["builds"]]
    assert float(rows[0]["total_gr"]) == pytest.approx(document["builds"][0]["total_gr"], rel=1e-5)
