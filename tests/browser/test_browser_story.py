"""The whole story in a real browser: from an empty folder to a shopping list, by finger, mouse and keyboard."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from browser_kit import ROOT, Visit

pytestmark = [pytest.mark.slow, pytest.mark.browser]

RADIOS = {"archer.hand": "right", "archer.release": "split", "bow.kind": "recurve", "bow.limbs": "standard",
          "bow.draw_weight.way": "own_draw", "bow.window.cut": "past_centre", "bow.rest": "shelf",
          "bow.plate.material": "leather", "string.material": "low_stretch", "purpose": "hunting"}  # fmt: skip
WORDS = {"rig": "fen-walker", "archer.draw_length": "28 1/4 in", "bow.draw_weight.lb": "47 lb",
         "bow.brace_height": "7 1/2 in", "bow.window.by": "1/8 in", "bow.plate.thickness": "1/16 in"}  # fmt: skip


@pytest.mark.parametrize(
    ("width", "scheme", "touch"), [(360, "light", True), (1280, "dark", False)]
)
def test_from_an_empty_folder_to_a_shopping_list(browser, address, folder, width, scheme, touch):
    visit = Visit(browser, address, width, scheme, touch)
    page = visit.page
    press = (lambda locator: locator.tap()) if touch else (lambda locator: locator.click())
    visit.go("/")
    visit.check("begin")
    press(page.get_by_role("button", name="Begin with the rig"))
    page.wait_for_url("**/rig")

    # a wrong answer is told at once, in the words of the commands
    page.get_by_label("Draw length", exact=True).fill("280")
    page.get_by_text("280 is out of range; allowed: 18 to 36 in").wait_for()
    assert page.get_by_label("Draw length", exact=True).get_attribute("aria-invalid") == "true"
    for name, value in RADIOS.items():
        press(page.locator(f'[name="{name}"][value="{value}"]'))
    for name, value in WORDS.items():
        page.locator(f'[name="{name}"]').fill(value)
    page.get_by_text("before any shot").wait_for()
    visit.check("rig")

    # left without saving, the answers are offered again
    page.once("dialog", lambda dialog: dialog.accept())
    page.goto(address + "/stock")
    page.goto(address + "/rig")
    press(page.get_by_role("button", name="Put them back"))
    assert page.locator('[name="bow.brace_height"]').input_value() == "7 1/2 in"
    press(page.get_by_role("button", name="Save, then the map"))
    page.wait_for_url(re.compile(r"/(\?.*)?$"))
    assert "fen-walker" in (folder / "rig.yaml").read_text()

    # another stock by file
    visit.go("/stock")
    page.get_by_label("Stock as CSV").set_input_files(ROOT / "examples" / "heron_marsh/stock.csv")
    press(page.get_by_role("button", name="Load it"))
    page.get_by_text("All 156 rows").wait_for()
    assert (folder / "stock.csv").read_bytes() == (
        ROOT / "examples" / "heron_marsh/stock.csv"
    ).read_bytes()
    visit.check("stock")

    # the map: move along it, and see why the build changes
    visit.go("/")
    page.locator("[data-walk]").wait_for()
    before = page.locator("[data-here]").inner_text()
    page.locator("svg.map").scroll_into_view_if_needed()
    box = page.locator("svg.map").bounding_box()
    if touch:
        page.touchscreen.tap(box["x"] + 0.7 * box["width"], box["y"] + 0.4 * box["height"])
    else:
        page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.4 * box["height"])
        page.mouse.down()
        page.mouse.move(box["x"] + 0.7 * box["width"], box["y"] + 0.4 * box["height"], steps=6)
        page.mouse.up()
    page.get_by_text(re.compile("acts (weaker|stiffer), as")).first.wait_for()
    assert page.locator("[data-here]").inner_text() != before
    press(page.get_by_role("button", name="Keep this one to compare"))
    page.get_by_text("This is the one you kept").wait_for()
    visit.check("map")
    told = page.locator("#steer-shaft option").all_inner_texts()
    names = page.locator("#steer-shaft option").evaluate_all("all => all.map(o => o.value)")
    spines = [re.search(r"\((.*)\)", text).group(1) for text in told]
    other = next(n for n, spine in zip(names, spines, strict=True) if spine != spines[0])
    page.get_by_label("Shaft", exact=True).select_option(other)
    page.get_by_role("heading", name=re.compile(f"^{re.escape(other)}, ")).wait_for()
    page.get_by_text(re.compile(f"^{re.escape(other)} instead of")).wait_for()
    visit.go("/builds")
    visit.check("builds")

    # bare shafts by tapping on a face
    visit.go("/shots")
    if page.locator("[data-arrow]").get_attribute("open") is None:
        press(page.locator("[data-arrow] summary"))
    page.get_by_label("Shaft", exact=True).first.select_option("MARSH-500")
    page.get_by_label("Point", exact=True).select_option("P175")
    page.get_by_label("Insert", exact=True).select_option("I25")
    page.get_by_label("Shaft length").fill("29 1/2 in")
    page.get_by_label("Distance").fill("15 yd")
    face = page.locator("[data-target]")
    spots = {
        "fletched": [(0.5, 0.5), (0.53, 0.46), (0.47, 0.52)],
        "bare": [(0.38, 0.5), (0.36, 0.48)],
    }
    for kind, places in spots.items():
        page.locator(f'[name="tap"][value="{kind}"]').check()
        size = face.bounding_box()
        for x, y in places:
            position = {"x": x * size["width"], "y": y * size["height"]}
            if touch:
                face.tap(position=position)
            else:
                face.click(position=position)
    assert page.locator("[data-dots] circle").count() == 5
    assert page.locator("[data-dots] .bare").count() == 2
    rights = [f.input_value() for f in page.locator('[name="hit-right"]').all()]
    assert float(rights[3]) == pytest.approx(-3.12, abs=0.4)
    visit.check("shots")
    press(page.get_by_role("button", name="Note it down").first)
    press(page.get_by_role("button", name="Yes, note it"))
    page.get_by_text("Noted, line").wait_for()
    page.locator(".now .do").wait_for(timeout=120_000)
    page.get_by_role("heading", name="What they say").wait_for(timeout=120_000)
    page.locator("[data-load-part] .figure, .causes").first.wait_for(timeout=120_000)
    assert "kind: bareshaft" in (folder / "notebook.yaml").read_text()
    visit.check("says")

    # the list
    visit.go("/list")
    press(page.get_by_role("button", name="Make the list"))
    page.get_by_role("heading", name=re.compile("Test kit")).wait_for(timeout=240_000)
    visit.check("list")
    visit.go("/files")
    with page.expect_download() as download:
        press(page.get_by_role("link", name="list.csv"))
    assert Path(download.value.path()).read_text().startswith("part,item")
    with page.expect_download() as download:
        press(page.get_by_role("link", name="Take everything (zip)"))
    assert Path(download.value.path()).read_bytes()[:2] == b"PK"
    visit.check("files")
    visit.close()


def test_by_keyboard_only(browser, address, folder):
    visit = Visit(browser, address, 1280)
    page, keys = visit.page, visit.page.keyboard
    visit.go("/")
    keys.press("Tab")
    assert visit.focused(".skip")
    keys.press("Enter")
    assert visit.focused("#main")
    visit.tab_to("main button")
    keys.press("Enter")
    page.wait_for_url("**/rig")
    for name, value in WORDS.items():
        if name in ("bow.draw_weight.lb", "bow.window.by", "bow.plate.thickness"):
            continue
        if name == "archer.draw_length":
            _radio(visit, "archer.hand", "right")
            _radio(visit, "archer.release", "split")
        if name == "bow.brace_height":
            _radio(visit, "bow.kind", "recurve")
            _radio(visit, "bow.limbs", "standard")
            _radio(visit, "bow.draw_weight.way", "own_draw")
            visit.tab_to('[name="bow.draw_weight.lb"]')
            keys.type("47 lb")
        visit.tab_to(f'[name="{name}"]')
        keys.type(value)
    _radio(visit, "bow.window.cut", "unknown")
    _radio(visit, "bow.rest", "shelf")
    _radio(visit, "string.material", "unknown")
    _radio(visit, "purpose", "three_d")
    visit.tab_to('button[value="map"]')
    keys.press("Enter")
    page.wait_for_url(re.compile(r"/(\?.*)?$"))
    page.locator("[data-walk]").wait_for()

    visit.tab_to("[data-plot]")
    before = page.locator("[data-title]").inner_text()
    length = float(page.locator("#steer-length").input_value())
    for _ in range(4):
        keys.press("ArrowRight")
    keys.press("Shift+ArrowUp")
    page.get_by_text(re.compile("acts weaker, as")).first.wait_for()
    assert float(page.locator("#steer-length").input_value()) == pytest.approx(
        length + 0.5, abs=0.01
    )
    page.locator("[data-said]").get_by_text("up front").wait_for(state="attached")
    assert page.locator("[data-title]").inner_text() != before
    keys.press("Home")
    page.get_by_text("Move, and the reasons appear here").wait_for()
    visit.check("map-keys")

    visit.tab_to('a[href="/shots"]', key="Shift+Tab")
    keys.press("Enter")
    page.wait_for_url("**/shots")
    if page.locator("[data-arrow]").get_attribute("open") is None:
        visit.tab_to("[data-arrow] summary")
        keys.press("Enter")
    visit.tab_to('[name="build.shaft"]')
    keys.type("PLAIN-500")
    visit.tab_to('[name="build.point"]')
    keys.type("P125")
    visit.tab_to('[name="build.insert"]')
    keys.type("I25")
    visit.tab_to('[name="build.length"]')
    keys.type("30 in")
    visit.tab_to('[name="distance"]')
    keys.type("12 yd")
    for right, up in (("0", "0"), ("1", "-1"), ("-1", "1"), ("-4", "0"), ("-3", "1")):
        visit.tab_to('[name="hit-right"]')
        keys.type(right)
        visit.tab_to('[name="hit-up"]')
        keys.type(up)
    visit.tab_to("main button[type=submit]")
    keys.press("Enter")
    page.get_by_text("3 fletched, 2 bare: right?").wait_for()
    keys.press("Enter")
    page.get_by_text("Noted, line").wait_for()
    text = (folder / "notebook.yaml").read_text()
    assert "PLAIN-500" in text
    assert "[-4.0, 0.0]" in text

    visit.tab_to('a[href="/list"]')
    keys.press("Enter")
    page.wait_for_url("**/list")
    page.locator("#arrows").wait_for(timeout=120_000)
    visit.tab_to("#arrows")
    keys.press("Control+A")
    keys.type("6")
    visit.tab_to("main button[type=submit]")
    keys.press("Enter")
    page.get_by_role("heading", name=re.compile("Test kit")).wait_for(timeout=240_000)
    visit.check("list-keys")
    visit.close()


def _radio(visit, name, value):
    """Choose of a group by Tab and arrows alone."""
    visit.tab_to(f'[name="{name}"]')
    for _ in range(12):
        if visit.focused(f'[name="{name}"][value="{value}"]'):
            visit.page.keyboard.press("Space")
            return
        visit.page.keyboard.press("ArrowDown")
    raise AssertionError(f"{name}={value} is not reached by arrows")


def test_two_tabs_and_a_stop_lose_nothing(browser, address, folder):
    shutil.copy(ROOT / "examples" / "heron_marsh/rig.yaml", folder / "rig.yaml")
    shutil.copy(ROOT / "examples" / "heron_marsh/stock.csv", folder / "stock.csv")
    first, second = Visit(browser, address, 1280), Visit(browser, address, 360, "dark")
    first.go("/rig")
    second.go("/rig")
    first.page.locator('[name="bow.brace_height"]').fill("7 5/8 in")
    first.page.get_by_role("button", name="Save", exact=True).click()
    first.page.get_by_text("Saved.", exact=True).wait_for()
    second.page.locator('[name="bow.maker_minimum_gr_per_lb"]').fill("9")
    second.page.get_by_text("has been saved elsewhere").wait_for()
    second.page.get_by_role("button", name="Save", exact=True).click()
    second.page.get_by_text("Nothing is lost. What you").wait_for()
    assert second.page.locator('[name="bow.maker_minimum_gr_per_lb"]').input_value() == "9"
    second.check("clash", ("409",))
    assert "7 5/8 in" in (folder / "rig.yaml").read_text()
    kept = "".join(p.read_text() for p in (folder / "kept").iterdir())
    assert "maker_minimum_gr_per_lb: 9" in kept

    first.close()
    second.close()


def test_without_script_everything_but_the_face_works(browser, address, folder):
    shutil.copy(ROOT / "examples" / "heron_marsh/rig.yaml", folder / "rig.yaml")
    shutil.copy(ROOT / "src" / "shaftwright" / "starter" / "stock.csv", folder / "stock.csv")
    visit = Visit(browser, address, 360, script=False)
    page = visit.page
    visit.go("/")
    page.locator("[data-walk]").wait_for(timeout=90_000)
    page.get_by_label("Length, in").fill("30")
    page.get_by_role("button", name="Go there").click()
    page.get_by_role("heading", name=re.compile("30\\sin, ")).wait_for()
    assert "length=30" in page.url
    visit.go("/rig")
    page.get_by_label("Draw length", exact=True).fill("280")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("280 is out of range").wait_for()
    page.get_by_label("Draw length", exact=True).fill("28 in")
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url("**/rig?saved=1")
    assert "draw_length: 28 in" in (folder / "rig.yaml").read_text()
    visit.close()


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "dark")])
def test_a_launch_is_seen_from_above_and_moves_only_when_asked(
    browser, address, folder, width, scheme
):
    for name, kept in (
        ("heron_marsh/rig.yaml", "rig.yaml"),
        ("heron_marsh/stock.csv", "stock.csv"),
    ):
        shutil.copy(ROOT / "examples" / name, folder / kept)
    visit = Visit(browser, address, width, scheme)
    page = visit.page
    visit.go("/")
    page.locator("[data-walk]").wait_for(timeout=120_000)
    page.get_by_role("link", name="See it leave the bow").click()
    page.get_by_role("heading", name="How it leaves the bow").wait_for(timeout=120_000)
    assert page.get_by_text("See it move").is_hidden()  # this reader asks for less motion
    page.get_by_text("Your system asks for less motion").wait_for()
    visit.check("launch-still")
    page.emulate_media(reduced_motion="no-preference")
    shaft = page.locator(".motion svg:visible polyline")
    assert shaft.count() == 0
    page.get_by_text("See it move").click()
    shaft.wait_for()
    assert shaft.count() == 1
    tip = page.locator(".motion svg:visible circle").first
    before = tip.evaluate("circle => circle.cx.animVal.value")
    page.wait_for_timeout(1500)
    assert tip.evaluate("circle => circle.cx.animVal.value") != before
    visit.check("launch-moving")
    visit.close()
