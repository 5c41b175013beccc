"""The afternoon on one sheet: what `next` would say for every way the shots may fall, asked beforehand.

No second decider: each end that could come is put into the notebook, and the plan is asked, with saw
and shop at home (docs/decisions/the-sheet-asks-the-plan.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from shaftwright.answers.arrows.pieces import LOOSE
from shaftwright.answers.plan.nocking import height_doubt
from shaftwright.answers.plan.steps import Words
from shaftwright.answers.scenario import Scenario, named
from shaftwright.answers.sheet.asking import (
    Place,
    after,
    centres_of,
    data_of,
    end_at,
    intervals,
    is_shot,
    set_by,
    world_with,
)
from shaftwright.answers.sheet.result import Row, Sheet, Side, Way
from shaftwright.errors import Fault, InputError, NoAnswer, did_you_mean
from shaftwright.limits import refuse, several
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY, BuildSpec
from shaftwright.units import REFERENCE_YD, length_told


class Rows:
    """The rows as they are found, in the order of their numbers."""

    def __init__(self, away: Scenario) -> None:
        self.away = away
        self.places: dict[tuple[object, ...], Place] = {}
        self.details: dict[tuple[object, ...], tuple[Any, ...]] = {}

    def expand(self, place: Place) -> list[Place]:
        """Ask the plan about every end of a row; where each interval leads."""
        own, change = self.away, next(iter(place.then.noted), None)
        entries = place.entries + (() if change is None else (ENTRY.validate_python(change),))
        world = world_with(own, entries)
        data = data_of(place.then, world)
        reach = setting("plan.sheet_reach_in")
        earlier = dict(place.earlier)
        before = world_with(own, [e for at, e in enumerate(entries) if at not in earlier])
        draws = centres_of(before, data, len(earlier) + 1)
        told: dict[float, Place] = {}

        def ask(aside: float) -> Place:
            """Once the middle of this end and those of the arrow before it lies there."""
            if aside not in told:
                known = [
                    end_at(own, earlier[at], aside) if at in earlier else e
                    for at, e in enumerate(entries)
                ]
                ends = (*known, end_at(own, data, aside))
                told[aside] = after(world_with(own, ends, world), place, ends, data)
            return told[aside]

        within = ask(0.0).within_in
        likely = float(np.mean(np.abs(draws) <= within))
        found: list[tuple[Side, float, float, Place, float]] = [
            ("straight", 0.0, within, ask(0.0), likely)
        ]
        sides: tuple[tuple[Side, float], ...] = (("weak", -1.0), ("stiff", 1.0))
        for side, sign in sides:
            away = sign * draws
            for low, high, there in intervals(ask, sign, within, reach, away[away > within]):
                here = draws[(away > low) & ((away <= high) | (high == reach))]
                # a row known from the whole interval: its end lies where the shots most likely do
                middle = (
                    float(np.mean(here.clip(-reach, reach)))
                    if len(here)
                    else sign * (low + high) / 2
                )
                nearest = ask(round(middle * 4) / 4)
                there = nearest if nearest.key == there.key else there
                found.append((side, low, high, there, len(here) / len(draws)))
        self.details[place.key] = (data, change, within, found)
        return [
            replace(there, chance=place.chance * likely)
            for _, _, _, there, likely in found if is_shot(there.then)
        ]  # fmt: skip

    def row_of(self, child: Place) -> Place | None:
        """What one goes on with; where it found no room, the row of that arrow nearest to it."""
        own = [p for p in self.places.values() if is_shot(child.then) and p.arrow == child.arrow]
        return max(
            own, default=None, key=lambda p: (
                p.then.distance_yd == child.then.distance_yd, -abs(len(p.earlier) - len(child.earlier)),
                p.key == child.key,
            )
        )  # fmt: skip

    def made(self) -> tuple[Row, ...]:
        """The rows with their numbers."""
        rows, words = [], self.away.where.words
        numbers = {key: number for number, key in enumerate(self.places, 1)}
        for key, place in self.places.items():
            data, change, within, found = self.details[key]
            then, ways = place.then, []
            for side, low, high, child, likely in found:
                to = self.row_of(child)
                number = None if to is None else numbers[to.key]
                do = _told(child, place, to, words)
                ways.append(Way(side, low, high, number, do, likely, child.then))
            front = words.front(BuildSpec.model_validate(data["build"]))
            front += f", insert {then.insert}" if then.insert else ""
            rows.append(
                Row(
                    numbers[key], str(then.shaft), float(then.length_in or 0), then.point,
                    then.insert, front, tuple(v for _, v in place.settings), data["distance_yd"],
                    len(place.earlier), self._noted(place), place.chance, within, tuple(ways), data,
                    change, then,
                )
            )  # fmt: skip
        return tuple(rows)

    def _noted(self, place: Place) -> int:
        """Ends of the row's arrow in the notebook, which count as much as those of the afternoon."""
        then, near = place.then, setting("plan.same_length_in")
        return sum(
            len(a.counting) for a in self.away.where.here
            if a.now and not place.settings and abs(a.length_in - (then.length_in or 0)) < near
            and (a.spec.shaft, a.spec.point, a.spec.insert) == (then.shaft, then.point, then.insert)
        )  # fmt: skip


