"""Map, ladder and band: their numbers agree with the answer they are drawn from, and they say it in words."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from shaftwright.answers.choose.choose import choose, ladder_of
from shaftwright.answers.choose.density import band_curves
from shaftwright.answers.choose.map import build_map
from shaftwright.answers.scenario import scenario
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.band import spine_band
from shaftwright.records.stock import shaft_facts
from shaftwright.render.pictures.choice import choice_figure
from shaftwright.render.pictures.figure import to_svg
from shaftwright.render.pictures.map import map_sheet
from shaftwright.render.screens.choose import choice_text
from shaftwright.render.words import spine_told

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SVG = "{http://www.w3.org/2000/svg}"

PICTURES = ("map", "ladder", "band")


def answer(rig="heron_marsh", stock=True, notebook=False, purpose=None):
    on_shelf = load_stock([str(EXAMPLES / "heron_marsh/stock.csv")]) if stock else None
    book = load_notebook(EXAMPLES / "heron_marsh/notebook.yaml")
    told = (on_shelf, book.entries, book.lines) if notebook else ()
    asked = scenario(load_rig(EXAMPLES / f"{rig}/rig.yaml"), purpose, *told)
    return choose(asked, on_shelf, None, 6)


@pytest.fixture(scope="module")
def choices():
    return {
        "stock": answer(),
        "no stock": answer(stock=False),
        "shots": answer(notebook=True),
        "longbow": answer("long_fen"),
        "left-handed": answer("reed_lark"),
    }


NAMES = ["stock", "no stock", "shots", "longbow", "left-handed"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow
def test_strip_is_the_band_turned_round(choices, name):
    """Walk along the strip's edges: there the band, worked out anew, ends at the shaft's spine."""
    choice = choices[name]
    drawn = build_map(choice)
    stated = drawn.levels.index(choice.band.chance)
    asked, checked = choice.question, 0
    for side, end in ((0, "low"), (1, "high")):
        edge = drawn.strips[stated, side]
        inside = (edge > drawn.lowest_gr) & (edge < drawn.highest_gr)
        for i in np.flatnonzero(inside)[::6]:
            build = asked.reference_build(float(drawn.length_in[i]), float(edge[i]))
            if choice.listed:
                one = choice.ranking.builds.take([choice.listed[0].index])
                if one.insert_gr[0] or one.stiffening_gr[0] or one.tail_gr[0] != build.tail_gr[0]:
                    continue  # the reference build lacks these; the shifts are checked without a stock
            band = spine_band(asked.demand(build), build, asked.belief, choice.band.chance)
            assert getattr(band, end) == pytest.approx(drawn.spine_mils, rel=0.01)
            checked += 1
    assert checked or choice.listed


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow
def test_middle_curve_runs_where_builds_are_in_the_middle(choices, name):
    """A listed build right on its own curve is no pound off; one above the curve is weak."""
    choice = choices[name]
    for shaft, build in enumerate(choice.listed):
        drawn = build_map(replace(choice, listed=choice.listed[shaft:]))
        middle = np.interp(build.length_in, drawn.length_in, drawn.curves[0].front_gr)
        if np.isnan(middle):
            continue
        above = build.front_gr - middle
        assert abs(build.mismatch_lb.mid) < 0.3 or np.sign(build.mismatch_lb.mid) == -np.sign(above)
        if abs(above) < 2:
            assert abs(build.mismatch_lb.mid) < 0.5


@pytest.mark.parametrize("name", NAMES)
def test_longer_or_heavier_in_front_is_weaker_on_the_map(choices, name):
    """Common practice, no source: a longer shaft and a heavier point both weaken an arrow."""
    drawn = build_map(choices[name])
    for curve in drawn.curves:
        shown = curve.front_gr[~np.isnan(curve.front_gr)]
        assert np.all(np.diff(shown) < 0)
    assert np.all(drawn.strips[:, 0] <= drawn.strips[:, 1])
    for inner, outer in zip(drawn.strips[:-1], drawn.strips[1:], strict=True):
        assert np.all(outer[0] <= inner[0] + 1e-6)
        assert np.all(outer[1] >= inner[1] - 1e-6)


def test_mass_floor_is_the_makers_minimum(choices):
    choice = choices["stock"]
    drawn = build_map(choice)
    one = choice.ranking.builds.take([choice.listed[0].index])
    front = np.interp(30.0, drawn.length_in, drawn.floor_gr)
    bare = 30.0 * one.gr_per_in[0] + front + one.tail_gr[0] - one.fletching_gr[0]
    assert bare / choice.ranking.own_lb == pytest.approx(8.0)


@pytest.mark.parametrize("name", NAMES)
def test_ladder_ends_at_the_effective_bow_weight(choices, name):
    drawn = ladder_of(choices[name])
    assert drawn.rungs[0].start == drawn.stated_lb
    for before, after in zip(drawn.rungs[:-1], drawn.rungs[1:], strict=True):
        assert after.start == pytest.approx(before.end)
    assert drawn.rungs[-1].end == pytest.approx(drawn.total.mid)
    for rung in drawn.rungs:
        assert rung.low <= rung.adds + 1e-9
        assert rung.high >= rung.adds - 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_density_holds_the_stated_chance_between_stiffest_and_weakest(choices, name):
    drawn = band_curves(choices[name])
    for curve in drawn.curves:
        x, y = drawn.spine_mils, curve.density
        inside = (x >= curve.band.low) & (x <= curve.band.high)
        step = x[1] - x[0]
        assert y.sum() * step == pytest.approx(1.0, abs=0.03)
        assert y[inside].sum() * step == pytest.approx(curve.band.chance, abs=0.06)
    assert drawn.curves[0].name.startswith("before") == (choices[name].band_before is not None)


@pytest.mark.parametrize("picture", PICTURES)
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow
def test_picture_stands_in_a_page_and_says_itself_in_words(choices, name, picture):
    svg = to_svg(choice_figure(choices[name], picture))
    root = ET.fromstring(svg)
    assert root.attrib["id"] == picture
    assert len(root.find(f"{SVG}desc").text) > 60
    assert svg == to_svg(choice_figure(choices[name], picture))
    told = " ".join(e.text or "" for e in root.iter(f"{SVG}text"))
    assert "picture" not in told


def test_map_names_length_and_mass_with_units(choices):
    told = to_svg(choice_figure(choices["stock"], "map"))
    shown = choices["stock"].listed[0].shaft
    for words in ("shaft length (in)", "up front (gr)", "shortest safe", "uncut", shown):
        assert words in told


@pytest.mark.parametrize("name", ["stock", "longbow"])
@pytest.mark.slow
def test_a_place_stands_on_the_sheet_where_matplotlib_draws_it(choices, name):
    """The page points at places of the map by the sheet's edges; the marks of builds are the witnesses."""
    drawn = build_map(choices[name])
    sheet = map_sheet(drawn, "map-x")
    root = ET.fromstring(sheet.svg)
    assert root.attrib["viewBox"].split() == ["0", "0", f"{sheet.width:g}", f"{sheet.height:g}"]
    for mark in drawn.marks:
        (place,) = root.findall(f".//{SVG}g[@id='map-x-build-{mark.rank}']//{SVG}use")
        assert (float(place.attrib["x"]), float(place.attrib["y"])) == pytest.approx(
            sheet.at(mark.length_in, mark.front_gr), abs=0.2
        )


