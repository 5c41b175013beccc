"""What is owned, from the stock's rows and everything noted, and the notebook put together arrow by arrow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shaftwright.answers.arrows.shot import Arrow, End, Key, build_key, within_in
from shaftwright.inference.evidence.summary import Reading
from shaftwright.inference.resolve import resolve_build
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import AnyEntry, BareShaft, Broadhead, Dozen, Have
from shaftwright.records.stock import Stock, StockItem

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario


_PARTS = ("point", "broadhead", "insert", "collar", "nock", "fletching", "wrap")


@dataclass(frozen=True)
class Piece:
    """One shaft in hand."""

    shaft: str
    #: as noted; those not yet shot follow
    number: int
    length_in: float
    shot: bool


@dataclass(frozen=True)
class InHand:
    """What is owned now."""

    #: the stock with what is in hand now; None without one
    stock: Stock | None
    pieces: tuple[Piece, ...] = ()
    #: rows with several in hand, noted only shorter than they came: are the others cut too?
    ask_about: tuple[str, ...] = ()
    #: shafts noted that are in no stock
    unknown: tuple[str, ...] = ()

    def of(self, shaft: str | None) -> tuple[Piece, ...]:
        """The pieces of one row, longest first."""
        return tuple(
            sorted((p for p in self.pieces if p.shaft == shaft), key=lambda p: -p.length_in)
        )

    def nearest(self, shaft: str | None, length_in: float) -> Piece | None:
        """The piece that is so long or can be cut to it: the shortest, one that was shot before others."""
        fitting = [p for p in self.of(shaft) if p.length_in >= length_in - 1e-6]
        return min(fitting, key=lambda p: (p.length_in, not p.shot, p.number), default=None)


def in_hand(stock: Stock | None, entries: Sequence[AnyEntry]) -> InHand:
    """What is owned, from the stock's rows and everything noted."""
    noted = [e for e in entries if isinstance(e, BareShaft | Broadhead)]
    if stock is None:
        return InHand(None, unknown=tuple(sorted(_named(noted))))
    have = _latest(entries)
    used = _parts_used(entries)
    pieces: list[Piece] = []
    items: list[StockItem] = []
    ask: list[str] = []
    for item in stock.items:
        if item.kind == "shaft":
            own, asked = _shafts(item, noted, have.get(item.item, ()))
            dozens = [e for e in entries if isinstance(e, Dozen) and e.build.shaft == item.item]
            own += _dozens(item, dozens, have.get(item.item, ()), len(own))
            pieces += own
            # a dozen noted as made says how long they are
            ask += [item.item] if asked and not dozens else []
            longest = max((p.length_in for p in own), default=None)
            update = {"in_hand": len(own), "in_hand_length_in": longest}
            items.append(item if len(own) == item.in_hand == 0 else item.model_copy(update=update))
            continue
        count = sum(h.count for h in have[item.item]) if item.item in have else item.in_hand
        if item.item in used and item.item not in have:
            count = max(count, 1)
        items.append(item if count == item.in_hand else item.model_copy(update={"in_hand": count}))
    unknown = tuple(sorted(name for name in _named(noted) if name not in stock.by_name))
    return InHand(Stock(tuple(items), stock.name), tuple(pieces), tuple(ask), unknown)


def _named(noted: Iterable[BareShaft | Broadhead]) -> set[str]:
    return {e.build.shaft for e in noted if e.build.shaft is not None}


#: what another arrow is made of; of the rest the usual one is taken, in hand or not
LOOSE = ("shaft", "point", "broadhead", "insert", "outsert", "adapter", "collar", "wrap")


def taken_along(held: InHand, along: frozenset[str]) -> InHand:
    """Only what is taken along; nothing of the shop, and what was shot but stays at home is not in hand."""
    if held.stock is None:
        return held
    pieces = tuple(p for p in held.pieces if p.shaft in along)
    items = [
        item if item.kind not in LOOSE or item.item in along else item.model_copy(update={"in_hand": 0})
        for item in held.stock.items
        if item.kind not in LOOSE or item.in_hand
    ]  # fmt: skip
    return InHand(Stock(tuple(items), held.stock.name), pieces, (), held.unknown)


