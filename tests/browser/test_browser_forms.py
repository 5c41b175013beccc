"""Forms under a finger: a face in centimetres, the fields of a change, a measure beside "I do not know"."""

from __future__ import annotations

import re

import pytest
from browser_kit import Visit
from test_browser_range import at_the_shots, bow

from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig

pytestmark = [pytest.mark.slow, pytest.mark.browser]


@pytest.fixture
def visit(browser, address, folder):
    bow(folder)
    rig = folder / "rig.yaml"
    text = re.sub("brace_height: .*", "brace_height: unknown", rig.read_text())
    rig.write_text(text + "\nunits: metric\n")
    found = Visit(browser, address, 360, touch=True, height=740)
    yield found
    found.close()


def test_a_tap_on_the_ring_of_20_is_20_cm(visit, folder):
    page = visit.page
    at_the_shots(visit)
    face = page.locator("[data-target]")
    ring = face.locator("circle.circle").nth(1)
    assert face.get_by_text("20", exact=True).count() == 1
    box = ring.bounding_box()
    page.get_by_text("a bare shaft").tap()
    page.touchscreen.tap(box["x"] + box["width"], box["y"] + box["height"] / 2)
    row = page.locator("[data-hit]").filter(has=page.locator('[name="hit-right"]')).nth(3)
    assert float(row.locator('[name="hit-right"]').input_value()) == pytest.approx(20, abs=1)
    # typed in either unit, the dot lies where it struck
    for typed in ("-20", "-200 mm", "-7.874 in"):
        row.locator('[name="hit-right"]').fill(typed)
        dot = page.locator("[data-dots] .bare")
        assert float(dot.get_attribute("cx")) == pytest.approx(-8, abs=0.01), typed
    page.locator("[data-arrow] summary").tap()
    page.get_by_label("Distance").fill("12")
    assert page.locator("[data-arrow-told]").inner_text().endswith(", 12 m")
    page.get_by_role("button", name="Note it down").first.tap()
    page.get_by_role("button", name="Yes, note it").tap()
    page.get_by_text("Noted, line").wait_for()
    entry = load_notebook(folder / "notebook.yaml").entries[-1]
    assert entry.bare[0].at[0] == -7.874
    assert entry.distance_yd == pytest.approx(12 / 0.9144)
    visit.check("metric-shots")


def test_a_change_asks_only_for_what_it_is_of(visit, folder):
    page = visit.page
    visit.go("/shots/other?kind=change")
    asked = page.locator('[name^="now."]:visible')
    assert asked.count() == 0
    page.get_by_label("What changed").select_option("string")
    assert [e.get_attribute("name") for e in asked.all()] == [
        "now.string_material", "now.string", "now.brace",
    ]  # fmt: skip
    page.get_by_label("What the string is made of now").select_option("polyester")
    # what was filled in is never hidden
    page.get_by_label("What changed").select_option("plunger")
    assert page.locator('[name="now.string_material"]').is_visible()
    page.get_by_label("What changed").select_option("string")
    visit.check("change-of-string")
    page.get_by_role("button", name="Note it down").tap()
    page.get_by_role("button", name="Write it into the rig").tap()
    page.wait_for_url(re.compile(r"/$"))
    assert load_rig(folder / "rig.yaml").string.material == "polyester"


def test_an_unknown_height_can_be_filled_in(visit, folder):
    page = visit.page
    visit.go("/rig")
    height = page.locator('[name="bow.brace_height"]')
    unknown = page.locator('[name="bow.brace_height.unknown"]')
    assert unknown.is_checked()
    height.fill("18 cm")
    assert not unknown.is_checked()
    unknown.tap()
    assert height.input_value() == ""
    height.fill("18 cm")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.get_by_text("Saved.").wait_for()
    assert load_rig(folder / "rig.yaml").bow.brace_height_in == pytest.approx(18 / 2.54)
