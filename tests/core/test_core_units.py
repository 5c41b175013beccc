"""Conversions against their definitions, and the reader against what archers write."""

import math
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shaftwright import units as q
from shaftwright.units import UNITS, convert, inches, read_quantity

#: NIST SP 811 (2008), Appendix B.8 and footnotes: exact by definition
NIST_SP_811 = {
    "mm": "0.001", "cm": "0.01", "m": "1", "in": "0.0254", "ft": "0.3048", "yd": "0.9144",
    "gr": "0.00006479891", "g": "0.001", "kg": "1", "oz": "0.028349523125",
    "lb": "4.4482216152605", "N": "1", "fps": "0.3048", "m/s": "1", "dB": "1",
}  # fmt: skip


def test_units_nist_sp_811_exact():
    assert set(UNITS) == set(NIST_SP_811)
    for symbol, size in NIST_SP_811.items():
        assert UNITS[symbol].exact == Fraction(size), symbol


def test_constants_nist_sp_811():
    assert q.GRAIN_KG == 64.79891e-6
    assert q.INCH_M == 0.0254
    assert q.GRAVITY_M_S2 == 9.80665
    assert pytest.approx(4.4482216152605, rel=1e-15) == q.POUND_FORCE_N
    assert pytest.approx(1.3558179483314004, rel=1e-15) == q.FOOT_POUND_J
    assert convert(1, "oz", "gr") == pytest.approx(437.5, rel=1e-15)
    assert pytest.approx(7000, rel=1e-15) == q.POUND_KG / q.GRAIN_KG


def test_energy_and_momentum_constants_exact_from_definitions():
    # printed also as 450,240 and 450,800: the exact figure from the definitions is 450,436.7
    assert pytest.approx(450_436.7, abs=0.05) == q.GRAIN_FPS2_PER_FOOT_POUND
    assert pytest.approx(225_218, abs=0.5) == q.GRAIN_FPS_PER_SLUG_FPS
    assert pytest.approx(32.08, abs=0.005) == 500 * 170**2 / q.GRAIN_FPS2_PER_FOOT_POUND


def test_units_against_scipy_constants():
    scipy_constants = pytest.importorskip("scipy.constants")
    for symbol, name in {"gr": "grain", "in": "inch", "ft": "foot", "yd": "yard", "oz": "oz",
                         "lb": "lbf"}.items():  # fmt: skip
        assert float(UNITS[symbol].exact) == pytest.approx(
            getattr(scipy_constants, name), rel=1e-15
        )


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("29 1/4 in", "in", 29.25), ("29-1/4", "in", 29.25), ("29.25", "in", 29.25), ("1/8", "in", 0.125),
        ("-1/8 in", "in", -0.125), ("+1/8 in", "in", 0.125), ("-1 1/2 in", "in", -1.5), ('29 1/4"', "in", 29.25),
        ("29 1/4″", "in", 29.25), ("29 inches", "in", 29.0), ("74 cm", "in", 74 / 2.54), ("740mm", "in", 740 / 25.4),
        ("2 ft", "in", 24.0), ("1 yd", "in", 36.0), ("32 g", "gr", 32 / 0.06479891), ("505 gr", "gr", 505.0),
        ("505 grains", "gr", 505.0), ("1 oz", "gr", 437.5), ("60 m/s", "fps", 60 / 0.3048), ("171 fps", "fps", 171.0),
        ("171 ft/s", "fps", 171.0), ("47 lb", "lb", 47.0), ("47 lbs", "lb", 47.0), ("209 N", "lb", 209 / 4.4482216152605),
        ("84.2 dB", "dB", 84.2), (".5", "in", 0.5), ("1e1", "in", 10.0), ("  28  in ", "in", 28.0), (28, "in", 28.0),
        (28.5, "in", 28.5), ("9/2 cm", "mm", 45.0),
    ],
)  # fmt: skip
def test_reader_takes_what_archers_write(text, unit, value):
    assert read_quantity(text, unit) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        (True, "in", "yes/no"), (False, "in", "yes/no"), (math.nan, "in", "finite"), (math.inf, "in", "finite"),
        (-math.inf, "gr", "finite"), (10**400, "in", "reason"), (10**16, "in", "reason"), ("1e999 in", "in", "finite"),
        ("1e308 m", "mm", "reason"), ("1e305 kg", "gr", "reason"), ("nan", "in", "not a quantity"),
        ("inf", "in", "unit 'inf' is not known|not a quantity"), ("", "in", "not a quantity"), ("in", "in", "not a quantity"),
        ("29 1/0 in", "in", "fraction over nought"), ("32 g", "in", "measures mass; use mm or cm or m or in"),
        ("28 in", "gr", "measures length; use gr or g or kg or oz"), ("47 lb", "gr", "measures force"),
        ("28 furlong", "in", "'furlong' is not known"), ("1,5 in", "in", "not a quantity"), ("28 in in", "in", "not a quantity"),
        ("0x1c", "in", "not a quantity|not known"), ("1_0", "in", "not a quantity"), ("29 1/4 1/4", "in", "not a quantity"),
        ("9" * 61, "in", "not a quantity"), ("28 1e3/4", "in", "not a quantity"), ("1/2/3", "in", "not a quantity|not known"),
    ],
)  # fmt: skip
def test_reader_refuses_with_a_reason(text, unit, words):
    with pytest.raises(ValueError, match=words) as caught:
        read_quantity(text, unit)
    assert len(str(caught.value)) < 140


def test_convert_refuses_what_no_number_holds():
    with pytest.raises(ValueError, match="out of all reason"):
        convert(1e308, "kg", "gr")


SAME = [(a, b) for a in UNITS for b in UNITS if UNITS[a].dimension == UNITS[b].dimension]


@given(st.sampled_from(SAME), st.floats(-1e9, 1e9))
def test_convert_there_and_back(units, value):
    there, back = units
    again = convert(convert(value, there, back), back, there)
    assert again == pytest.approx(value, rel=4e-16, abs=1e-300)


@given(st.sampled_from(SAME), st.floats(-1e9, 1e9))
def test_convert_is_within_one_rounding_of_the_exact_fraction(units, value):
    a, b = units
    exact = Fraction(value) * Fraction(NIST_SP_811[a]) / Fraction(NIST_SP_811[b])
    assert convert(value, a, b) == float(exact)


@given(st.sampled_from(sorted(UNITS)), st.integers(0, 999), st.integers(0, 63), st.booleans())
def test_reader_reads_every_64th_exactly(unit, whole, part, minus):
    assume(whole or part)
    sign = "-" if minus else ""
    text = f"{sign}{whole} {part}/64 {unit}"
    expected = (whole + part / 64) * (-1 if minus else 1)
    assert read_quantity(text, unit) == expected
    assert read_quantity(text.replace(" ", "-", 1) if whole else text, unit) == expected


@given(st.integers(-400 * 16, 400 * 16))
def test_inches_written_read_back_the_same(sixteenths):
    length = sixteenths / 16
    assert read_quantity(inches(length), "in") == length


@given(st.floats(-100, 100))
def test_inches_never_off_by_more_than_it_shows(length):
    fine = 1 / 128 if abs(length) < 1 else 1 / 64
    assert read_quantity(inches(length), "in") == pytest.approx(length, abs=fine + 1e-6)


@given(st.text(max_size=70))
def test_reader_only_ever_raises_value_error(text):
    for unit in ("in", "gr", "dB"):
        try:
            assert math.isfinite(read_quantity(text, unit))
        except ValueError:
            continue
