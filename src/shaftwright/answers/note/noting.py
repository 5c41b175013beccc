"""What a reading must agree with before it is kept: the bow, what is in hand, and its own words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from shaftwright.answers.arrows.pieces import in_hand
from shaftwright.answers.parts import of_parts
from shaftwright.answers.plan.result import Plan
from shaftwright.answers.scenario import scenario
from shaftwright.errors import Fault, InputError, did_you_mean
from shaftwright.inference.evidence.look import side_of
from shaftwright.inference.evidence.periods import History
from shaftwright.inference.notebook_rig import rig_now
from shaftwright.inference.resolve import resolve_build
from shaftwright.records.notebook import (
    AnyEntry,
    BareShaft,
    Broadhead,
    BuildSpec,
    Change,
    Chrono,
    Dozen,
    Have,
    Sound,
    Weigh,
)
from shaftwright.records.rig import Hand, Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.fits import fit
from shaftwright.units import inches, series

#: lengths nearer than this are one [in]: half of the sixteenth that archers write
_SAME_IN: Final = 1 / 32
_SHOT: Final = (BareShaft, Broadhead, Chrono, Sound)
#: which options tell how the bow stood before a change
_OPTIONS: Final = {
    "limbs": ("--limbs-id", "--draw-weight"), "draw_weight": ("--draw-weight",),
    "material": ("--string-material",), "string": ("--string",), "brace": ("--brace",),
    "plate": ("--plate",), "tiller": ("--tiller",), "nocking_point": ("--nocking-point",),
}  # fmt: skip


@dataclass(frozen=True)
class Arrow:
    """An arrow that was or will be shot."""

    build: BuildSpec
    #: which of several shafts of one row
    piece: int | None = None

    def into(self, data: dict[str, Any]) -> None:
        """Put it into an entry's data."""
        data["build"] = self.build.model_dump(by_alias=True, exclude_none=True)
        if self.piece is not None and data["kind"] != "dozen":
            data.setdefault("piece", self.piece)


def with_head(arrow: Arrow, stock: Stock | None) -> Arrow:
    """The arrow with the broadhead that weighs what its point does and goes on the same way."""
    from shaftwright.answers.shop.lines import twin_head  # only a test of broadheads asks for it

    point = stock.by_name.get(arrow.build.point or "") if stock is not None else None
    if stock is None or point is None:
        return arrow
    head = twin_head(point, stock.of_kind("broadhead"))
    if head is None:
        return arrow
    return replace(
        arrow, build=arrow.build.model_copy(update={"point": None, "broadhead": head.item})
    )


def arrow_named(plan: Plan, stock: Stock | None, entries: Sequence[AnyEntry]) -> Arrow | None:
    """The arrow that the plan names next, with the parts it was last noted with."""
    then = plan.next
    if then.shaft is None:
        return None
    return _arrow((then.shaft, then.length_in, then.point, then.insert), then.piece, stock, entries)


def arrow_to_note(
    kind: str, plan: Plan, stock: Stock | None, shelf: Stock | None, entries: Sequence[AnyEntry]
) -> Arrow | None:
    """The arrow of an entry that names none: the one `next` names, for a dozen the one that leads."""
    find = arrow_leading if kind == "dozen" else arrow_named
    arrow = find(plan, stock, entries)
    return with_head(arrow, shelf) if arrow is not None and kind == "broadhead" else arrow


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
    spec = of_parts(stock, *parts)
    return None if spec is None else Arrow(spec, piece)


def arrows_noted(entries: Sequence[AnyEntry]) -> tuple[BuildSpec, ...]:
    """The arrows of the notebook, each once, the last one first."""
    shot = (e.build for e in reversed(entries) if isinstance(e, BareShaft | Broadhead))
    return tuple(dict.fromkeys(shot))


