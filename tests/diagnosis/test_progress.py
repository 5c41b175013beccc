"""The progress of a tuning: its offsets are those of the notebook, its bands those of `choose`."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

import shaftwright
from shaftwright.answers.choose.choose import choose
from shaftwright.answers.diagnose import MOST_ENDS, progress
from shaftwright.records.notebook import BareShaft
from shaftwright.render.pictures.bareshaft import progress_figure
from shaftwright.render.pictures.figure import to_svg

HERON = Path(__file__).resolve().parents[2] / "examples" / "heron_marsh"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def asked():
    return shaftwright.open(HERON).scenario


@pytest.fixture(scope="module")
def told(asked):
    return progress(asked)


def ends(asked):
    return [e for e in asked.entries if isinstance(e, BareShaft)]


def with_ends(asked, entries, lines):
    kept = [
        (e, n)
        for e, n in zip(asked.entries, asked.lines, strict=True)
        if not isinstance(e, BareShaft)
    ]
    both = [*kept, *zip(entries, lines, strict=True)]
    return replace(asked, entries=tuple(e for e, _ in both), lines=tuple(n for _, n in both))


@pytest.mark.slow
def test_it_begins_and_ends_with_the_bands_of_choose(asked, told):
    choice = choose(asked, asked.stock, None, 6)
    assert told.before == choice.band_before
    assert told.steps[-1].band == choice.band


def test_an_end_lies_where_the_notebook_says_by_hand(told):
    """Of examples/heron_marsh: bare 4, 1.5, -1.5 and fletched 0.5, -1, -2 in at 20 yd."""
    words, hits = told.steps
    assert hits.offset_in == pytest.approx((4.0 + 1.5 - 1.5) / 3 - (0.5 - 1.0 - 2.0) / 3)
    assert (words.offset_in, words.doubt_in, words.reads) == (None, None, "slightly_stiff")
    assert (words.fair, hits.fair) == (False, True)
    # a bare shaft and a broadhead were shot with the old limbs
    assert told.earlier == 2


def test_a_band_is_that_of_a_notebook_that_stops_there(asked, told):
    last = ends(asked)[-1]
    stopped = [(e, n) for e, n in zip(asked.entries, asked.lines, strict=True) if e is not last]
    before = replace(
        asked, entries=tuple(e for e, _ in stopped), lines=tuple(n for _, n in stopped)
    )
    assert told.steps[0].band == choose(before, before.stock, None, 6).band


@pytest.mark.slow
def test_shots_at_half_the_distance_count_double_and_more_shots_leave_less_doubt(asked):
    one = ends(asked)[-1]
    near = one.model_copy(update={"distance_yd": 10.0})
    many = one.model_copy(update={"bare": one.bare * 2, "fletched": one.fletched * 2})
    first, second, third = progress(with_ends(asked, [one, near, many], [900, 901, 902])).steps
    assert second.offset_in == pytest.approx(2 * first.offset_in)
    assert third.offset_in == pytest.approx(first.offset_in)
    assert 0 < third.doubt_in < first.doubt_in


@pytest.mark.slow
def test_of_many_ends_the_last_are_shown_and_the_others_counted(asked):
    one = ends(asked)[-1]
    count = MOST_ENDS + 2
    many = progress(
        with_ends(asked, [one.model_copy() for _ in range(count)], range(900, 900 + count))
    )
    assert len(many.steps) == MOST_ENDS
    # the broadhead of the old limbs, and the two ends beyond the most shown
    assert many.earlier == 3


def test_without_an_end_there_is_no_progress(asked):
    assert progress(with_ends(asked, [], [])) is None


def test_the_picture_says_it_in_words_and_draws_an_end_and_a_band_a_row(told):
    root = ET.fromstring(to_svg(progress_figure(told)))
    ids = {e.attrib.get("id", "") for e in root.iter()}
    assert "progress-end-3" in ids
    assert "progress-end-2" not in ids, "an end in words has no place"
    assert {f"progress-band-{row}" for row in range(4)} <= ids
    shown = " ".join(e.text or "" for e in root.iter(f"{SVG}text"))
    described = root.find(f"{SVG}desc").text
    for words in ("2 1/4 in right", "in words: slightly stiff", "before you shot"):
        assert words in shown
        assert words in described
    assert "460 to 600" in shown
    assert "475 to 535" in shown


def test_a_metric_rig_has_its_picture_in_metres():
    metric = shaftwright.open(HERON).what_if("units=metric").scenario
    root = ET.fromstring(to_svg(progress_figure(progress(metric))))
    shown = " ".join(e.text or "" for e in root.iter(f"{SVG}text"))
    assert "18 m (cm, right +)" in shown
    assert "20 yd" not in root.find(f"{SVG}desc").text