def _latest(entries: Sequence[AnyEntry]) -> dict[str, tuple[Have, ...]]:
    """Of each item what was noted last; of one day, hands that contradict one another, the fewest.

    A count without a length says how many there are in all, those with a length among them.
    """
    found: dict[str, dict[tuple[str, float], Have]] = {}
    for entry in entries:
        if isinstance(entry, Have):
            per_day = found.setdefault(entry.item, {})
            key = str(entry.date or ""), entry.length_in or 0.0
            if key not in per_day or entry.count < per_day[key].count:
                per_day[key] = entry
    latest = {}
    for item, per_day in found.items():
        day = max(date for date, _ in per_day)
        noted = [h for (date, _), h in sorted(per_day.items()) if date == day]
        long = sum(h.count for h in noted if h.length_in is not None)
        latest[item] = tuple(
            h if h.length_in is not None else h.model_copy(update={"count": max(h.count - long, 0)})
            for h in noted
        )
    return latest


def _parts_used(entries: Sequence[AnyEntry]) -> set[str]:
    specs = [e.build for e in entries if isinstance(e, BareShaft | Broadhead | Dozen)]
    return {name for spec in specs for part in _PARTS if (name := getattr(spec, part)) is not None}


def _shafts(
    item: StockItem, noted: Sequence[BareShaft | Broadhead], have: Sequence[Have]
) -> tuple[list[Piece], bool]:
    """The shafts of one row in hand, and whether to ask about the length of the others."""
    full = item.full_length_in or 0.0
    usual = item.in_hand_length_in or full
    mine = [(e, e.build.length_in or full) for e in noted if e.build.shaft == item.item]
    longest = max((length for _, length in mine), default=0.0)
    last = max((str(e.date or "") for e, _ in mine), default="")
    shortest: dict[int, float] = {}
    shot_on: dict[int, str] = {}
    for entry, length in mine:
        number = entry.piece or 1
        shortest[number] = min(length, shortest.get(number, length))
        shot_on[number] = max(str(entry.date or ""), shot_on.get(number, ""))
    lengths = [usual] * item.in_hand
    told, measured, counted_on, near = False, False, "", setting("plan.same_length_in")
    if have:
        fewer = sum(h.count for h in have) < item.in_hand
        measured = fewer and all(h.length_in is not None for h in have)
        lengths = [h.length_in or usual for h in have for _ in range(h.count)]
        told, counted_on = any(h.length_in is not None for h in have), str(have[0].date or "~")
        if counted_on >= last:
            # said after the last shot: no more than these are there
            shortest = {k: shortest[k] for k in sorted(shortest)[: len(lengths)]}
    lengths.sort()
    # of one day, a number beyond those counted came after they were
    counted = (counted_on, len(lengths))
    pieces: list[Piece] = []
    for number in sorted(shortest):
        # the shot one is the one whose length fits best: not shorter
        fitting = next((x for x in lengths if x >= shortest[number] - 1e-6), None)
        if fitting is not None:
            if measured and counted_on > shot_on[number] and fitting - shortest[number] > near:
                continue  # those that are left were measured since, and none is so short: it is gone
            lengths.remove(fitting)
        elif lengths and not told:
            lengths.pop()
        elif lengths and counted >= (shot_on[number], number):
            shortest[number] = lengths.pop()  # all were counted shorter since: it was cut too
        pieces.append(Piece(item.item, number, shortest[number], True))
    following = max(shortest, default=0) + 1
    pieces += [
        Piece(item.item, following + i, length, False) for i, length in enumerate(reversed(lengths))
    ]
    asked = (
        len(shortest) == 1 and len(pieces) > 1 and longest < full - 1e-6
        and item.in_hand_length_in is None and not told
    )  # fmt: skip
    return pieces, asked


