"""The worlds of calibrate/worlds are what they say, and see an overconfident product as such."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
before = list(sys.path)
sys.path.insert(0, str(ROOT))
from calibrate.worlds import bands, launched, obeying, oracle, page, sizes, world  # noqa: E402
from calibrate.worlds.sizes import Bow, Numbers  # noqa: E402

sys.path[:] = before  # calibrate/ holds modules of common names

PLAIN = Bow(50.0, 28.0, "recurve", "standard", False, False, 110.0)
ZERO = Numbers(28.0, 125.0, 25.0, 0.147)
SIDE = 0.138 - 0.147
SEEDS = range(69_000, 69_012)


@pytest.fixture(scope="module")
def trade():
    return [world.elsewhere(seed, "trade") for seed in SEEDS]


def test_every_size_of_the_trade_s_world_lies_in_the_trade_s_range(trade):
    for one in trade:
        for name, (low, high) in sizes.ranges().items():
            assert low <= one.sizes[name] <= high, name


def test_the_trade_s_zero_wants_the_draw_weight(trade):
    """Recurve, polyester, 28 in of draw and shaft, 125 gr: what the table calls its reference."""
    for one in trade:
        wanted = sizes.trade_lb(PLAIN, one.sizes | {"own": 0.0}, ZERO, SIDE, 7.5)
        assert wanted == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("change", "low", "high"),
    [
        ({"length_in": 29.0}, 3, 6),
        ({"front_gr": 200.0}, 0.55 * 7, 1.45 * 7),
        ({"tail_gr": 35.0}, -2, -0.5),
    ],
)
def test_a_change_does_what_the_trade_says_it_may(trade, change, low, high):
    for one in trade:
        first, then = (
            sizes.trade_lb(PLAIN, one.sizes, arrow, SIDE, 7.5)
            for arrow in (ZERO, replace(ZERO, **change))
        )
        assert low <= then - first <= high


def test_half_as_wide_again_with_fat_tails():
    random = np.random.default_rng(1)
    lengths = np.array([sizes.drawn(random, wide=True)["length"] for _ in range(4000)])
    low, high = sizes.ranges()["length"]
    off = np.abs(lengths - (low + high) / 2) / ((high - low) / 2)
    assert np.mean(off <= 1.5) == pytest.approx(0.95, abs=0.015)
    assert np.mean(off > 3) > 0.002  # a normal of these 95 % has 0.00009


def test_reversed_turns_front_and_tail_round_about_the_usual_arrow():
    turned = [w for seed in SEEDS if (w := world.elsewhere(seed, "reversed")).turned]
    assert 1 <= len(turned) <= 8  # a third of twelve
    for one in turned:
        straight = world.elsewhere(one.seed, "trade")
        usual = sizes.usual_arrow(one.bow)
        assert one.wanted_by_numbers(usual) == pytest.approx(straight.wanted_by_numbers(usual))
        for change in ({"front_gr": usual.front_gr + 50}, {"tail_gr": usual.tail_gr + 10}):
            other = replace(usual, **change)
            moved, trade_moved = (
                w.wanted_by_numbers(other) - w.wanted_by_numbers(usual) for w in (one, straight)
            )
            assert moved == pytest.approx(-trade_moved)
            assert moved != 0


def test_worlds_differ_in_the_truth_only():
    one, other = (world.elsewhere(69_000, name) for name in ("trade", "wide"))
    assert one.rig == other.rig
    assert (one.fletched_sd, one.slope) == (other.fletched_sd, other.slope)
    assert one.sizes["own"] != other.sizes["own"]


def test_an_end_in_eight_is_shot_without_the_tape_it_is_noted_with(trade):
    """The tail of a forgotten tape is lighter than the notebook says, so the truth reads off."""
    one, arrow = trade[0], oracle.candidates(trade[0], ["MARSH-500"])[0]
    flown = []
    wanted = type(one).wanted_lb

    def seen(self, arrow):
        flown.append(arrow.tail_gr)
        return wanted(self, arrow)

    type(one).wanted_lb = seen
    try:
        told = [one.shoot(arrow) for _ in range(160)]
    finally:
        type(one).wanted_lb = wanted
    assert all(entry["taped"] and entry["build"] == arrow.build() for entry in told)
    without = np.mean([tail < arrow.tail_gr for tail in flown])
    assert 0.05 < without < 0.25


def test_launches_are_smoothed_over_settings_and_raw_at_the_archer_s_own():
    steps = np.zeros((4, 4, launched.SETTINGS))
    steps[0] = 0.05 * np.array(launched.STEPS[0])[:, None]  # 5 % an inch
    steps[0, 1, 0] = 0.5  # the archer's own setting chatters there
    usual = Numbers(29.5, 175.0, 25.0, 0.147)
    found = launched.Launched(np.array([29.5, 175.0, 25.0, 0.0]), steps, 0)
    longer = replace(usual, length_in=29.5 + launched.STEPS[0][1])
    assert found.effect(usual, 0.0, raw=True) == found.effect(usual, 0.0, raw=False) == 0
    assert found.effect(longer, 0.0, raw=False) == pytest.approx(0.05 * launched.STEPS[0][1])
    assert found.effect(longer, 0.0, raw=True) == pytest.approx(0.5)


def test_a_band_that_states_half_its_doubt_is_seen():
    """Of a normal's truths half the stated spread's 80 % holds 48 %: 2 Phi(0.64) - 1."""
    truth = np.random.default_rng(2).normal(0, 6, 4000)

    def stated(sd):
        ends = sd * np.array([0.6745, 1.2816, 1.96])
        return np.column_stack(
            [truth, 0 * truth, *np.tile(-ends, (4000, 1)).T, *np.tile(ends, (4000, 1)).T]
        )

    honest, bold = bands._held(stated(6.0)), bands._held(stated(3.0))
    assert honest["held80"] == pytest.approx(0.80, abs=0.02)
    assert honest["median"] == pytest.approx(0.674, abs=0.03)
    assert bold["held80"] == pytest.approx(0.478, abs=0.03)
    assert bold["rms"] == pytest.approx(2.0, abs=0.1)


def test_the_page_says_no_to_a_product_that_is_too_sure():
    def judged(held, median):
        one = object.__new__(page.Judged)
        f = dict.fromkeys(("held50", "held80", "held95"), held) | {"median": median, "width": 10.0}
        keys = [f"{n} {p}" for n in (0, *bands.AFTER) for p in bands.PLACES]
        one.worlds, one.bands, one.archers = ["trade"], {"trade": dict.fromkeys(keys, f)}, {}
        return one

    bold, honest = judged(0.60, 1.1), judged(0.80, 0.7)
    assert sum("**no**" in row for row in page._musts(bold, honest, {})) == 3
    assert not any("**no**" in row for row in page._musts(honest, honest, {}))
    timid = judged(0.97, 0.4)
    assert sum("**no**" in row for row in page._musts(timid, honest, {})) == 1


def test_steps_that_worsened_and_archers_truly_inside_are_counted():
    row = {"world": "trade", "t_in": 2.5, "changes": 2, "ends": 5, "ranges": [[-1, 1, 0.8, 0.5]],
           "cpu_s": 0.0, "fault": "", "all_ends": 9, "straight_in": 1.0}  # fmt: skip
    rows = [
        row
        | {
            "off_in": -2.0,
            "straight_in": 3.0,
            "moves": [["cut", 4.0, -2.0], ["point", -2.0, -2.1]],
        },
        row | {"off_in": 3.0, "moves": [["shaft", 1.0, -3.0], ["point", -3.0, 3.0]]},
        row | {"off_in": None, "straight_in": None, "moves": []},
    ]
    found = obeying.figures(rows)
    assert found["inside"] == found["first"] == pytest.approx(1 / 3)
    assert list(found["each"]) == [True, False, False]  # what the dozen is made of
    assert list(found["each_first"]) == [False, True, False]
    assert found["worse"] == pytest.approx(1 / 4)
    assert (
        found["wrong_way"] == 0
    )  # a tenth of an inch, another shaft, and an overshoot do not count
    assert obeying.figures([row | {"off_in": 1.0, "moves": [["cut", 3.0, 4.0]]}])["wrong_way"] == 1
    assert found["ranges_held"] == 1


@pytest.mark.slow
def test_the_oracle_s_arrow_is_straight_nearly_always(trade):
    """It calls an arrow straight with nine in ten: of eight, fewer than six is seen once in 25 times."""
    found = [obeying.guided(one.seed, "trade") for one in trade[:8]]
    inside = [r["off_in"] is not None and abs(r["off_in"]) < r["t_in"] for r in found]
    assert sum(inside) >= 6


@pytest.mark.slow
def test_an_archer_is_judged_before_and_after_shots():
    row = bands.archer(69_001, ["trade"])
    assert bands.archer(69_001, ["trade"])["worlds"] == row["worlds"]
    for stage in ("0", "1", "2", "4"):
        for place in bands.PLACES:
            truth, middle, *ends = row["worlds"]["trade"][stage][place]
            low, high = ends[:3], ends[3:]
            assert 10 < truth < 120
            assert low[2] < low[1] < low[0] < middle < high[0] < high[1] < high[2]
