"""Rigs, builds and stocks drawn at random by hypothesis, and a few fixed ones."""

import copy

import numpy as np
from hypothesis import strategies as st

from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.rig import Rig

#: a rig at the reference conditions of effective bow weight, all choices known
PLAIN = {
    "format": 1,
    "rig": "plain",
    "archer": {"hand": "right", "release": "split", "draw_length": 28},
    "bow": {
        "kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 50, "at": "own_draw"},
        "brace_height": 7.75, "window": {"cut": "to_centre"}, "rest": "shelf",
        "plate": {"thickness": 0.0625, "material": "leather"},
    },
    "string": {"material": "polyester", "mass": 145, "silencers": 0},
    "purpose": "practice",
}  # fmt: skip


def changed(**changes):
    """PLAIN as a Rig with dotted fields (double underscores for dots) replaced; None removes one."""
    data = copy.deepcopy(PLAIN)
    for name, value in changes.items():
        place = data
        *path, last = name.split("__")
        for key in path:
            place = place.setdefault(key, {})
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
    return Rig.model_validate(data)


def eighths(low, high):
    """Lengths on a 1/16 grid, as archers measure them."""
    return st.integers(int(low * 16), int(high * 16)).map(lambda n: n / 16)


def one_of(*choices, unknown=True):
    return st.sampled_from([*choices, "unknown"] if unknown else choices)


@st.composite
def rig_data(draw, unknown=True, shortest_draw=24.0):
    """What a rig file may say, as plain data by the names archers write."""
    draw_length = draw(eighths(shortest_draw, 32))
    weight = draw(st.integers(20, 80))
    how = draw(st.sampled_from(["own", "marked", "curve"]))
    if how == "own":
        draw_weight = {"lb": weight, "at": "own_draw"}
    elif how == "marked":
        draw_weight = {"lb": weight, "at": draw(st.sampled_from([26.0, 28.0, 30.0]))}
    else:
        ends = [9.0, (9.0 + draw_length) / 2, draw_length + draw(eighths(0, 1))]
        draw_weight = {"curve": [[ends[0], 0.0], [ends[1], 0.6 * weight], [ends[2], float(weight)]]}
    window = {
        "cut": draw(one_of("past_centre", "to_centre", "short_of_centre", "none", unknown=unknown))
    }
    if window["cut"] in ("past_centre", "short_of_centre"):
        # no riser is cut more than about a quarter inch past centre
        by = eighths(0, 0.25 if window["cut"] == "past_centre" else 0.5)
        window["by"] = draw(st.one_of(by, st.just("unknown")) if unknown else by)
    bow = {
        "kind": draw(one_of("selfbow", "longbow", "hybrid", "recurve", unknown=unknown)),
        "limbs": draw(one_of("standard", "high_performance", "deep_curve", unknown=unknown)),
        "draw_weight": draw_weight,
        "brace_height": draw(
            st.one_of(eighths(5, 9), st.just("unknown")) if unknown else eighths(5, 9)
        ),
        "window": window,
        "rest": draw(one_of("shelf", "elevated", "plunger", unknown=unknown)),
    }
    if draw(st.booleans()) or not unknown:
        bow["plate"] = {"thickness": draw(eighths(0, 0.25)),
                        "material": draw(one_of("leather", "fur", "hard", unknown=unknown))}  # fmt: skip
    if draw(st.booleans()):
        bow |= {"maker_minimum_gr_per_lb": draw(st.sampled_from([6.0, 8.0, 9.5])), "limbs_id": "a-1",
                "nocking_point": {"above_square": draw(eighths(-0.5, 1)), "locators": 2},
                "tiller": draw(eighths(-0.5, 0.5)), "cant_deg": draw(st.integers(-40, 40))}  # fmt: skip
    string = {"material": draw(one_of("low_stretch", "polyester", unknown=unknown))}
    if draw(st.booleans()) or not unknown:
        string |= {"mass": draw(st.integers(60, 250)), "silencers": draw(st.sampled_from([0, 10, 35])),
                   "silencer_position": draw(st.sampled_from([0.25, 0.5]))}  # fmt: skip
    if draw(st.booleans()):
        string |= {"strands": draw(st.integers(8, 20)), "twists": draw(st.integers(0, 40))}
    return {
        "format": 1,
        "rig": draw(st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp")),
                            min_size=1, max_size=20)),
        "archer": {
            "hand": draw(one_of("right", "left", unknown=unknown)),
            "release": draw(one_of("split", "three_under", "mechanical", unknown=unknown)),
            "draw_length": draw_length,
        },
        "bow": bow,
        "string": string,
        "purpose": draw(st.sampled_from(["hunting", "hunting_large_game", "three_d", "target", "practice"])),
    }  # fmt: skip


def rigs(**options):
    return rig_data(**options).map(Rig.model_validate)


@st.composite
def some_builds(draw, size=4, shortest=25.0):
    """A few builds by numbers."""

    def floats(low, high):
        return st.lists(st.floats(low, high), min_size=size, max_size=size).map(np.array)

    return builds_by_numbers(
        draw(floats(250, 1100)), draw(floats(shortest, 33)), draw(floats(75, 450)), draw(floats(8, 60)),
        draw(floats(5, 13)), draw(floats(0.09, 0.19)), draw(floats(0, 5)),
    )  # fmt: skip