def refused(entry: AnyEntry, stock: Stock | None, entries: Sequence[AnyEntry]) -> list[Fault]:
    """What in an entry cannot be: a part that nobody has, no point, a shaft longer than it is."""
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
    faults = list[Fault]()
    if build.point is None and build.broadhead is None:
        problem = "is missing: no arrow is shot without one; name it with --point or --broadhead"
        faults.append(Fault("note", problem, None, "point"))
    if problem := _too_long(entry, build, stock, entries):
        faults.append(Fault("note", problem, None, "length", inches(_length(build, stock))))
    return faults


def _length(build: BuildSpec, stock: Stock) -> float:
    """How long the shaft of a build is [in], uncut where nothing is said."""
    return build.length_in or stock.by_name[str(build.shaft)].full_length_in or 0.0


def _too_long(
    entry: BareShaft | Broadhead | Dozen,
    build: BuildSpec,
    stock: Stock,
    entries: Sequence[AnyEntry],
) -> str:
    shaft = str(build.shaft)
    full, length = stock.by_name[shaft].full_length_in or 0.0, _length(build, stock)
    if length > full + _SAME_IN:
        return f"is longer than any {shaft}: it comes at {inches(full)}"
    if isinstance(entry, Dozen):
        return ""
    now, shot = longest(shaft, entry.piece or 1, stock, _until(entries, entry))
    if length <= now + _SAME_IN:
        return ""
    if not shot:
        return (
            f"is longer than the {shaft} in hand, {inches(now)}: if there is a longer one, say so: "
            f"shaftwright note have {shaft} COUNT --length LENGTH"
        )
    another = another_piece(entry, stock, entries)
    other = "" if another is None else f"; if it is another one, add --piece {another}"
    return f"is longer than that {shaft} is now: you shot it at {inches(now)}, and no shaft grows{other}"


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
    if own and piece > max(p.number for p in own):
        return row.comes_in, False  # one more than are in hand has come since
    fresh = [p.length_in for p in own if not p.shot]
    return max(fresh, default=row.in_hand_length_in or row.comes_in), False


def another_piece(
    entry: BareShaft | Broadhead, stock: Stock, entries: Sequence[AnyEntry]
) -> int | None:
    """The lowest number under which a shaft of this row can be as long as the entry says."""
    shaft, length = str(entry.build.shaft), _length(entry.build, stock)
    known = _until(entries, entry)
    last = max((p.number for p in in_hand(stock, known).of(shaft)), default=0) + 1
    return next(
        (n for n in range(1, last + 1) if length <= longest(shaft, n, stock, known)[0] + _SAME_IN), None
    )  # fmt: skip


def _have_refused(entry: Have, stock: Stock | None) -> list[Fault]:
    if stock is None:
        return []
    row = stock.by_name.get(entry.item)
    if row is None:
        hint = did_you_mean(entry.item, stock.by_name, "; add a row for it first")
        problem = f"is not in {stock.name or 'the stock'}{hint}"
        return [Fault("note", problem, None, "item", entry.item)]
    if entry.length_in is None:
        return []
    full = row.full_length_in
    if row.kind != "shaft":
        problem = f"is for shafts, and {entry.item} is a {row.kind}"
    elif full is not None and entry.length_in > full + _SAME_IN:
        problem = f"is longer than any {entry.item}: it comes at {inches(full)}"
    else:
        return []
    return [Fault("note", problem, None, "length", inches(entry.length_in))]


def tail_of(reads: str, hand: Hand) -> str:
    """Which way the tail points of an arrow that reads so."""
    if reads == "straight":
        return reads
    return side_of("stiff" if "stiff" in reads else "weak", hand)


def doubts(
    entry: AnyEntry, rig: Rig | None, stock: Stock | None, entries: Sequence[AnyEntry],
    before: Rig | None = None, plan: Plan | None = None, typed: bool = True,
) -> tuple[str, ...]:  # fmt: skip
    """What is hardly meant so: an early dozen, a shaft too short, what does not agree, a wrong date.

    Where it was `typed`, an option that tells it aright is named.
    """
    found = list[str]()
    if isinstance(entry, Dozen) and plan is not None and plan.next.stage not in ("dozen", "done"):
        found.append("No arrow is proven yet, so a dozen is early.")
    found += _of_shaft(entry, stock, _shortest(entry, rig, stock, entries, before))
    if isinstance(entry, BareShaft):
        found += _against_the_tails(entry, rig.archer.hand if rig is not None else "right")
    return (*found, *_misdated(entry, rig, entries, before, typed))