def sheet(asked: Scenario, bring: Sequence[str] = ()) -> Sheet:
    """What to do for every way the shots of an afternoon may fall.

    Parameters
    ----------
    asked : Scenario
        The bow, its stock and notebook.
    bring : sequence of str
        Shafts and parts taken along, by name; of a kind of which none is named, all in hand.

    Returns
    -------
    Sheet
        At most `plan.sheet_rows` rows, `plan.sheet_ends` ends deep.

    Raises
    ------
    InputError
        A name that is not in the stock, or not in hand.
    NoAnswer
        Where the one next thing is no shot with what is along.
    """
    refuse(several("bring", bring))
    along = _along(asked, bring)
    away = replace(asked, along=frozenset(along))
    then = asked.plan.next
    # what is cut is cut at home, before one goes
    if not (
        (is_shot(then) or then.kind == "cut")
        and {then.shaft, then.point, then.insert} - {None} <= set(along)
    ):
        then = away.plan.next
    first = Place(then, (), set_by(then), (), 1.0)
    if then.kind == "finish":
        raise NoAnswer(then.do)
    if not is_shot(then) and then.kind != "cut":
        raise NoAnswer(f"nothing can be shot yet with what is taken along. First: {asked.now.do}")
    rows, places = Rows(away), [first]
    most, ends = int(setting("plan.sheet_rows")), int(setting("plan.sheet_ends"))
    for depth in range(ends):
        rows.places |= {place.key: place for place in places}
        found: dict[tuple[object, ...], list[Place]] = {}
        for child in [child for place in places for child in rows.expand(place)]:
            if depth + 1 < ends and child.key not in rows.places:
                found.setdefault(child.key, []).append(child)
        likely = sorted(found.values(), key=lambda same: -sum(p.chance for p in same))
        places = []
        for same in likely[: most - len(rows.places)]:
            best = max(same, key=lambda p: p.chance)
            places.append(replace(best, chance=sum(p.chance for p in same)))
    words = away.where.words
    # as sure as `next` wants to be of one end, to the half inch
    height = round(2 * max(height_doubt(away.where), away.where.within)) / 2
    return Sheet(
        away, tuple(along), rows.made(), setting("plan.sheet_reach_in"), height, ends, words.side(True),
        words.side(False), _gates(height, words), then.cautions,
    )  # fmt: skip


def _gates(height: float, words: Words) -> tuple[str, ...]:
    """What comes before left and right."""
    step = length_told(setting("diagnosis.nocking_step_in"), words.scenario.rig.units)
    yd, flier = words.yd(REFERENCE_YD), words.off(setting("evidence.flier_in"))
    return (
        "Marks on plate, shelf or shaft, or one sideways in the butt: stop, note it, ask next.",
        # as next goes: what could be false stiff is believed once no marks were found
        "Past a row's last line: stop, powder, look for marks. None: its side's last line holds.",
        f"Bare more than {words.off(height)} low at {yd}: nocking point {step} down; "
        f"high: {step} up. Then go on where the row's first line leads.",
        f"One bare shaft over {flier} from the middle of the others at {yd}: a flier, leave it out. "
        "All over the butt: no group; rest, shoot the row again.",
    )


def _along(asked: Scenario, bring: Sequence[str]) -> list[str]:
    """What is taken along."""
    shelf = asked.shelf
    if shelf is None:
        raise NoAnswer("a sheet needs a stock: stock.csv says which shafts and points there are")
    faults = []
    for name in bring:
        item = shelf.by_name.get(name)
        if item is None:
            hint = did_you_mean(name, shelf.by_name, "")
            faults.append(Fault("sheet", f"is not in the stock{hint}", None, "bring", name))
        elif not item.in_hand:
            problem = f"is not in hand; if it is: shaftwright note have {name} COUNT"
            problem = named(problem, asked.folder)
            faults.append(Fault("sheet", problem, None, "bring", name))
    if faults:
        raise InputError(faults)
    kinds = {shelf.by_name[name].kind for name in bring}
    return [
        i.item for i in shelf.items
        if i.kind in LOOSE and i.in_hand and (i.kind not in kinds or i.item in bring)
    ]  # fmt: skip


def _told(after: Place, place: Place, to: Place | None, words: Words) -> str:
    """The step in half a line: what of the arrow changes, as far as its row does not tell it."""
    if not is_shot(after.then):
        return "stop: note it, ask next"

    def parts(of: Place) -> list[str]:
        then = of.then
        spec = BuildSpec.model_construct(
            shaft=then.shaft, length_in=then.length_in, point=then.point
        )
        insert = f"insert {then.insert}" if then.insert else ""
        own = (
            str(then.shaft),
            *words.arrow(spec).split(", "),
            insert,
            *(v for _, v in of.settings),
        )
        return [part for part in own if part]

    new = [part for part in parts(after) if part not in parts(place)]
    if to is None:
        return ", ".join(new) or "once more, ask next"
    if after.then.shaft != place.then.shaft:
        return str(after.then.shaft)
    if not new and to.then.distance_yd != place.then.distance_yd:
        return words.yd(to.then.distance_yd or 0.0)
    return ", ".join(new)
