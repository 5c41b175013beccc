"""At the butt, with a phone of 360 x 740 and a finger: no tap is lost, and few are needed.

Ten tasks are counted in taps and scrolls; docs/phone.md shows the counts, and a count that is another one fails.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from browser_kit import ROOT, Visit, served

import shaftwright
from shaftwright.files.notebook import load_notebook
from shaftwright.render.page import sheet_html

pytestmark = [pytest.mark.slow, pytest.mark.browser]

FLETCHED = [(0.5, 0.5), (0.53, 0.46), (0.47, 0.52)]
BARE = [(0.3, 0.5), (0.27, 0.47), (0.32, 0.53)]
#: where `scripts/phone.py` wants the counts written
COUNTS = os.environ.get("SHAFTWRIGHT_TAPS")


class Finger:
    """A finger on the page, which counts how often it taps and how often it has to scroll."""

    def __init__(self, page):
        self.page, self.taps, self.scrolls = page, 0, 0
        self.session = page.context.new_cdp_session(page)

    def tap(self, locator, position=(0.5, 0.5)):
        """Tap a thing; scroll to it first where it is out of view or covered."""
        locator.wait_for()
        for _ in range(30):
            box = locator.bounding_box()
            x, y = box["x"] + position[0] * box["width"], box["y"] + position[1] * box["height"]
            assert 0 <= x < 360
            if 0 <= y < 740 and locator.evaluate(
                "(e, [x, y]) => { const f = document.elementFromPoint(x, y); return e.contains(f) || !!f?.closest('label')?.contains(e); }",
                [x, y],
            ):
                self.page.touchscreen.tap(x, y)
                self.taps += 1
                return
            self.scroll(-450 if y > 370 else 450)
        raise AssertionError("it is not reached by scrolling")

    def touch(self, kind, *at):
        points = [{"x": at[0], "y": at[1]}] if at else []
        self.session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def swipe(self, x, y, far):
        """Draw the finger over the page."""
        self.touch("touchStart", x, y)
        for step in range(1, 13):
            self.touch("touchMove", x, y + far * step / 12)
        self.touch("touchEnd")
        self.page.wait_for_timeout(300)

    def scroll(self, far):
        """As far as a swipe goes, to the pixel, so that counts are the same everywhere."""
        moved = self.page.evaluate(
            "far => { const was = scrollY; scrollBy({top: far, behavior: 'instant'}); return scrollY - was; }", -far
        )  # fmt: skip
        assert moved, "the page does not scroll here"
        self.scrolls += 1

    def face(self, places):
        for place in places:
            self.tap(self.page.locator("[data-target]"), place)

    def six(self):
        """Three fletched and three bare hits."""
        self.face(FLETCHED)
        self.tap(self.page.get_by_text("a bare shaft"))
        self.face(BARE)

    def note(self):
        """Keep them."""
        self.tap(self.page.get_by_role("button", name="Note it down").first)
        self.tap(self.page.get_by_role("button", name="Yes, note it"))
        self.page.get_by_text("Noted, line").wait_for()

    def counted(self, task):
        """The task is done: its counts are those of docs/phone.md."""
        if COUNTS:
            with Path(COUNTS).open("a", encoding="utf-8") as out:
                print(json.dumps([task, self.taps, self.scrolls]), file=out)
        else:
            shown = (ROOT / "docs" / "phone.md").read_text(encoding="utf-8")
            assert f"| {task} | {self.taps} | {self.scrolls} |" in shown


def bow(folder):
    folder.mkdir(exist_ok=True)
    for file in ("rig.yaml", "stock.csv", "notebook.yaml"):
        shutil.copy(ROOT / "examples" / "heron_marsh" / file, folder / file)


def at_the_shots(visit, at=""):
    """The page for shots, with the arrow to shoot next worked out."""
    visit.go(f"{at}/")
    visit.page.locator("[data-walk]").wait_for(timeout=120_000)
    visit.go(f"{at}/shots")


@pytest.fixture
def visit(browser, address, folder):
    bow(folder)
    found = Visit(browser, address, 360, touch=True, height=740)
    at_the_shots(found)
    yield found
    found.close()


def circles(page):
    return page.locator("[data-dots] circle").count(), page.locator("[data-dots] .bare").count()


def entries(folder):
    return load_notebook(folder / "notebook.yaml").entries


def test_six_hits_are_noted_in_nine_taps_without_a_scroll(visit, folder):
    page, finger, before = visit.page, Finger(visit.page), len(entries(folder))
    finger.six()
    page.get_by_text("3 fletched, 3 bare. The next tap is bare.").wait_for()
    finger.note()
    assert finger.taps <= 9
    assert finger.scrolls == 0
    finger.counted("Note six hits")
    entry = entries(folder)[-1]
    assert len(entries(folder)) == before + 1
    assert (len(entry.fletched), len(entry.bare)) == (3, 3)
    assert sum(shot.at[0] for shot in entry.bare) / 3 == pytest.approx(-5.3, abs=0.4)
    assert entry.date is not None
    # what was noted is no draft any more, and the next reading begins with the fletched ones
    assert circles(page) == (0, 0)
    assert page.locator('[name="tap"]:checked').get_attribute("value") == "fletched"
    visit.check("range-noted")


def test_a_wrong_tap_is_undone_at_the_face(visit, folder):
    page, finger = visit.page, Finger(visit.page)
    finger.face(FLETCHED)
    finger.tap(page.get_by_text("a bare shaft"))
    finger.face([(0.9, 0.1)])
    assert circles(page) == (4, 1)
    finger.tap(page.get_by_role("button", name="Undo"))
    assert circles(page) == (3, 0)
    page.get_by_text("Taken back. 3 fletched, 0 bare. The next tap is bare.").wait_for()
    finger.face(BARE)
    assert circles(page) == (6, 3)
    finger.note()
    assert len(entries(folder)[-1].bare) == 3
    finger.counted("Note six hits, one wrong tap among them undone")


@pytest.mark.parametrize("way", ["Reload", "Leave and come back", "Back"])
def test_taps_outlive_a_reload_and_a_walk_to_another_page(visit, folder, way):
    page, finger = visit.page, Finger(visit.page)
    page.on("dialog", lambda dialog: dialog.accept())
    finger.face(FLETCHED)
    finger.tap(page.get_by_text("a bare shaft"))
    finger.face(BARE[:2])
    if way == "Reload":
        page.reload()
    elif way == "Back":
        page.goto(visit.address + "/files")
        page.go_back()
    else:
        finger.tap(page.get_by_role("link", name="Files"))
        page.get_by_role("heading", name="Bring a file").wait_for()
        finger.tap(page.get_by_role("link", name="Shots"))
    page.get_by_text("What you had put in is back.").wait_for()
    assert circles(page) == (5, 2)
    # the kind and the hits go together: no fletched one goes in as bare
    assert page.locator('[name="tap"]:checked').get_attribute("value") == "bare"
    finger.face(BARE[2:])
    finger.note()
    assert len(entries(folder)[-1].bare) == 3
    if way != "Back":
        finger.counted(f"{way}, with five of six hits tapped")


def test_what_was_put_in_can_be_dropped(visit):
    page, finger = visit.page, Finger(visit.page)
    page.on("dialog", lambda dialog: dialog.accept())
    finger.face(FLETCHED)
    page.reload()
    page.get_by_role("button", name="Begin afresh").tap()
    page.get_by_text("0 fletched, 0 bare. The next tap is fletched.").wait_for()
    assert circles(page) == (0, 0)


def test_leaving_with_taps_is_warned_of(visit):
    page, finger, asked = visit.page, Finger(visit.page), []
    finger.face(FLETCHED[:1])
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.get_by_role("link", name="List", exact=True).tap()
    page.wait_for_timeout(500)
    assert asked == ["beforeunload"]
    assert page.url.endswith("/shots")


def test_an_entry_is_struck_out_and_comes_back(visit, folder):
    page, finger, before = visit.page, Finger(visit.page), entries(folder)
    finger.tap(page.get_by_role("link", name="Everything noted"))
    finger.tap(page.get_by_role("button", name="Strike out").first)
    page.get_by_text("Struck out. It stays in the notebook").wait_for()
    assert entries(folder) == before[:-1]
    finger.counted("Strike out the last entry")
    visit.check("noted")
    page.get_by_text("Struck out (1)").tap()
    page.get_by_role("button", name="Note it again").tap()
    page.get_by_text("Noted again").wait_for()
    assert entries(folder) == before


def test_the_bow_has_changed(visit, folder):
    page, finger = visit.page, Finger(visit.page)
    finger.tap(page.get_by_role("link", name="Rig", exact=True))
    finger.tap(page.get_by_text("Straight to a question"))
    finger.tap(page.get_by_role("link", name="Brace height"))
    height = page.locator('[name="bow.brace_height"]')
    finger.tap(height)
    height.fill("8 in")
    finger.tap(page.get_by_role("button", name="Save", exact=True))
    finger.tap(page.get_by_role("link", name="The bow has changed"))
    assert page.get_by_label("What changed").input_value() == "brace"
    visit.check("change")
    finger.tap(page.get_by_role("button", name="Note it down"))
    page.get_by_text("Noted.").wait_for()
    assert entries(folder)[-1].kind == "change"
    assert entries(folder)[-1].rig_state.brace_height_in == 8
    finger.counted("Change the bow: another brace height")


def test_what_is_bought_stays_ticked(visit):
    page, finger = visit.page, Finger(visit.page)
    finger.tap(page.get_by_role("link", name="List"))
    boxes = page.locator("[data-tick]")
    boxes.first.wait_for(timeout=240_000)
    finger.counted("See what to buy")
    finger.tap(boxes.first)
    page.reload()
    assert boxes.first.is_checked()
    assert not boxes.nth(1).is_checked()
    finger.counted("Tick what is bought")
    visit.check("list")


def test_a_second_bow_has_notes_and_drafts_of_its_own(browser, tmp_path):
    for name in ("first", "second"):
        bow(
            tmp_path / name
        )  # the same arrow at the same distance: nothing but the address tells them apart
    before = len(entries(tmp_path / "first"))
    with served(tmp_path) as address:
        visit = Visit(browser, address, 360, touch=True, height=740)
        page = visit.page
        page.on("dialog", lambda dialog: dialog.accept())
        at_the_shots(visit, "/bow/second")
        at_the_shots(visit, "/bow/first")
        finger = Finger(page)
        finger.face(FLETCHED)
        finger.tap(page.get_by_role("link", name="Another bow"))
        finger.tap(page.get_by_role("link", name="second"))
        finger.tap(page.get_by_role("link", name="Shots"))
        assert circles(page) == (0, 0)  # what was tapped belongs to the other bow
        finger.six()
        finger.note()
        assert len(entries(tmp_path / "second")) == before + 1
        assert len(entries(tmp_path / "first")) == before
        finger.counted("Three hits, then six of a second bow")
        visit.go("/bow/first/shots")
        page.get_by_text("What you had put in is back.").wait_for()
        assert circles(page) == (3, 0)
        visit.check("second-bow")
        visit.close()


def test_the_sheet_keeps_an_end_without_a_network_and_goes_in_once(browser, tmp_path, folder):
    bow(folder)
    (folder / "notebook.yaml").unlink()
    made = tmp_path / "sheet.html"
    made.write_text(sheet_html(shaftwright.open(folder).sheet().result), encoding="utf-8")
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True, offline=True
    )
    page = context.new_page()
    trouble = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("request", lambda asked: None if asked.url.startswith("file:") else trouble.append(asked.url))  # fmt: skip
    page.goto(made.as_uri())
    finger, face = Finger(page), page.locator("#target svg")
    for place in (*FLETCHED, (0.7, 0.5), (0.72, 0.47)):
        finger.tap(face, place)
    page.reload()
    finger.tap(face, (0.68, 0.53))
    finger.tap(page.locator("#keep"))
    finger.tap(page.locator("#copy:enabled"))
    page.locator("#lines").wait_for()
    finger.counted("Keep an end on the sheet, with no network and a reload, and copy it")
    copied = tmp_path / "range.yaml"
    copied.write_text(page.locator("#lines").input_value() * 2, encoding="utf-8")  # pasted twice
    context.close()
    assert trouble == []
    for told in ("1 entry noted", "Nothing new"):
        done = subprocess.run(
            [sys.executable, "-m", "shaftwright", "note", str(folder), "--from", str(copied)],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert told in done.stdout
    (entry,) = entries(folder)
    assert (len(entry.fletched), len(entry.bare)) == (3, 3)


def test_a_swipe_scrolls_over_the_map_and_a_tap_moves(visit):
    page = visit.page
    visit.go("/")
    page.locator("[data-walk]").wait_for(timeout=120_000)
    box = page.locator("svg.map").bounding_box()
    verdict = page.locator("[data-line-verdict]").bounding_box()
    assert verdict["y"] + verdict["height"] <= box["y"] < 740
    before, top = page.locator("[data-line-title]").inner_text(), page.evaluate("scrollY")
    x, y = box["x"] + 0.6 * box["width"], min(box["y"] + 0.5 * box["height"], 700)
    Finger(page).swipe(x, y, -300)
    assert page.evaluate("scrollY") > top + 200
    assert page.locator("[data-line-title]").inner_text() == before
    page.wait_for_timeout(800)  # until the page has come to rest
    page.evaluate("scrollTo(0, 400)")
    box = page.locator("svg.map").bounding_box()
    page.touchscreen.tap(box["x"] + 0.7 * box["width"], box["y"] + 0.6 * box["height"])
    page.wait_for_function(
        "was => document.querySelector('[data-line-title]').textContent !== was", arg=before
    )