def _shortest(
    entry: AnyEntry, rig: Rig | None, stock: Stock | None, entries: Sequence[AnyEntry], before: Rig | None
) -> float | None:  # fmt: skip
    """Shortest safe shaft for the draw, as all that is noted leaves the bow [in]."""
    if rig is None or not isinstance(entry, Have | BareShaft | Broadhead | Dozen):
        return None
    return scenario(rig, None, stock, entries, (), before).where.shortest


def _of_shaft(entry: AnyEntry, stock: Stock | None, shortest_in: float | None) -> tuple[str, ...]:
    """A shaft too short for the draw, and a part that does not go on it."""
    if isinstance(entry, Have):
        name, length, parts = entry.item, entry.length_in, list[str | None]()
    elif isinstance(entry, BareShaft | Broadhead | Dozen):
        build = entry.build
        name, length = str(build.shaft), build.length_in
        parts = [build.point, build.broadhead, build.insert, build.collar, build.nock]
    else:
        return ()
    found, rows = list[str](), {} if stock is None else stock.by_name
    if shortest_in is not None and length is not None and length < shortest_in - _SAME_IN:
        found.append(
            f"A shaft of {inches(length)} is too short for this draw: it must be at least "
            f"{inches(shortest_in)}."
        )
    for part in (rows[p] for p in parts if p in rows and name in rows):
        seen = fit(part, rows[name])
        if not seen.fits:
            found.append(f"{part.item} does not go on {name}: it {seen.reason}.")
    return tuple(found)


def _against_the_tails(entry: BareShaft, hand: Hand) -> tuple[str, ...]:
    """A word and tails that speak of two different arrows."""
    if entry.reads in (None, "straight") or hand == "unknown":
        return ()
    flown = (s.tail.side for s in entry.bare if s.tail and s.tail.seen == "in_flight")
    tails = {*entry.nock, *flown}
    word = entry.reads or ""
    here = tail_of(word, hand)
    there = "left" if here == "right" else "right"
    if there not in tails or here in tails:
        return ()
    said = word.replace("_", " ")
    return (
        f"You say {said}, but the tails pointed {there}: from a {hand}-handed bow that is the "
        f"{'weak' if 'stiff' in word else 'stiff'} side.",
    )  # fmt: skip


def _misdated(
    entry: AnyEntry, rig: Rig | None, entries: Sequence[AnyEntry], before: Rig | None, typed: bool
) -> tuple[str, ...]:  # fmt: skip
    """What of an entry's date is doubtful: a day to come, or one that its place in the notebook belies."""
    day = entry.date
    if day is None:
        return ()
    if day > dt.date.today():
        return (f"{day} is still to come.",)
    if rig is None or isinstance(entry, Have | Weigh):
        return ()
    if isinstance(entry, Change):
        later = [e.date for e in entries if isinstance(e, _SHOT) and e.date and e.date > day]
        if not later:
            return ()
        return (
            f"Dated before what was shot on {min(later)}, but noted after it: that counts for the bow as it "
            "was before the change.",
        )  # fmt: skip
    history = History(rig_now(rig, entries)[0], (*entries, entry), before)
    place = len(entries)
    passed = [(c, of) for _, c, of in history.changes if c.date is not None and c.date > day]
    if not passed or history.period(place) or history.setting(place):
        return ()
    change, _ = passed[0]
    as_it_was = dict.fromkeys(name for _, of in passed for name in _OPTIONS.get(of, ()))
    what = change.what.replace("_", " ")
    told = (
        f"Dated before the change of {what} on {change.date}, but noted after it: it counts for the bow "
        "as it is now."
    )
    if typed and as_it_was and isinstance(entry, BareShaft | Broadhead):
        told += (
            f" Was it shot before? Then note it with {series(list(as_it_was))} as the bow stood."
        )
    return (told,)
