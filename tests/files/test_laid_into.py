"""Values laid into a hand-written file: every comment, line and spelling that was not changed stays."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml

from shaftwright.files.strict_yaml import StrictDumper, laid_into, parse_yaml

ROOT = Path(__file__).parents[2]
TEXTS = [
    ROOT / "examples" / "heron_marsh" / "rig.yaml",
    ROOT / "examples" / "reed_lark" / "rig.yaml",
    ROOT / "src" / "shaftwright" / "starter" / "rig.yaml",
]
WEIGHTS = (
    "draw_weight: {lb: 47, at: own_draw}",
    "draw_weight:\n    lb: 47  # weighed\n    at: own_draw",
    "draw_weight:\n    curve:\n    - [12, 10] # a\n    - [20, 27]\n    - [28, 45]",
    "draw_weight: {lb: 47,\n    at: own_draw}",
)
VALUES = ("1/2 in", "12", "yes", "null", "a # b", "x, y", 5, 2.5, True, {"thickness": "1/16 in, or so"}, [[1, 2], [3, 4.5]])  # fmt: skip


def comments(text):
    return [line.strip() for line in text.splitlines() if line.strip().startswith("#")]


def sprinkled(text, dice):
    """A file with comments and empty lines at odd places."""
    lines = []
    for number, line in enumerate(text.splitlines()):
        if dice.random() < 0.2:
            lines += [f"{' ' * dice.choice([0, 2, 4])}# before line {number}"]
        if dice.random() < 0.05:
            lines.append("")
        plain = line.strip() and "#" not in line
        lines.append(line + (f"  # beside {number}" if plain and dice.random() < 0.3 else ""))
    text = "\n".join(lines) + "\n" * dice.randint(0, 2)
    text = text.replace(WEIGHTS[0], dice.choice(WEIGHTS))
    return text.replace("\n", "\r\n") if dice.random() < 0.3 else text


@pytest.mark.parametrize("seed", range(60))
def test_every_comment_stays_whatever_is_edited(seed):
    dice = random.Random(seed)
    old = sprinkled(dice.choice(TEXTS).read_text(encoding="utf-8"), dice)
    data = parse_yaml(old, "").data
    for _ in range(dice.randint(0, 4)):
        section = data[dice.choice(["archer", "bow", "string"])]
        names = sorted(name for name in section if name != "draw_weight")
        if dice.random() < 0.3 and len(section) > 1:
            del section[dice.choice(names)]
        else:
            section[dice.choice([*names, "added", "another"])] = dice.choice(VALUES)
    new = yaml.dump(data, Dumper=StrictDumper, sort_keys=False)
    laid = laid_into(old, new)
    assert parse_yaml(laid, "").data == data
    assert comments(laid) == comments(old)
    # what is no line of the old file says a value that was changed
    others = set(laid.splitlines()) - set(old.splitlines())
    assert all(":" in line for line in others)
    assert len(others) <= 5  # four edits, and a last line that had no end


def test_a_change_stands_in_its_place():
    old = "# mine\nbow:  # this one\n  rest: shelf   # worn\n\n  # to try\n  tiller: 1/8 in\n# end"
    new = "bow: {rest: plunger, kind: '12', tiller: 1/8 in}\npurpose: hunting\n"
    assert laid_into(old, new) == (
        "# mine\nbow:  # this one\n  rest: plunger   # worn\n\n  # to try\n  tiller: 1/8 in\n"
        "  kind: '12'\npurpose: hunting\n# end"
    )


@pytest.mark.parametrize("old", [None, "", "- 1\n", "a: [\n", "a: &x 1\nb: *x\n", "bow:\n"])
def test_what_cannot_take_the_values_gives_way(old):
    assert laid_into(old, "bow: {rest: shelf}\n") == "bow: {rest: shelf}\n"


def test_the_same_values_leave_every_sign():
    for path in TEXTS:
        old = path.read_text(encoding="utf-8")
        new = yaml.dump(parse_yaml(old, "").data, Dumper=StrictDumper)
        assert laid_into(old, new) == old