def _dozens(
    item: StockItem, made: Sequence[Dozen], have: Sequence[Have], known: int
) -> list[Piece]:
    """The arrows of dozens noted as made, beyond those already counted; a later count holds them too."""
    full, counted = item.full_length_in or 0.0, have[0].date if have else None
    since = [e for e in made if e.date is None or counted is None or e.date >= counted]
    lengths = [e.build.length_in or full for e in since for _ in range(e.made)][known:]
    return [Piece(item.item, known + 1 + i, x, False) for i, x in enumerate(lengths)]


def arrows_shot(scenario: Scenario) -> tuple[Arrow, ...]:
    """Every arrow shot with coordinates or words, of this bow and of those before."""
    learned = scenario.learned
    if learned is None:
        return ()
    groups: dict[Key, list[Reading]] = {}
    specs: dict[Key, Builds] = {}
    made: dict[str, Builds] = {}
    for reading in learned.readings:
        spec = reading.entry.build
        name = repr(spec)
        if name not in made:
            made[name] = resolve_build(spec, scenario.stock)
        key = (*build_key(spec, made[name]), reading.setting, reading.period)
        groups.setdefault(key, []).append(reading)
        specs.setdefault(key, made[name])
    _heads_to_bare(groups, specs)
    within = within_in(learned)
    arrows = []
    for key, readings in groups.items():
        bare = [r for r in readings if isinstance(r.entry, BareShaft)]
        heads = tuple(r for r in readings if isinstance(r.entry, Broadhead))
        if not bare and readings[0].period == 0 and not heads:
            continue
        # the build most readings were taken with; of equals the taped one
        index = max(
            {r.build for r in (bare or readings)},
            key=lambda k: (sum(r.build == k for r in bare), learned.builds[k].taped, -k),
        )
        first = next(r for r in (bare or readings) if r.build == index)
        arrows.append(
            Arrow(
                first.entry.build, specs[key], learned.builds[index], readings[0].period,
                readings[0].setting, tuple(map(_end, bare)), heads, learned.slope, within,
            )
        )  # fmt: skip
    return tuple(arrows)


def _heads_to_bare(groups: dict[Key, list[Reading]], specs: dict[Key, Builds]) -> None:
    """Broadheads of nearly the point's weight count for the arrow that was shot bare with the point."""
    heads = {k: [r for r in found if isinstance(r.entry, Broadhead)] for k, found in groups.items()}
    bare = [k for k, found in groups.items() if len(heads[k]) < len(found)]
    for key in [k for k in bare if not heads[k]]:
        front = float(specs[key].front_gr[0])
        # all of the key but the weight up front is the same
        apart = {
            k: abs(float(specs[k].front_gr[0]) - front)
            for k, found in heads.items() if found and k[:2] + k[3:] == key[:2] + key[3:]
        }  # fmt: skip
        near = min(apart, key=lambda k: (apart[k], repr(k)), default=None)
        if near is not None and apart[near] < setting("plan.head_step_gr") - 1:
            groups[key] += heads[near]
    for key in [k for k in groups if k not in bare and groups[k][0].period == 0]:
        if any(r is heads[key][0] for k in bare for r in groups[k]):
            del groups[key]


def _end(reading: Reading) -> End:
    entry, look = reading.entry, reading.look
    assert isinstance(entry, BareShaft)
    side = up = None
    enough = True
    if look.centre is not None:
        side, up = float(look.centre[0]), float(look.centre[1])
        enough = (
            look.kept.sum() >= setting("plan.fair_bare")
            and len(look.fletched) >= setting("plan.fair_fletched")
        )  # fmt: skip
    elif entry.reads is not None:
        word = "slight_word_in" if entry.reads.startswith("slightly") else "plain_word_in"
        size = 0.0 if entry.reads == "straight" else setting(f"plan.{word}")
        side = size if "stiff" in entry.reads else -size
    void = bool(look.void) or look.disagree or not enough
    fair = (
        side is not None and enough and not void and entry.marks in ("none", "not_looked")
        and entry.distance_yd >= setting("plan.fair_yd") - 1e-9
    )  # fmt: skip
    return End(reading, side, up, fair, void, not enough, entry.piece or 1)
