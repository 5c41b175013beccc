"""What a reading must agree with before it is kept: the bow, what is in hand, and its own words."""

from __future__ import annotations

import os.path
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from shaftwright.answers.plan.pieces import in_hand
from shaftwright.errors import Fault, InputError
from shaftwright.files.atomic import write_atomic
from shaftwright.files.bow import BEFORE, RIG
from shaftwright.files.notebook import Notebook, withdrawal
from shaftwright.files.strict_yaml import read_text
from shaftwright.inference.evidence_frame import side_of
from shaftwright.inference.evidence_periods import PERIODS, SETTINGS, History, of_rig
from shaftwright.inference.resolve import resolve_build
from shaftwright.records.notebook import (
    AnyEntry,
    BareShaft,
    Broadhead,
    BuildSpec,
    Change,
    Dozen,
    Have,
    RigState,
)
from shaftwright.records.rig import DrawWeight, Hand, Plunger, Rig
from shaftwright.records.stock import Stock
from shaftwright.resources import usual
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.plan.result import Plan

#: what a change may be of; anything else is free text
WHATS: Final = (*PERIODS, "draw_weight", *SETTINGS)
#: lengths nearer than this are one [in]: half of the sixteenth that archers write
_SAME_IN: Final = 1 / 32
#: what of rig.yaml a change may touch, where no new value was stated
_TOUCHED: Final = {
    "limbs": "bow.limbs_id, bow.limbs, bow.draw_weight, bow.brace_height",
    "riser": "bow.window, bow.rest, bow.plate, bow.draw_weight",
    "string": "string.material, string.mass, string.silencers, bow.brace_height",
    "material": "string.material, string.mass, bow.brace_height",
    "draw_weight": "bow.draw_weight", "draw_length": "archer.draw_length", "release": "archer.release",
    "brace": "bow.brace_height", "plate": "bow.plate", "plunger": "bow.plunger",
    "nocking_point": "bow.nocking_point", "tiller": "bow.tiller",
    "silencers": "string.silencers, string.silencer_position",
}  # fmt: skip


@dataclass(frozen=True)
class Arrow:
    """An arrow that was or will be shot."""

    build: BuildSpec
    #: which of several shafts of one row
    piece: int | None = None


def arrow_named(plan: Plan, stock: Stock | None, entries: Sequence[AnyEntry]) -> Arrow | None:
    """The arrow that the plan names next, with the parts it was last noted with."""
    then = plan.next
    if then.shaft is None:
        return None
    return _arrow((then.shaft, then.length_in, then.point, then.insert), then.piece, stock, entries)


def arrow_leading(plan: Plan, stock: Stock | None, entries: Sequence[AnyEntry]) -> Arrow | None:
    """The arrow that a dozen is made like: the one the plan names, else the best of those shot."""
    if plan.next.stage in ("prove", "dozen", "done") and plan.next.shaft is not None:
        found = arrow_named(plan, stock, entries)
        return None if found is None else Arrow(found.build)
    if not plan.shot:
        return None
    best = plan.shot[0]
    return _arrow((best.shaft, best.length_in, best.point, best.insert), None, stock, entries)


def _arrow(
    parts: tuple[str, float | None, str | None, str | None], piece: int | None, stock: Stock | None,
    entries: Sequence[AnyEntry],
) -> Arrow | None:  # fmt: skip
    shaft, length, head, insert = parts
    for build in arrows_noted(entries):
        same = (build.shaft, build.point or build.broadhead, build.insert) == (shaft, head, insert)
        if same and (build.length_in or 0) == (length or 0):
            return Arrow(build, piece)
    if stock is None or shaft not in stock.by_name:
        return None
    row = stock.by_name.get(head or "")
    at_front = "broadhead" if row is not None and row.kind == "broadhead" else "point"
    told = {"shaft": shaft, "length_in": length, at_front: head, "insert": insert}
    return Arrow(
        BuildSpec(**{name: value for name, value in told.items() if value is not None}), piece
    )


def arrows_noted(entries: Sequence[AnyEntry]) -> tuple[BuildSpec, ...]:
    """The arrows of the notebook, each once, the last one first."""
    shot = (e.build for e in reversed(entries) if isinstance(e, BareShaft | Broadhead))
    return tuple(dict.fromkeys(shot))