def test_ladder_shows_no_stiffness_of_a_build(choices):
    """Two pound figures to be made equal are never shown: only the bow's side stands on the ladder."""
    told = to_svg(choice_figure(choices["stock"], "ladder"))
    root = ET.fromstring(told)
    words = " ".join(e.text or "" for e in root.iter())
    for build in choices["stock"].listed:
        assert build.shaft not in words
        assert f"{31499.2 / build.spine_mils:.1f}" not in words


def test_band_labels_the_stiff_end(choices):
    root = ET.fromstring(to_svg(choice_figure(choices["stock"], "band")))
    texts = [e for e in root.iter(f"{SVG}text") if e.text and e.text.endswith(" stiffer")]
    assert len(texts) == 1
    assert "\N{LEFTWARDS ARROW}" in texts[0].text


def test_band_shows_every_spine_of_the_stock_or_counts_it(choices):
    """A stroke or a count for each; spines of the stock's rows read apart from the picture."""
    for name in ("stock", "longbow"):
        choice = choices[name]
        by_material = {}
        for item in (i for i in choice.candidates.items if i.kind == "shaft"):
            spine = item.spine_mils or shaft_facts(item).spine_mils
            by_material.setdefault(item.material, set()).add(round(spine, 6))
        root = ET.fromstring(to_svg(choice_figure(choice, "band")))
        told = " ".join(e.text or "" for e in root.iter(f"{SVG}text"))
        for material, spines in by_material.items():
            strokes = root.findall(f".//{SVG}g[@id='band-sizes-{material}']//{SVG}use")
            beyond = re.search(rf"{material}( \(and [^)]*\))?", told)[0]
            counted = sum(int(n) for n in re.findall(r"\d+", beyond))
            assert len(strokes) + counted == len(spines), (name, material)


@pytest.mark.parametrize("name", ["stock", "shots", "longbow"])
def test_band_is_told_in_the_figures_of_the_command(choices, name):
    told = ET.fromstring(to_svg(choice_figure(choices[name], "band")))
    words = {e.text for e in told.iter(f"{SVG}text")}
    band, printed = choices[name].band, choice_text(choices[name])
    for mils in (band.low, band.mid, band.high):
        shown = spine_told(mils, choices[name].material == "wood")
        assert shown in words
        assert shown in printed


def test_every_colour_is_of_the_palette(choices):
    from shaftwright.render.pictures.figure import PALETTE

    for picture in PICTURES:
        svg = to_svg(choice_figure(choices["shots"], picture))
        bare = re.findall(r'(?:fill|stroke)="(#[0-9a-f]{6})"', svg)
        assert set(bare) <= set(PALETTE.values())
