"""Every page, on a phone and on a desk, light and dark: axe finds nothing, and nothing is wider than the screen."""

from __future__ import annotations

import shutil

import pytest
from browser_kit import ROOT, Visit, served

pytestmark = [pytest.mark.slow, pytest.mark.browser]

KINDS = ("change", "brace", "chrono", "sound", "weigh", "have")
PAGES = {
    "map": "/", "rig": "/rig", "why": "/rig/why?what=brace", "stock": "/stock", "shots": "/shots",
    "noted": "/shots/noted", **{kind: f"/shots/other?kind={kind}" for kind in KINDS},
    "says": "/shots/says", "next": "/next", "list": "/list", "files": "/files", "builds": "/builds",
    "launch": "/launch", "moving": "/launch/moving?shaft=", "none": "/nothing",
}  # fmt: skip


@pytest.fixture(scope="module")
def bows(tmp_path_factory):
    """Two bows in one folder, one with faults in its stock, at one address."""
    folder = tmp_path_factory.mktemp("bows")
    for name in ("heron_marsh", "reed_lark"):
        shutil.copytree(ROOT / "examples" / name, folder / name)
    with (folder / "reed_lark" / "stock.csv").open("a") as stock:
        stock.write("BAD,shaft,carbon,none,,,,,,,,,,,,,\n")
    with served(folder) as address:
        yield address


@pytest.fixture(params=[(360, "light", "dark"), (1280, "dark", "light")], ids=["phone", "desk"])
def visit(browser, bows, request):
    width, scheme, other = request.param
    found = Visit(browser, bows, width, scheme, touch=width < 600, height=740)
    found.schemes = scheme, other
    yield found
    found.close()


def check(visit, name, expected_trouble=()):
    """All of a page in one scheme of colours, then its colours in the other."""
    scheme, other = visit.schemes
    visit.check(name, expected_trouble)
    visit.check_colours(other, name)
    visit.page.emulate_media(color_scheme=scheme)


def test_nothing_is_found_on_any_page(visit):
    visit.go("/")
    check(visit, "bows")
    for name, path in PAGES.items():
        visit.go("/bow/heron_marsh" + path)
        visit.page.locator("main:not(:has(progress))").wait_for(timeout=120_000)
        check(visit, name, ("404",) if name == "none" else ())
        visit.trouble.clear()
    visit.go("/bow/reed_lark/rig")
    visit.page.get_by_role("button", name="Use the good rows").wait_for()
    check(visit, "faults")


def test_nothing_is_found_at_the_beginning(browser, address):
    for width, scheme in ((360, "dark"), (1280, "light")):
        visit = Visit(browser, address, width, scheme)
        visit.go("/")
        visit.check("begin")
        visit.close()
