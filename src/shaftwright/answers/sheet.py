"""The afternoon on one sheet: what `next` would say for every way the shots may fall, asked beforehand.

No second decider: each end that could come is put into the notebook, and the plan is asked, with saw
and shop at home (docs/decisions/the-sheet-asks-the-plan.md).
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.arrows.outlook import Idea, centres, outlooks
from shaftwright.answers.arrows.pieces import LOOSE
from shaftwright.answers.noting import arrow_named
from shaftwright.answers.plan.result import Next, Plan
from shaftwright.answers.plan.words import Words
from shaftwright.answers.result import Answer
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.errors import Fault, InputError, NoAnswer, did_you_mean
from shaftwright.inference.evidence.look import hand_sign
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY, AnyEntry, BareShaft, BuildSpec
from shaftwright.result import Result, kept
from shaftwright.units import inches

Array = NDArray[np.float64]
_SHOOTS = ("shoot", "point", "insert", "collar", "wrap", "shaft", "plunger", "plate", "brace",
           "nocking_point", "make_second")  # fmt: skip
_SETS = ("plunger", "plate", "brace", "nocking_point")
_FINE_IN, _SLIVER_IN, _FIRST_ASKED = 0.5, 1.0, (0.4, 0.7)
#: a group whose scatter is one inch along either axis
_GROUP = 2 / np.sqrt(3) * np.array([[0.0, 1.0], [np.sqrt(3) / 2, -0.5], [-np.sqrt(3) / 2, -0.5]])


@dataclass(frozen=True)
class Way(Result):
    """What one interval of the bare centre leads to."""

    side: Literal["stiff", "weak", "straight"]
    #: from and to, aside of the fletched centre at 20 yd, without sign
    from_in: float = field(metadata=kept(digits=2))
    to_in: float = field(metadata=kept(digits=2))
    #: where to go on; None where the sheet ends
    row: int | None
    #: in a word where it ends: what to do then, asked of `next` at home
    do: str
    chance: float = field(metadata=kept(digits=3))
    #: the step of the plan that it is
    then: Next = field(metadata=kept(json=False), repr=False)


@dataclass(frozen=True)
class Row(Result):
    """One arrow as it is shot, and where every outcome leads."""

    number: int
    shaft: str
    length_in: float
    point: str | None
    insert: str | None
    front: str
    #: settings of the bow that differ from those at the start, in words
    settings: tuple[str, ...]
    distance_yd: float
    #: which of these was shot just before at the same distance, on which side; empty where it is new
    again: str
    #: how likely one gets here
    chance: float = field(metadata=kept(digits=3))
    within_in: float = field(metadata=kept(digits=2))
    ways: tuple[Way, ...]
    #: the entry of an end of it, hits left out, and the change of the bow before it
    entry: dict[str, Any] = field(metadata=kept(json=False))
    change: dict[str, Any] | None = field(metadata=kept(json=False))
    then: Next = field(metadata=kept(json=False), repr=False)

    def at(self, right_in: float, side: str) -> Way | None:
        """The way of a centre so far to one side at 20 yd; None past the last."""
        off = abs(right_in)
        if off <= self.within_in:
            side = "straight"
        return next((w for w in self.ways if w.side == side and off <= w.to_in + 1e-9), None)


@dataclass(frozen=True)
class Sheet(Answer):
    """The whole afternoon."""

    brought: tuple[str, ...]
    #: the first row is number 1
    rows: tuple[Row, ...]
    #: beyond this, or sideways in the butt: stop
    stop_in: float
    ends: int
    #: where a stiff and a weak bare shaft lands: the one place where hands differ
    stiff: str
    weak: str
    #: looked at after every end, before the row is read
    gates: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class _Place:
    """A bow after some ends: what was put into the notebook, and what the plan says then."""

    then: Next
    entries: tuple[AnyEntry, ...]
    settings: tuple[tuple[str, str], ...]
    again: str
    chance: float
    #: what counts as straight once it is noted [in]
    within_in: float = 0.0

    @property
    def key(self) -> tuple[object, ...]:
        """What makes two rows one."""
        n = self.then
        return (
            n.shaft,
            n.length_in,
            n.point,
            n.insert,
            n.piece,
            n.distance_yd,
            self.settings,
            self.again,
        )


class _Asking:
    """The plan, asked about ends that could come."""

    def __init__(self, asked: Scenario) -> None:
        self.asked = asked

    def world(self, entries: Sequence[AnyEntry]) -> Scenario:
        """The bow with these entries added, saw and shop at home."""
        own = self.asked
        if not entries:
            return own
        everything = (*own.entries, *entries)
        lines = (*own.lines, *range(10_000, 10_000 + len(entries)))
        made = scenario(
            own.rig, own.purpose, own.stock, everything, lines, own.before, "trade", own.given
        )
        return replace(made, book=own.book, along=own.along)

    @cached_property
    def _known(self) -> Any:
        return self.asked.known

    def end(self, data: dict[str, Any], aside_in: float) -> BareShaft:
        """An end whose bare centre lies so far stiffward at 20 yd, as wide as this archer's."""
        scale = data["distance_yd"] / 20
        sds = float(np.mean(self._known.bare_sd)), float(np.mean(self._known.fletched_sd))
        bare, fletched = (_GROUP * sd * scale for sd in sds)
        right = (hand_sign(self.asked.rig.archer.hand) or -1) * aside_in * scale
        entry = {k: v for k, v in data.items() if k != "distance_yd"} | {
            "cant_deg": 0, "marks": "none", "fletched": fletched.tolist(),
            "bare": [{"at": (p + np.array([right, 0.0])).tolist()} for p in bare],
        }  # fmt: skip
        found = ENTRY.validate_python(entry)
        assert isinstance(found, BareShaft)
        return found


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
    along = _along(asked, bring)
    away = replace(asked, along=frozenset(along))
    first = _Place(away.plan.next, (), (), "", 1.0)
    if not _shot(first.then):
        raise NoAnswer(
            f"nothing can be shot yet with what is taken along. First: {asked.plan.next.do}"
        )
    asking, rows = _Asking(away), _Rows()
    places = [rows.place(first)]
    most, ends = int(setting("plan.sheet_rows")), int(setting("plan.sheet_ends"))
    for depth in range(ends):
        found: dict[tuple[object, ...], list[_Place]] = {}
        for place in places:
            for child in rows.expand(asking, place):
                if depth + 1 < ends and child.key not in rows.numbers:
                    found.setdefault(child.key, []).append(child)
        likely = sorted(found.values(), key=lambda same: -sum(p.chance for p in same))
        places = []
        for same in likely[: most - len(rows.numbers)]:
            best = max(same, key=lambda p: p.chance)
            places.append(rows.place(replace(best, chance=sum(p.chance for p in same))))
    words = away.where.words
    return Sheet(
        away, tuple(along), rows.made(away), setting("plan.sheet_reach_in"), ends, words.side(True),
        words.side(False), _gates(away, words), away.plan.next.cautions,
    )  # fmt: skip


