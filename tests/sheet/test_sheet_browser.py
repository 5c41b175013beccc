"""The sheet in a real browser: printed on one page, tapped on a phone without a network."""

from __future__ import annotations

import re

import pytest
import yaml

from shaftwright.records.notebook import ENTRY
from shaftwright.render.page import sheet_html

pytestmark = [pytest.mark.slow, pytest.mark.browser]


@pytest.fixture(scope="module")
def file(sheet, tmp_path_factory):
    made = tmp_path_factory.mktemp("sheet") / "sheet.html"
    made.write_text(sheet_html(sheet), encoding="utf-8")
    return made


@pytest.fixture
def phone(chrome, file):
    context = chrome.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True, offline=True
    )
    page = context.new_page()
    page.trouble = []
    page.on("pageerror", lambda error: page.trouble.append(str(error)))
    page.on("console", lambda m: page.trouble.append(m.text) if m.type == "error" else None)
    page.goto(file.as_uri())
    yield page
    assert page.trouble == []
    context.close()


def tap(page, *points):
    box = page.locator("#target svg").bounding_box()
    for x, y in points:
        page.touchscreen.tap(
            box["x"] + box["width"] * (0.5 + x), box["y"] + box["height"] * (0.5 + y)
        )


def end(page, x):
    tap(page, (-0.03, 0), (0.03, 0), (0, 0.03), (x - 0.02, 0), (x + 0.02, 0), (x, 0.03))


def test_six_taps_name_the_row_without_a_scroll(phone, sheet):
    assert "Shoot three and three" in phone.inner_text("#answer")
    end(phone, 0.25)
    # half of the face is 16 in at 20 yd
    way = sheet.rows[0].at(8.0, "weak")
    assert re.match(r"Bare (3 3/4|4) in right\.", phone.inner_text("#answer"))
    assert f"Row {way.row}:" in phone.inner_text("#answer")
    phone.tap("#keep")
    assert phone.evaluate("scrollY") == 0
    assert phone.inner_text("#now").startswith(f"Row {way.row}:")
    assert phone.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_a_wrong_tap_is_undone_and_a_reload_loses_nothing(phone):
    end(phone, 0.25)
    phone.tap("#undo")
    assert "2 bare so far" in phone.inner_text("#answer")
    phone.reload()
    assert "2 bare so far" in phone.inner_text("#answer")
    tap(phone, (0.25, 0.03))
    told = phone.inner_text("#answer")
    assert "Row" in told
    phone.tap("#keep")
    phone.locator("#count:text-is('1')").wait_for(state="attached")
    phone.reload()
    assert phone.inner_text("#count") == "1"
    phone.tap("#drop")
    assert phone.inner_text("#answer") == told


def test_marks_and_height_come_before_the_row(phone):
    end(phone, 0.1)
    phone.select_option("#marks", "plate")
    assert phone.inner_text("#answer").startswith("Marks: stop")
    phone.select_option("#marks", "none")
    for _ in range(3):
        phone.tap("#undo")
    tap(phone, (0, 0.3), (0.02, 0.32), (-0.02, 0.31))
    assert "low: nocking point down" in phone.inner_text("#answer")


def test_far_aside_stops_until_marks_were_looked_for(phone, sheet):
    end(phone, 0.44)
    assert "Stop: look for marks" in phone.inner_text("#answer")
    phone.select_option("#marks", "none")
    assert f"Row {sheet.rows[0].at(14, 'weak').row}:" in phone.inner_text("#answer")


def test_a_flier_is_left_out_as_next_leaves_it_out(phone, sheet):
    tap(phone, (-0.03, 0), (0.03, 0), (0, 0.03), (0.23, 0), (0.25, 0.03), (-0.3, 0.3))
    told = phone.inner_text("#answer")
    assert re.match(r"Bare (3 3/4|4) in right\. One flier left out\.", told)
    assert f"Row {sheet.rows[0].at(8.0, 'weak').row}:" in told


def test_copied_lines_are_entries_of_the_arrow_shot(phone, sheet):
    end(phone, 0.25)
    phone.tap("#keep")
    phone.tap("#copy")
    (line,) = yaml.safe_load(phone.input_value("#lines"))
    entry = ENTRY.validate_python({**line, "date": str(line["date"])})
    assert (entry.build.shaft, entry.distance_yd) == (
        sheet.rows[0].shaft,
        sheet.rows[0].distance_yd,
    )
    assert len(entry.bare) == len(entry.fletched) == 3
    assert sum(s.at[0] for s in entry.bare) / 3 == pytest.approx(4.0, abs=0.2)


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_it_prints_on_one_page(chrome, file, size):
    page = chrome.new_page()
    page.goto(file.as_uri())
    assert re.findall(rb"/Count (\d+)", page.pdf(format=size)) == [b"1"]
    page.close()


def test_nothing_of_a_stock_can_end_the_script_and_nothing_is_fetched(sheet):
    from dataclasses import replace

    bad = replace(sheet.rows[0], shaft="</script><img src=x>")
    page = sheet_html(replace(sheet, rows=(bad, *sheet.rows[1:])))
    assert page.count("</script>") == 1
    assert "<img" not in page
    assert "default-src &#39;none&#39;; style-src &#39;sha256-" in page
    assert not re.search(r"(src|href)=[\"']?http", page)