def refused(entry: AnyEntry, stock: Stock | None, entries: Sequence[AnyEntry]) -> list[Fault]:
    """What in an entry cannot be: a part that nobody has, a shaft longer than it is."""
    if isinstance(entry, Have):
        return _have_refused(entry, stock)
    if not isinstance(entry, BareShaft | Broadhead | Dozen) or entry.build.by_numbers:
        return []
    build = entry.build
    if stock is None:
        problem = (
            "is in no stock: give it a row in stock.csv, or the arrow by numbers (--spine ...)"
        )
        return [Fault("note", problem, None, "shaft", build.shaft or ...)]
    try:
        resolve_build(build, stock, "note")
    except InputError as error:
        return error.faults
    assert build.shaft is not None
    full = stock.by_name[build.shaft].full_length_in or 0.0
    length = build.length_in or full
    told = inches(length)
    if length > full + _SAME_IN:
        problem = f"is longer than any {build.shaft}: it comes at {inches(full)}"
        return [Fault("note", problem, None, "length", told)]
    if isinstance(entry, Dozen):
        return []
    now, shot = longest(build.shaft, entry.piece or 1, stock, _until(entries, entry))
    if length <= now + _SAME_IN:
        return []
    if not shot:
        problem = (
            f"is longer than the {build.shaft} in hand, {inches(now)}: if there is a longer one, say so: "
            f"shaftwright note have {build.shaft} COUNT --length LENGTH"
        )
        return [Fault("note", problem, None, "length", told)]
    another = another_piece(entry, stock, entries)
    problem = f"is longer than that {build.shaft} is now: you shot it at {inches(now)}; a shaft does not grow"
    if another is not None:
        problem += f"; if it is another one, add --piece {another}"
    return [Fault("note", problem, None, "length", told)]


def _until(entries: Sequence[AnyEntry], entry: AnyEntry) -> list[AnyEntry]:
    """The entries that are not of a later day."""
    return [e for e in entries if e.date is None or entry.date is None or e.date <= entry.date]


def longest(
    shaft: str, piece: int, stock: Stock, entries: Sequence[AnyEntry]
) -> tuple[float, bool]:
    """How long one shaft of a row can be now [in], and whether it has been shot."""
    row = stock.by_name[shaft]
    own = in_hand(stock, entries).of(shaft)
    of_shot = next((p.length_in for p in own if p.shot and p.number == piece), None)
    if of_shot is not None:
        return of_shot, True
    fresh = [p.length_in for p in own if not p.shot]
    return max(fresh, default=row.in_hand_length_in or row.full_length_in or 0.0), False


def another_piece(
    entry: BareShaft | Broadhead, stock: Stock, entries: Sequence[AnyEntry]
) -> int | None:
    """The lowest number under which a shaft of this row can be as long as the entry says."""
    shaft = entry.build.shaft
    assert shaft is not None
    length = entry.build.length_in or stock.by_name[shaft].full_length_in or 0.0
    known = _until(entries, entry)
    last = max((p.number for p in in_hand(stock, known).of(shaft)), default=0) + 1
    return next(
        (n for n in range(1, last + 1) if length <= longest(shaft, n, stock, known)[0] + _SAME_IN), None
    )  # fmt: skip


def _have_refused(entry: Have, stock: Stock | None) -> list[Fault]:
    import difflib

    if stock is None:
        return []
    row = stock.by_name.get(entry.item)
    if row is None:
        close = difflib.get_close_matches(entry.item, list(stock.by_name), 1, 0.5)
        hint = f"; did you mean {close[0]}?" if close else "; add a row for it first"
        return [
            Fault("note", f"is not in {stock.name or 'the stock'}{hint}", None, "item", entry.item)
        ]
    if entry.length_in is None:
        return []
    told = inches(entry.length_in)
    if row.kind != "shaft":
        return [
            Fault("note", f"is for shafts, and {entry.item} is a {row.kind}", None, "length", told)
        ]
    if row.full_length_in is not None and entry.length_in > row.full_length_in + _SAME_IN:
        problem = f"is longer than any {entry.item}: it comes at {inches(row.full_length_in)}"
        return [Fault("note", problem, None, "length", told)]
    return []


def doubts(entry: AnyEntry, hand: Hand) -> tuple[str, ...]:
    """Where the archer's word and the tails he saw tell of two different arrows."""
    if not isinstance(entry, BareShaft) or entry.reads in (None, "straight") or hand == "unknown":
        return ()
    tails = set(entry.nock)
    tails |= {
        s.tail.side for s in entry.bare if s.tail and s.tail.side and s.tail.seen == "in_flight"
    }
    word = entry.reads or ""
    here = side_of("stiff" if "stiff" in word else "weak", hand)
    there = "left" if here == "right" else "right"
    if there not in tails or here in tails:
        return ()
    said = word.replace("_", " ")
    return (
        f"You say {said}, but the tails pointed {there}: from a {hand}-handed bow that is the "
        f"{'weak' if 'stiff' in word else 'stiff'} side.",
    )  # fmt: skip


def state_of(rig: Rig, entries: Sequence[AnyEntry]) -> RigState | None:
    """The bow as its rig file states it; what the notebook's last change states otherwise is left out."""
    state = of_rig(rig)
    for entry in entries:
        if isinstance(entry, Change) and entry.rig_state is not None:
            for name, value in list(of_state(entry.rig_state)):
                if name in state and not _alike(name, state[name], value):
                    del state[name]
    return RigState(**state) if state else None


