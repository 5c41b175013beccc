"""Trade and launch model as two studies of one size, on figures made for the purpose; the book's look-ups beside them."""

import numpy as np
import pytest

from shaftwright.parameters import Range
from shaftwright.resources import table
from shaftwright.rules import sizes
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import LARGEST, Linear, Rule
from shaftwright.rules.sizes import ModelSize, book_on, combined, of_all_rigs

Z = 1.959964


def span(value, below=1.0, above=1.0):
    return Range(value=value, low=value - Z * below, high=value + Z * above)


def test_two_studies_are_joined_by_one_over_variance_within_and_between():
    """DerSimonian and Laird's weights (recalled): 8 of the trade with 2 lb, 12 and 6 of two laws with 1 lb."""
    found = combined(span(8.0, 2.0, 2.0), ModelSize(span(9.0), {"even": 12.0, "late": 6.0}))
    # of two with a variance v about one middle the squared distance is 2 v on the mean
    between = np.sqrt((4**2 + 2**2) / 2 / 2)
    own, other = 2**2 + between**2, 1 + between**2
    share = other / (own + other)
    assert found.between == pytest.approx(between)
    assert found.share == pytest.approx(share, rel=1e-4)
    assert found.used.value == pytest.approx(share * 8 + (1 - share) * 9, rel=1e-5)
    half = Z * np.hypot(2, between)
    assert found.used.high == pytest.approx(found.used.value + half, rel=1e-4)
    assert found.used.low == pytest.approx(found.used.value - half, rel=1e-4)
    assert (found.basis, found.trade, found.physics) == ("both", span(8.0, 2.0, 2.0), span(9.0))
    assert found.by_law == {"even": 12.0, "late": 6.0}


def test_a_lopsided_trade_stays_lopsided():
    found = combined(span(20.0, 1.0, 3.0), ModelSize(span(24.0), {"even": 24.0}))
    assert found.used.value - found.used.low == pytest.approx(Z * np.sqrt(1 + 8), rel=1e-4)
    assert found.used.high - found.used.value == pytest.approx(Z * np.sqrt(9 + 8), rel=1e-4)


def test_of_a_slope_each_studys_spread_counts_by_its_share():
    """What rigs differ by away from the usual arrow: of the trade 1 lb, of the model 3."""
    model = ModelSize(span(9.0, 3.0, 3.0), {"even": 10.0})
    level, slope = (combined(span(8.0), model, of_slope) for of_slope in (False, True))
    assert (slope.share, slope.between, slope.used.value) == (level.share, level.between, level.used.value)  # fmt: skip
    rigs = slope.share * 1 + (1 - slope.share) * 9
    assert slope.used.high - slope.used.value == pytest.approx(Z * np.sqrt(rigs + slope.between**2), rel=1e-4)  # fmt: skip
    assert level.used.high - level.used.value == pytest.approx(Z * np.sqrt(1 + level.between**2), rel=1e-4)  # fmt: skip


def test_without_a_law_the_trades_middle_is_the_models():
    found = combined(span(5.0), ModelSize(span(9.0), {}))
    assert (found.between, found.used.value) == (0, 5)


def test_sizes_that_both_know_exactly_are_shared_alike():
    exact = Range(value=2, low=2, high=2)
    found = combined(exact, ModelSize(exact, {"even": 2.0}))
    assert (found.share, found.used.value) == (0.5, 2)


@pytest.mark.parametrize(
    ("low", "high", "law", "ends"),
    [(0.0, 4.0, 1.0, "low"), (-0.5, 4.0, 1.0, None), (0.0, 4.0, -0.1, None), (-4.0, 0.0, -1.0, "high"),
     (-4.0, 0.5, -1.0, None), (-4.0, 0.0, 0.1, None), (0.0, 4.0, 0.0, "low"), (-4.0, 0.0, 0.0, "high"),
     (0.0, 4.0, -0.001, "low"), (-4.0, 0.0, 0.001, "high"), (0.0, 4.0, -0.003, None)],
)  # fmt: skip
def test_no_sign_is_let_in_that_both_deny(low, high, law, ends):
    middle = 0.2 if high > 1 else -0.2
    used = combined(
        Range(value=middle, low=low, high=high), ModelSize(span(law, 5, 5), {"even": law})
    ).used
    if ends == "low":
        assert used.low == 0
    elif ends == "high":
        assert used.high == 0
    else:
        assert used.low < 0 < used.high


def rule(code, **more):
    told = {
        "code": code, "name": f"r-{code.lower()}", "shift": "effective_bow_weight_lb", "form": "constant", "shift_unit": "lb",
        "value": 2, "low": 1, "high": 4, "saw": "a", "why": "b", "do": "c", "basis": "common_practice", "fires": {}, **more,
    }  # fmt: skip
    return Rule.model_validate({k: v for k, v in told.items() if v is not None})


