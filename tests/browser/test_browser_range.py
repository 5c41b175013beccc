"""At the butt, with a phone of 360 x 740 and a finger: no tap is lost, and few are needed."""

from __future__ import annotations

import shutil

import pytest
from browser_kit import ROOT, Visit

from shaftwright.files.notebook import load_notebook

pytestmark = [pytest.mark.slow, pytest.mark.browser]

FLETCHED = [(0.5, 0.5), (0.53, 0.46), (0.47, 0.52)]
BARE = [(0.3, 0.5), (0.27, 0.47), (0.32, 0.53)]


class Finger:
    """A finger on the page, which counts how often it taps and how far the page was scrolled."""

    def __init__(self, visit):
        self.visit, self.page, self.taps = visit, visit.page, 0

    def tap(self, locator, position=None):
        """Tap what is in view; nothing is scrolled for it."""
        box = locator.bounding_box()
        x, y = position or (0.5, 0.5)
        x, y = box["x"] + x * box["width"], box["y"] + y * box["height"]
        assert 0 <= x < 360
        assert 0 <= y < 740, "it is not in view"
        self.page.touchscreen.tap(x, y)
        self.taps += 1

    def face(self, places):
        for place in places:
            self.tap(self.page.locator("[data-target]"), place)


@pytest.fixture
def visit(browser, address, folder):
    for name in ("rig.yaml", "stock.csv", "notebook.yaml"):
        shutil.copy(ROOT / "examples" / "heron_marsh" / name, folder / name)
    found = Visit(browser, address, 360, touch=True, height=740)
    found.go("/")
    found.page.locator("[data-walk]").wait_for(timeout=120_000)
    found.go("/shots")
    yield found
    found.close()


def circles(page):
    return page.locator("[data-dots] circle").count(), page.locator("[data-dots] .bare").count()


def entries(folder):
    return load_notebook(folder / "notebook.yaml").entries


def test_six_hits_are_noted_in_nine_taps_without_a_scroll(visit, folder):
    page, finger, before = visit.page, Finger(visit), len(entries(folder))
    finger.face(FLETCHED)
    finger.tap(page.get_by_text("a bare shaft"))
    finger.face(BARE)
    page.get_by_text("3 fletched, 3 bare. The next tap is bare.").wait_for()
    finger.tap(page.get_by_role("button", name="Note it down").first)
    page.get_by_text("3 fletched, 3 bare: right?").wait_for()
    finger.tap(page.get_by_role("button", name="Yes, note it"))
    page.get_by_text("Noted, line").wait_for()
    assert finger.taps == 9
    entry = entries(folder)[-1]
    assert len(entries(folder)) == before + 1
    assert (len(entry.fletched), len(entry.bare)) == (3, 3)
    assert sum(shot.at[0] for shot in entry.bare) / 3 == pytest.approx(-5.3, abs=0.4)
    assert entry.date is not None
    # what was noted is no draft any more, and the next reading begins with the fletched ones
    assert circles(page) == (0, 0)
    assert page.locator('[name="tap"]:checked').get_attribute("value") == "fletched"
    visit.check("range-noted")


def test_a_wrong_tap_is_undone_at_the_face(visit):
    page, finger = visit.page, Finger(visit)
    finger.face(FLETCHED)
    finger.tap(page.get_by_text("a bare shaft"))
    finger.face([(0.9, 0.1)])
    assert circles(page) == (4, 1)
    finger.tap(page.get_by_role("button", name="Undo"))
    assert circles(page) == (3, 0)
    page.get_by_text("Taken back. 3 fletched, 0 bare. The next tap is bare.").wait_for()
    finger.face(BARE)
    assert circles(page) == (6, 3)
    assert finger.taps == 9


