"""Files with something odd in them: a good one with a value, a row or a line put wrong, from a seed."""

from __future__ import annotations

import copy
import csv
import io
import json
import random
from collections.abc import Iterator
from typing import Any

import yaml

VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, -0.0, 0.001, 1e-300, 1e300, float("nan"), float("inf"), -float("inf"),
    10**30, 999, 47, "47 lb", "-47 lb", "28 1/4 in", "1/0 in", "28 1/0", "0 in", "71.5 cm", "28 in in", "nan", "inf lb",
    "1e400", "unknown", "none", "left", "right", "straight", "own_draw", "", " ", "\t", "\n", "\x00", "\x1b[31m", "\ud800",
    "\ufeff", "\u2028", "\u0661\u0662", "12\u2032", "28\u00bd in", "e\u0301", "x" * 41, "x" * 5000, "{}", "[", "- a", "#", "%",
    "*a", "&a", "!!python/object:os.system", "<<", "'", '"', "a: b", [], {}, [[]], {"moon": 1}, [1, 2], [None], [[1, 2], [1, 1]],
    {"lb": 47, "at": "28 in"}, {"curve": [[10, 1], [9, 2]]}, "2026-05-31", "2026-02-30", "0000-00-00", "9999-12-31", 20260531,
    "0", "00", "1_0", "0x10", "1,5", "1.5.2", "--1", "+5", "\u22125", "5 gr gr", "5 moons", "1/3", "1 1/2 1/2 in", "9" * 400,
)  # fmt: skip
SIGNS = ":-#,;\t\n\"'{}[]&*!|>%@`\\\x00\x07\x85\u2028\ufeff 0123456789.eE+/naninf"


def places(held: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in plain data."""
    if path:
        yield path
    below = (
        held.items()
        if isinstance(held, dict)
        else enumerate(held)
        if isinstance(held, list)
        else ()
    )
    for key, value in below:
        yield from places(value, (*path, key))


def _room(data: Any, path: tuple[Any, ...]) -> Any:
    for part in path[:-1]:
        data = data[part]
    return data


def _value(rng: random.Random, old: Any) -> Any:
    if isinstance(old, int | float) and not isinstance(old, bool) and rng.random() < 0.8:
        if rng.random() < 0.6:
            return round(old * rng.uniform(0.7, 1.4), 3)
        return rng.choice(
            (
                -old,
                old * 10,
                old / 10,
                old * 1000,
                old + 0.001,
                f"{old} cm",
                f"{old} kg",
                str(old),
                [old],
            )
        )
    return copy.deepcopy(rng.choice(VALUES))


def of_data(data: Any, rng: random.Random) -> Any:
    """Plain data with one to four places put wrong."""
    data = copy.deepcopy(data)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        every = list(places(data))
        if not every:
            return data
        path = rng.choice(every)
        room, key = _room(data, path), path[-1]
        how = rng.random()
        if how < 0.6:
            room[key] = _value(rng, room[key])
        elif how < 0.72:
            del room[key]
        elif how < 0.8 and isinstance(room, dict):
            room[rng.choice((str(key) + "x", "moon", "", str(key)[:-1]))] = room.pop(key)
        elif how < 0.9:
            other = rng.choice(every)
            try:
                room[key] = copy.deepcopy(_room(data, other)[other[-1]])
            except (KeyError, IndexError, TypeError):
                continue
        elif isinstance(room, list):
            room.insert(key, copy.deepcopy(room[key]))
        else:
            room[str(rng.choice(VALUES))[:50]] = _value(rng, None)
    return data


def of_text(text: str, rng: random.Random) -> str:
    """Text with lines or signs put wrong."""
    for _ in range(rng.choice((1, 1, 2, 5))):
        how = rng.random()
        at = rng.randrange(len(text) + 1)
        if how < 0.3:
            text = text[:at] + rng.choice(SIGNS) * rng.choice((1, 1, 1, 30)) + text[at:]
        elif how < 0.5:
            text = text[:at] + text[at + rng.choice((1, 2, 8, 80)) :]
        elif how < 0.7:
            lines = text.split("\n")
            line = rng.randrange(len(lines))
            lines[line : line + 1] = rng.choice(
                (
                    [],
                    [lines[line]] * 2,
                    [" " + lines[line]],
                    [lines[line].lstrip()],
                    [rng.choice(lines)],
                )
            )
            text = "\n".join(lines)
        elif how < 0.9:
            text = text[:at] + str(rng.choice(VALUES)) + text[at:]
        else:
            text = text.replace("\n", rng.choice(("\r\n", "\r", "\n\n", "\x85")))
    return text


def of_rows(text: str, rng: random.Random) -> str:
    """A table with cells, columns or rows put wrong."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    for _ in range(rng.choice((1, 1, 2, 4))):
        if not rows or not all(rows):
            break
        how, row = rng.random(), rng.choice(rows)
        at = rng.randrange(len(row))
        if how < 0.7:
            try:
                old: Any = float(row[at])
            except ValueError:
                old = row[at]
            row[at] = str(_value(rng, old))
        elif how < 0.78:
            del row[at]
        elif how < 0.86:
            row.insert(at, str(rng.choice(VALUES)))
        elif how < 0.93:
            rows.append(list(row))
        else:
            for one in rows:
                one[at:at] = one[at : at + 1]
    out = io.StringIO()
    csv.writer(out, delimiter=rng.choice(",,,,,;\t"), lineterminator="\n").writerows(rows)
    return out.getvalue()


def of_yaml(text: str, rng: random.Random) -> str:
    """A YAML file with something wrong in its data, or in its text."""
    if rng.random() < 0.3:
        return of_text(text, rng)
    try:
        return yaml.dump(of_data(yaml.safe_load(text), rng), allow_unicode=True, sort_keys=False,
                         default_flow_style=rng.choice((None, False, True)))  # fmt: skip
    except (yaml.YAMLError, UnicodeError, ValueError, OverflowError, RecursionError):
        return of_text(text, rng)


def of_json(text: str, rng: random.Random) -> str:
    """A JSON file with something wrong in its data, or in its text."""
    try:
        return (
            json.dumps(of_data(json.loads(text), rng)) if rng.random() < 0.7 else of_text(text, rng)
        )
    except (ValueError, RecursionError):
        return of_text(text, rng)


def of_csv(text: str, rng: random.Random) -> str:
    """A CSV file with something wrong in a cell, or in its text."""
    try:
        return of_rows(text, rng) if rng.random() < 0.75 else of_text(text, rng)
    except csv.Error:
        return of_text(text, rng)