CASES = {"longbow": {"value": 3, "low": 1, "high": 5}, "selfbow": {"value": 6, "low": 2, "high": 9}}
BOOK = RuleBook((rule("A01"), rule("A02", form={"step": "bow.kind"}, cases=CASES, value=None, low=None, high=None, silent={}),
                 rule("A03")))  # fmt: skip


@pytest.fixture
def model(monkeypatch):
    """A launch model that speaks of one rule and of one case of another, and of rules that are not there."""
    one = ModelSize(span(4.0), {"even": 4.0})
    told = {("A01", ""): one, ("A02", "selfbow"): one, ("A02", "hybrid"): one, ("Z99", ""): one}
    monkeypatch.setattr(sizes, "of_all_rigs", lambda: told)
    return one


def test_a_book_of_both_of_the_trade_and_of_the_model(model):
    assert book_on(BOOK, "trade") is BOOK
    both, physics = book_on(BOOK, "both"), book_on(BOOK, "physics")
    assert set(both.sizes) == set(physics.sizes) == {("A01", ""), ("A02", "selfbow")}
    assert both.basis == "both"
    assert physics.basis == "physics"
    assert both.find("A01").range_for(None) == combined(BOOK.rules[0].range_for(None), model).used
    assert physics.find("A01").range_for(None) == model.span
    for book in (both, physics):
        assert book.find("A02").range_for("longbow") == BOOK.rules[1].range_for("longbow")
        assert book.find("A03") == BOOK.rules[2]
        assert [r.code for r in book.rules] == ["A01", "A02", "A03"]
    assert physics.find("A02").range_for("selfbow") == model.span
    assert (physics.find("A01").basis, both.find("A01").basis) == ("calculated", "common_practice")
    told = physics.sizes["A01", ""]
    assert (told.share, told.basis, told.used, told.trade.value) == (0.0, "physics", model.span, 2)


def test_the_table_of_the_model_is_read_row_by_row():
    found = of_all_rigs()
    for row in table("physics_sizes"):
        one = found[row["code"], row["case"]]
        assert (one.span.value, one.span.low, one.span.high) == tuple(
            float(row[n]) for n in ("value", "low", "high")
        )
        assert one.by_law == {
            law: float(row[law]) for law in ("even", "late", "computed") if row[law]
        }
    assert len(found) == len(table("physics_sizes"))


def test_a_size_is_found_by_its_case_or_for_the_whole_rule(model):
    both = book_on(BOOK, "both")
    assert both.sizes_of("A01") is both.sizes_of("A01", "any") is both.sizes["A01", ""]
    assert both.sizes_of("A02", "selfbow") is both.sizes["A02", "selfbow"]
    assert both.sizes_of("A02", "longbow") is None
    assert both.sizes_of("A03") is None


def test_a_rule_is_found_by_code_name_or_retired_code():
    book = RuleBook(BOOK.rules, retired={"B01": "A03"})
    assert book.find("a02").code == book.find("R-A02").code == "A02"
    assert book.find("b01").code == "A03"
    assert book.find("C01") is None


def test_steps_are_read_in_their_unit():
    def line(per):
        return Linear.model_validate({"per": per, "of": "x", "from": 1})

    assert [line(p).per_unit for p in (2.5, "1/4 in", "10 gr", "0.5")] == [2.5, 0.25, 10, 0.5]
    assert [line(p).unit for p in (2.5, "1/4 in", "10 gr", "0.5")] == ["", "in", "gr", ""]


@pytest.mark.parametrize("name", ["low", "high"])
def test_no_effect_is_past_the_largest(name):
    way = -1 if name == "low" else 1
    assert getattr(rule("A01", **{name: way * LARGEST}), name) == way * LARGEST
    with pytest.raises(ValueError, match=f"{name} .* is past any effect; allowed: -100 to 100"):
        rule("A01", **{name: way * (LARGEST + 0.5)})
    case = {"value": 0, "low": 0, "high": 0, name: way * (LARGEST + 0.5)}
    with pytest.raises(ValueError, match=f"{name} .* is past any effect"):
        rule(
            "A01",
            form={"step": "bow.kind"},
            cases={"longbow": case},
            value=None,
            low=None,
            high=None,
            silent={},
        )


def test_a_step_shifts_nothing_in_a_case_it_does_not_name():
    assert BOOK.rules[1].range_for("recurve") is None
    assert BOOK.rules[1].range_for(None) is None
    assert BOOK.rules[1].range_for("longbow").value == 3
    assert BOOK.rules[0].range_for("longbow").value == 2
