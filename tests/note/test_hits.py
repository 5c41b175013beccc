"""Hits as archers say them."""

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shaftwright.records.fields import hit_told, read_hit, read_hits

HUNDREDTHS = st.integers(-12_000, 12_000).map(lambda n: n / 100)
TENTHS = st.integers(-3_000, 3_000).map(lambda n: n / 10)
AXES = (("left", "l", -1), ("right", "r", 1)), (("high", "h", 1), ("low", "lo", -1))


@given(HUNDREDTHS, HUNDREDTHS)
def test_what_is_shown_in_inches_reads_back(across, up):
    assert read_hit(hit_told((across, up))) == pytest.approx((across, up), abs=1e-9)
    assert read_hit(f"{across}, {up}") == pytest.approx((across, up), abs=1e-9)


@given(TENTHS, TENTHS)
def test_what_is_shown_in_centimetres_reads_back(across, up):
    # 2.54 cm are one inch by definition (NIST SP 811)
    at = (across / 2.54, up / 2.54)
    assert read_hit(hit_told(at, "cm"), "cm") == pytest.approx(at, abs=1e-4)


@given(
    st.integers(0, 40), st.sampled_from(["", " 1/2", " 1/4", "-3/8"]), st.sampled_from(AXES[0]),
    st.integers(0, 40), st.sampled_from(AXES[1]), st.sampled_from([" ", ", ", ",", " and "]),
    st.booleans(), st.booleans(), st.booleans(),
)  # fmt: skip
def test_either_word_any_order_and_fractions(a, part, side, b, height, between, swap, long, spaced):
    gap = " " if spaced else ""
    one = f"{a}{part}{gap}{side[not long]}"
    two = f"{b}{gap}{height[not long]}"
    fraction = {"": 0, " 1/2": 0.5, " 1/4": 0.25, "-3/8": 0.375}[part]
    want = (side[2] * (a + fraction), height[2] * b)
    assert read_hit(between.join((two, one) if swap else (one, two))) == want


@given(st.lists(st.tuples(HUNDREDTHS, HUNDREDTHS), max_size=6))
def test_several_with_a_semicolon(hits):
    read = read_hits("; ".join(hit_told(hit) for hit in hits))
    assert len(read) == len(hits)
    for one, other in zip(read, hits, strict=True):
        assert one == pytest.approx(other, abs=1e-9)


@given(st.text('0123456789.,;/- lrhuodinwcemgtfpa"', max_size=20))
def test_whatever_is_typed_is_a_hit_or_a_fault(text):
    with contextlib.suppress(ValueError):
        assert all(math.isfinite(at) for at in read_hit(text))


@pytest.mark.parametrize(
    ("said", "word"),
    [("3", "write 3l 1h"), ("", "write 3l 1h"), ("3x", "write 3l 1h"), ("3l 2r", "left or right twice"),
     ("1h 2lo", "high or low twice"), ("3,5l 1h", "write 3.5"), ("3 gr l", "write 3l 1h"), ("1,2,3", "write 3l")],
)  # fmt: skip
def test_what_is_no_hit_is_answered_with_what_is(said, word):
    with pytest.raises(ValueError, match=word):
        read_hit(said)


def test_units_may_be_written_and_win():
    assert read_hit("5 cm r 1 in h", "in") == pytest.approx((5 / 2.54, 1), abs=1e-4)
    assert read_hit("1 in, -2 in", "cm") == (1, -2)
    assert read_hit("0", "cm") == read_hit("centre") == (0, 0)