@pytest.mark.parametrize("way", ["reload", "away and back"])
def test_taps_outlive_a_reload_and_a_walk_to_another_page(visit, way):
    page, finger = visit.page, Finger(visit)
    page.on("dialog", lambda dialog: dialog.accept())
    finger.face(FLETCHED)
    finger.tap(page.get_by_text("a bare shaft"))
    finger.face(BARE[:2])
    if way == "reload":
        page.reload()
    else:
        page.goto(visit.address + "/files")
        page.go_back()
    page.get_by_text("What you had put in is back.").wait_for()
    assert circles(page) == (5, 2)
    # the kind and the hits go together: no fletched one goes in as bare
    assert page.locator('[name="tap"]:checked').get_attribute("value") == "bare"
    finger.tap(page.get_by_role("button", name="Undo"))
    assert circles(page) == (4, 1)
    page.get_by_role("button", name="Begin afresh").tap()
    page.get_by_text("0 fletched, 0 bare. The next tap is fletched.").wait_for()
    assert circles(page) == (0, 0)


def test_leaving_with_taps_is_warned_of(visit):
    page, finger, asked = visit.page, Finger(visit), []
    finger.face(FLETCHED[:1])
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.get_by_role("link", name="List").tap()
    page.wait_for_timeout(500)
    assert asked == ["beforeunload"]
    assert page.url.endswith("/shots")


def test_an_entry_is_struck_out_and_comes_back(visit, folder):
    page, before = visit.page, entries(folder)
    visit.go("/shots/noted")
    visit.check("noted")
    page.get_by_role("button", name="Strike out").first.tap()
    page.get_by_text("Struck out. It stays in the notebook").wait_for()
    assert entries(folder) == before[:-1]
    page.get_by_text("Struck out (1)").tap()
    page.get_by_role("button", name="Note it again").tap()
    page.get_by_text("Noted again").wait_for()
    assert entries(folder) == before


def test_the_bow_has_changed(visit, folder):
    page = visit.page
    visit.go("/rig")
    page.locator('[name="bow.brace_height"]').fill("8 in")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.get_by_role("link", name="The bow has changed").tap()
    assert page.get_by_label("What changed").input_value() == "brace"
    visit.check("change")
    page.get_by_role("button", name="Note it down").tap()
    page.get_by_text("Noted.").wait_for()
    assert entries(folder)[-1].kind == "change"
    assert entries(folder)[-1].rig_state.brace_height_in == 8


def test_what_is_bought_stays_ticked(visit):
    page = visit.page
    visit.go("/list")
    boxes = page.locator("[data-tick]")
    boxes.first.wait_for(timeout=240_000)
    visit.check("list")
    boxes.first.tap()
    page.reload()
    assert boxes.first.is_checked()
    assert not boxes.nth(1).is_checked()


def test_a_swipe_scrolls_over_the_map_and_a_tap_moves(visit):
    page = visit.page
    visit.go("/")
    page.locator("[data-walk]").wait_for(timeout=120_000)
    box = page.locator("svg.map").bounding_box()
    verdict = page.locator("[data-line-verdict]").bounding_box()
    assert verdict["y"] + verdict["height"] <= box["y"] < 740
    before, top = page.locator("[data-line-title]").inner_text(), page.evaluate("scrollY")
    x, y = box["x"] + 0.6 * box["width"], min(box["y"] + 0.5 * box["height"], 700)
    session = visit.context.new_cdp_session(page)

    def touch(kind, *points):
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", {"x": x, "y": y})
    for step in range(1, 13):
        touch("touchMove", {"x": x, "y": y - 25 * step})
    touch("touchEnd")
    page.wait_for_timeout(300)
    assert page.evaluate("scrollY") > top + 200
    assert page.locator("[data-line-title]").inner_text() == before
    page.wait_for_timeout(800)  # until the page has come to rest
    page.evaluate("scrollTo(0, 400)")
    box = page.locator("svg.map").bounding_box()
    page.touchscreen.tap(box["x"] + 0.7 * box["width"], box["y"] + 0.6 * box["height"])
    page.wait_for_function(
        "was => document.querySelector('[data-line-title]').textContent !== was", arg=before
    )