def of_state(state: RigState) -> Iterator[tuple[str, Any]]:
    """What a state names, field by field."""
    for name in RigState.model_fields:
        if (value := getattr(state, name)) is not None:
            yield name, value


def _alike(name: str, one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= usual(
            "reading_apart", "scale_lb" if name == "draw_weight_lb" else "ruler_in"
        )
    return bool(one == other)


def change_of(change: Change, rig: Rig, entries: Sequence[AnyEntry], before: Rig | None) -> str:
    """What a change is of, as the plan's periods and settings know it; `other` for words unknown."""
    return History(rig, (*entries, change), before).changes[-1][2]


def begins_period(kind: str) -> bool:
    """Whether the bow shoots another arrow after such a change."""
    return kind not in SETTINGS


def to_edit(rig: Rig, change: Change, kind: str) -> str:
    """Which fields of the rig file the archer has to change by hand; empty where none."""
    state = change.rig_state or RigState()
    edits = [
        f"{where}: {new}" if old is None else f"{where} from {old} to {new}"
        for name, value in of_state(state) for where, old, new in _edits(rig, name, value) if old != new
    ]  # fmt: skip
    if edits:
        return f"Change in rig.yaml: {'; '.join(edits)}."
    if next(of_state(state), None) is None and kind in _TOUCHED:
        return f"Change in rig.yaml what is different now: {_TOUCHED[kind]}."
    return ""


def _edits(rig: Rig, name: str, value: Any) -> list[tuple[str, str | None, str]]:
    """Field, value in the file, value now."""
    bow = rig.bow
    if name == "draw_weight_lb":
        return [
            ("bow.draw_weight", _weight_told(bow.draw_weight), f"{{lb: {value:g}, at: own_draw}}")
        ]
    if name == "plunger":
        own = bow.plunger or Plunger()
        return [
            (f"bow.plunger.{written}", _plain(getattr(own, field)), _plain(getattr(value, field)) or "")
            for written, field in (("spring", "spring"), ("turns", "turns"), ("out", "out_in"))
            if getattr(value, field) not in (None, "unknown")
        ]  # fmt: skip
    places: dict[str, tuple[str, Any]] = {
        "brace_height_in": ("bow.brace_height", bow.brace_height_in),
        "plate_in": ("bow.plate.thickness", bow.plate and bow.plate.thickness_in),
        "nocking_point_in": ("bow.nocking_point.above_square",
                             bow.nocking_point and bow.nocking_point.above_square_in),
        "limbs_id": ("bow.limbs_id", bow.limbs_id),
        "tiller_in": ("bow.tiller", bow.tiller_in),
        "release": ("archer.release", rig.archer.release),
        "draw_length_in": ("archer.draw_length", rig.archer.draw_length_in),
        "string_material": ("string.material", rig.string.material),
    }  # fmt: skip
    if name not in places:
        return []
    where, old = places[name]
    if old is not None and _alike(name, old, value):
        return []
    in_inches = name.endswith("_in")
    return [(where, _plain(old, in_inches), _plain(value, in_inches) or "")]


def _plain(value: Any, in_inches: bool = False) -> str | None:
    if value is None:
        return None
    if isinstance(value, float | int):
        return inches(value, 32) if in_inches else f"{value:g}"
    return str(value)


def _weight_told(weight: DrawWeight) -> str:
    if weight.curve is not None:
        return "its curve"
    at = f"{weight.at:g} in" if isinstance(weight.at, float) else weight.at
    return f"{{lb: {weight.lb:g}, at: {at}}}"


def edited_already(rig: Rig, change: Change) -> bool:
    """Whether the rig file says already what the change states."""
    named = list(of_state(change.rig_state or RigState()))
    edits = [
        edit for name, value in named for edit in _edits(rig, name, value) if edit[1] != edit[2]
    ]
    return bool(named) and not edits


def keep_before(folder: Path) -> bool:
    """Copy the rig to `before.yaml`, if there is none; an old one is never overwritten."""
    if os.path.lexists(folder / BEFORE):
        return False
    write_atomic(folder / BEFORE, read_text(folder / RIG))
    return True


def instead_of(notebook: Notebook | None, entry: Have) -> list[AnyEntry]:
    """What strikes out earlier counts of the same day that this one replaces.

    Shafts of two lengths are two counts of one day; a count without a length is of all of them.
    """
    entries = notebook.entries if notebook is not None else ()
    return [
        withdrawal(notebook, place)
        for place, e in enumerate(entries)
        if notebook is not None and isinstance(e, Have) and (e.item, e.date) == (entry.item, entry.date)
        and (entry.length_in is None or e.length_in in (None, entry.length_in))
    ]  # fmt: skip
