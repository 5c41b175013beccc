"""The rules against what is usually shot: recalled practice, no source (tables/usual_pairs.csv)."""

import runpy

import pytest

FOUND = runpy.run_path("scripts/usual_pairs.py")
PAIRS = FOUND["pairs"]()


def test_most_usual_ranges_meet_the_band():
    """A usual range meets the band where they share a spine; nothing is widened for it."""
    assert len(PAIRS) == 15
    assert sum(pair.meets for pair in PAIRS) >= 12


def test_off_is_told_from_the_nearer_edge_and_minus_is_weak():
    for pair in PAIRS:
        low, high = pair.usual
        assert low <= pair.middle - pair.off <= high
        assert (pair.off < 0) == (pair.middle < low)
        assert (pair.off > 0) == (pair.middle > high)


def test_what_the_rules_add_comes_to_the_middle():
    """Draw weights as in the table, typed in here."""
    weights = [40, 50, 60, 45, 55, 45, 30, 36, 40, 45, 50, 55, 60, 47, 55]
    for pair, weight in zip(PAIRS, weights, strict=True):
        assert weight + sum(pair.rules.values()) == pytest.approx(pair.middle, abs=1e-9)
        assert pair.weak < pair.middle < pair.stiff


def test_the_page_has_not_drifted():
    assert FOUND["PAGE"].read_text(encoding="utf-8") == FOUND["page"](), "run make pairs"