def _gates(away: Scenario, words: Words) -> tuple[str, ...]:
    """What comes before left and right."""
    step = inches(setting("diagnosis.nocking_step_in"))
    return (
        "Marks on plate, shelf or shaft, or one sideways in the butt: stop, note it, ask next.",
        f"Bare more than {words.off(away.where.within)} low at {words.yd(20)}: nocking point {step} down; "
        f"high: {step} up. Shoot the row again.",
        "Bare or fletched all over the butt: no group. Rest, shoot the row again.",
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
            faults.append(Fault("sheet", f"is not in the stock{hint}", None, "--bring", name))
        elif not item.in_hand:
            problem = f"is not in hand; if it is: shaftwright note have {name} COUNT"
            faults.append(Fault("sheet", problem, None, "--bring", name))
    if faults:
        raise InputError(faults)
    kinds = {shelf.by_name[name].kind for name in bring}
    return [
        i.item for i in shelf.items
        if i.kind in LOOSE and i.in_hand and (i.kind not in kinds or i.item in bring)
    ]  # fmt: skip


def _shot(then: Next) -> bool:
    """Whether a step is an end with what is along."""
    return then.kind in _SHOOTS and then.distance_yd is not None and not then.buy


class _Rows:
    """The rows as they are found, in the order of their numbers."""

    def __init__(self) -> None:
        self.numbers: dict[tuple[object, ...], int] = {}
        self.places: list[_Place] = []
        self.details: dict[tuple[object, ...], tuple[Any, ...]] = {}

    def place(self, place: _Place) -> _Place:
        """Give it a number."""
        self.numbers[place.key] = len(self.numbers) + 1
        self.places.append(place)
        return place

    def expand(self, asking: _Asking, place: _Place) -> list[_Place]:
        """Ask the plan about every end of a row; where each interval leads."""
        then = place.then
        change = _change_of(then)
        entries = place.entries + (() if change is None else (ENTRY.validate_python(change),))
        world = asking.world(entries)
        data = _data_of(then, world)
        reach = setting("plan.sheet_reach_in")
        draws = _centres(world, data)
        told: dict[float, _Place] = {}

        def ask(aside: float) -> _Place:
            if aside not in told:
                end = asking.end(data, aside)
                told[aside] = _after(asking, place, (*entries, end), then, aside)
            return told[aside]

        inside = ask(0.0)
        within = inside.within_in
        ways: list[tuple[str, float, float, _Place, float]] = []

        def way(side: str, low: float, high: float) -> None:
            sign = 1.0 if side == "stiff" else -1.0
            own = draws[(sign * draws > low) & (sign * draws <= high)]
            if side == "straight":
                own = draws[np.abs(draws) <= high]
            middle = float(np.mean(own)) if len(own) else sign * (low + high) / 2
            likely = len(own) / len(draws)
            # a row known from the whole interval: its end lies where the shots most likely do
            there = inside if side == "straight" else ask(round(middle * 4) / 4)
            nearest = ask(sign * (low + high) / 2) if side != "straight" else inside
            if there.key != nearest.key:
                there = nearest
            ways.append((side, low, high, replace(there, chance=place.chance * likely), likely))

        way("straight", 0.0, within)
        for side, sign in (("weak", -1.0), ("stiff", 1.0)):
            for low, high in _edges(ask, sign, within, reach):
                way(side, low, high)
        self.details[place.key] = (world, data, change, within, ways)
        return [p for *_, p, _ in ways if _shot(p.then)]

    def made(self, away: Scenario) -> tuple[Row, ...]:
        """The rows with their numbers."""
        rows = []
        for place in self.places:
            _world, data, change, within, ways = self.details[place.key]
            then, words = place.then, away.where.words
            spec = BuildSpec.model_validate(data["build"])
            front = words.front(spec) + (f", insert {then.insert}" if then.insert else "")
            rows.append(
                Row(
                    self.numbers[place.key], str(then.shaft), float(then.length_in or 0), then.point,
                    then.insert, front, tuple(v for _, v in place.settings), data["distance_yd"],
                    place.again, place.chance, within,
                    tuple(
                        Way(side, low, high, self.numbers.get(p.key) if _shot(p.then) else None,
                            _told(p, place, words), likely, p.then)
                        for side, low, high, p, likely in ways
                    ), data, change, then,
                )
            )  # fmt: skip
        return tuple(rows)


def _told(after: _Place, place: _Place, words: Words) -> str:
    """The step in half a line, for where the sheet ends."""
    then = after.then
    if not _shot(then):
        return "stop: note it, ask next"
    if after.again and after.settings == place.settings:
        return "the same once more"
    spec = BuildSpec.model_construct(shaft=then.shaft, length_in=then.length_in, point=then.point)
    own = (str(then.shaft), words.arrow(spec), then.insert, *(v for _, v in after.settings))
    return ", ".join(part for part in own if part)


def _after(
    asking: _Asking, place: _Place, entries: tuple[AnyEntry, ...], before: Next, aside: float
) -> _Place:
    """What the plan says after an end."""
    world = asking.world(entries)
    then = world.plan.next
    settings = place.settings
    if then.kind in _SETS and then.setting:
        kept = tuple(s for s in settings if s[0] != then.kind)
        settings = (*kept, (then.kind, then.setting))
    again = ""
    same = (then.shaft, then.length_in, then.point, then.insert, then.distance_yd)
    was = (before.shaft, before.length_in, before.point, before.insert, before.distance_yd)
    if same == was and settings == place.settings:
        # straight: shot again as the same row; off: a row of its own, as two ends then agree or not
        straight = then.stage == "prove"
        again = place.again if straight else "stiff" if aside > 0 else "weak"
    # to the half inch that a tape tells at the butt
    within = round(world.where.within / _FINE_IN) * _FINE_IN
    return _Place(then, entries, settings, again, 0.0, within)


def _edges(
    asked: Callable[[float], _Place], sign: float, within: float, reach: float
) -> list[tuple[float, float]]:
    """One side cut into at most two intervals, each leading to one row."""

    def key(off: float) -> tuple[object, ...]:
        return asked(sign * off).key

    points = [within + _FINE_IN, *(within + s * (reach - within) for s in _FIRST_ASKED), reach]
    cuts = []
    for low, high in pairwise(round(p / _FINE_IN) * _FINE_IN for p in points):
        while high - low > _FINE_IN and key(low) != key(high):
            middle = round((low + high) / 2 / _FINE_IN) * _FINE_IN
            if middle in (low, high):
                break
            low, high = (middle, high) if key(middle) == key(low) else (low, middle)
        if key(low) != key(high):
            cuts.append(low)
    cuts = [c for c in cuts if c - within >= _SLIVER_IN and reach - c >= _SLIVER_IN]
    # of several the one nearest to the fletched: most shots fall there
    return list(pairwise((within, *cuts[:1], reach)))


def _centres(world: Scenario, data: dict[str, Any]) -> Array:
    """Draws of the bare centre of a row's next end, stiffward at 20 yd."""
    where = world.where
    spec = BuildSpec.model_validate(data["build"])
    look = outlooks(world, [Idea(spec, world.rig)])[0]
    same = [a for a in where.here if a.key == look.key]
    near = [a for a in where.here if a.spec.shaft == spec.shaft]
    if same:
        look = where.outlook(same[0])
    elif near:
        look = outlooks(world, [Idea(spec, world.rig, near[0])])[0]
    return centres(world, look.z_lb, where.bare, where.fletched)


def _data_of(then: Next, world: Scenario) -> dict[str, Any]:
    """The entry that an end of it will be, without its hits."""
    named = arrow_named(Plan(then, ()), world.stock, world.entries)
    if named is None:
        raise NoAnswer(f"nothing can be shot yet with what is taken along. First: {then.do}")
    data: dict[str, Any] = {"kind": "bareshaft", "distance": f"{then.distance_yd:g} yd"}
    named.into(data)
    return data | {"distance_yd": float(then.distance_yd or 0)}


def _change_of(then: Next) -> dict[str, Any] | None:
    """The entry of a change that a step begins with, from the line that notes it."""
    words = shlex.split(then.note or "")
    if words[:3] != ["shaftwright", "note", "change"]:
        return None
    what, options = words[3], words[4:]
    state: dict[str, Any] = {}
    for option, value in zip(options[::2], options[1::2], strict=True):
        name = option.removeprefix("--").replace("-", "_")
        if name.startswith("plunger_"):
            state["plunger"] = {name.removeprefix("plunger_"): value}
        else:
            state[name] = value
    return {"kind": "change", "what": what} | ({"rig_state": state} if state else {})
