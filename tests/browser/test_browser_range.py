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
