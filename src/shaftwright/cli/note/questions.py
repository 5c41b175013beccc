"""The questions of `note`, one after another, with what is usual as the answer of a bare Enter."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar

import click
from pydantic import TypeAdapter, ValidationError

from shaftwright.answers.note.changes import WHATS, begins_period, change_of
from shaftwright.answers.note.noting import Arrow, another_piece, arrows_noted, longest
from shaftwright.cli.note.given import Place, arrow_next, read_as, read_date, read_masses
from shaftwright.errors import Fault, InputError, did_you_mean, echo, printable
from shaftwright.records.fields import Distance, Hit, PartMass, ShaftLength, read_hits
from shaftwright.records.notebook import (
    AnyEntry,
    BareShaft,
    Broadhead,
    BuildSpec,
    Change,
    Point,
    RigState,
)
from shaftwright.render.screens.bareshaft import arrow_told, distance_plain
from shaftwright.render.words import wrap
from shaftwright.units import distance_typed, inches

T = TypeVar("T")

#: what is asked for, and the fields of which any says that nothing needs to be asked
ASKED = {
    "bareshaft": ("fletched", "bare", "reads", "nock"),
    "broadhead": ("fletched", "broadhead", "together"),
    "dozen": ("build", "made", "masses"),
}
_WORDS = ("straight", "slightly stiff", "stiff", "slightly weak", "weak")
_TAILS = ("straight", "left", "right", "high", "low")
_MOST_ARROWS = 5


def ask(question: str, default: str, read: Callable[[str], T]) -> T:
    """Ask until the answer can be read; Enter takes the default."""
    shown = f"{question} [{default}]:" if default else f"{question}:"
    while True:
        said: str = click.prompt(shown, default="", show_default=False, prompt_suffix=" ")
        try:
            return read(said.strip() or default)
        except (ValueError, InputError) as error:
            click.echo(wrap(f"{echo(said.strip())} {_problem(error)}", "    ", "  ! "))


def _problem(error: Exception) -> str:
    if isinstance(error, InputError):
        return "; ".join(fault.problem for fault in error.faults)
    if isinstance(error, ValidationError):
        return "; ".join(str(one.get("ctx", {}).get("error", one["msg"])) for one in error.errors())
    return str(error)


def _reader(kind: Any) -> Callable[[Any], Any]:
    """A reader of a record's type of field."""
    return TypeAdapter(kind).validate_python


def _plain(said: str) -> str:
    return " ".join(re.split(r"[\s_-]+", said.lower()))


def one_of(*allowed: str) -> Callable[[str], str]:
    """A reader of one of several words, or the only one that begins so."""

    def read(said: str) -> str:
        words = _plain(said)
        near = [words] if words in allowed else [w for w in allowed if w.startswith(words)]
        if len(near) != 1 or not words:
            raise ValueError(f"is none of: {', '.join(allowed)}")
        return near[0]

    return read


def other_piece(place: Place, entry: AnyEntry, fault: Fault) -> AnyEntry:
    """The entry of another piece, where the shaft is longer than the one that was shot and is another."""
    if (
        fault.field != "length"
        or place.stock is None
        or not isinstance(entry, BareShaft | Broadhead)
    ):
        return entry
    number = another_piece(entry, place.stock, place.entries)
    if number is None:
        return entry
    click.echo(wrap(f"{echo(fault.value)} {fault.problem.partition('; ')[0]}."))
    other = click.confirm(f"Is it another one, number {number}?", default=False)
    return entry.model_copy(update={"piece": number}) if other else entry


def fill(kind: str, place: Place, data: dict[str, Any]) -> None:
    """Ask for what an entry of this kind needs."""
    if kind == "dozen":
        _dozen(place, data)
        return

    assert place.bow is not None
    named = place.bow.scenario.plan.next
    if "build" not in data:
        _arrow(kind, place, data)
    if "distance" not in data:
        _distance(place, data, named.distance_yd)
    (_bareshaft if kind == "bareshaft" else _broadhead)(place, data)
    day = ask("Date", data.get("date", "unknown"), read_date)
    data.pop("date", None)
    if day is not None:
        data["date"] = day


def _dozen(place: Place, data: dict[str, Any]) -> None:
    _arrow("dozen", place, data)
    data["made"] = ask("How many are made", "12", _count)
    masses = ask(
        "Their weights in grains, such as 503 504.5 502; Enter if not weighed", "", read_masses
    )
    if masses:
        data["masses"] = masses


def _count(said: str) -> int:
    if not said.isdecimal() or not 1 <= int(said[:6]) <= 10_000:
        raise ValueError("is not a whole number")
    return int(said)


def _arrow(kind: str, place: Place, data: dict[str, Any]) -> None:
    """Which arrow: the one that `next` names, one noted before, or another by its parts."""
    named = arrow_next(kind, place)
    noted = (b for b in arrows_noted(place.entries) if b.broadhead is None or kind == "broadhead")
    known = [] if named is None else [named]
    known += [Arrow(b) for b in noted if named is None or b != named.build]
    known = known[:_MOST_ARROWS]
    if known:
        told = [
            f"  {number}  {arrow_told(arrow.build, arrow.piece)}"
            f"{'   (the next one)' if arrow is named else ''}\n"
            for number, arrow in enumerate(known, 1)
        ]
        click.echo(f"Which arrow?\n{''.join(told)}  or another: its shaft's name, or its spine")

    def read(said: str) -> Arrow | str:
        if said.isdecimal() and 1 <= int(said[:6]) <= len(known):
            return known[int(said) - 1]
        return _shaft(place, said)

    found = ask("Arrow" if known else "Which shaft, or which spine", "1" if known else "", read)
    arrow = Arrow(_parts(place, found, named)) if isinstance(found, str) else found
    arrow.into(data)


def _shaft(place: Place, said: str) -> str:
    """A shaft's name that is in the stock, or a spine as digits."""
    shafts = [item.item for item in place.stock.of_kind("shaft")] if place.stock is not None else []
    if said in shafts or re.fullmatch(r"\d{3,4}", said):
        return said
    hint = did_you_mean(said, shafts, "; or give its spine, such as 500")
    raise ValueError(f"is no shaft of your stock{hint}")


def _parts(place: Place, shaft: str, named: Arrow | None) -> BuildSpec:
    """The rest of an arrow, part by part."""
    stock = place.stock
    own = stock.by_name.get(shaft) if stock is not None else None
    read_length = _reader(ShaftLength)
    if stock is None or own is None or own.kind != "shaft":
        return BuildSpec(
            spine_mils=float(shaft), length_in=ask("How long, nock throat to the end", "", read_length),
            front_gr=ask("Up front, point and insert together, in grains", "", _reader(PartMass)),
        )  # fmt: skip
    now = inches(longest(shaft, 1, stock, place.entries)[0])
    parts: dict[str, Any] = {"shaft": shaft, "length_in": ask("How long", now, read_length)}

    def part(*kinds: str, none: str = "") -> Callable[[str], str]:
        names = [item.item for item in stock.of_kind(*kinds)]

        def read(said: str) -> str:
            if said not in (*names, none) or not said:
                or_none = none and f", or {none}"
                raise ValueError(f"is none of your stock: {', '.join(names[:12])}{or_none}")
            return said

        return read

    build = named.build if named is not None else BuildSpec()
    head = ask("Point", build.point or build.broadhead or "", part("point", "broadhead"))
    insert = ask(
        "Insert", build.insert or "none", part("insert", "outsert", "adapter", none="none")
    )
    parts["broadhead" if stock.by_name[head].kind == "broadhead" else "point"] = head
    if insert != "none":
        parts["insert"] = insert
    return BuildSpec(**parts)


def _distance(place: Place, data: dict[str, Any], usual_yd: float | None) -> None:
    metric = place.units == "metric"
    known = _reader(Distance)

    def read(said: str) -> float:
        distance: float = known(distance_typed(said, place.units))
        return distance

    usual = distance_plain(usual_yd, place.units) if usual_yd is not None else ""
    found = ask("Distance in metres" if metric else "Distance in yards", usual, read)
    # what was not typed anew is kept to the letter
    same = usual_yd is not None and distance_plain(found, place.units) == usual
    data["distance"] = usual_yd if same else round(found, 4)


def _bareshaft(place: Place, data: dict[str, Any]) -> None:
    assert place.bow is not None
    named = place.bow.scenario.plan.next
    _how_to_say(place.units, words=True)
    fletched, word = _hits("fletched", place.units, named.fletched, words=True)
    bare: tuple[Hit, ...] = ()
    if word is None:
        bare, word = _hits("bare", place.units, named.bare, words=True)
    found = {"fletched": fletched, "bare": bare, "reads": word and word.replace(" ", "_")}
    data |= {name: seen for name, seen in found.items() if seen}
    needed = not bare and word is None
    tails = ask(
        f"Tails ({', '.join(_TAILS)}, none seen)", "" if needed else "none seen",
        lambda said: _tails(said, needed),
    )  # fmt: skip
    if tails:
        data["nock"] = tails
    last = next((e for e in reversed(place.entries) if e.kind == "bareshaft"), None)
    if "marks" not in data:
        marks = ask("Marks on the bow (none, plate, shelf, not looked)", "not looked",
                    one_of("none", "plate", "shelf", "not looked"))  # fmt: skip
        data["marks"] = marks.replace(" ", "_")
    if not data.get("taped"):
        data["taped"] = click.confirm(
            "Was the feathers' weight taped on?", default=last is not None and last.taped
        )


def _tails(said: str, needed: bool) -> tuple[str, ...]:
    if said in ("none seen", "none"):
        if needed:
            raise ValueError(
                "leaves nothing to keep, without hits and without a word; Ctrl-C leaves"
            )
        return ()
    read = one_of(*_TAILS)
    found = tuple(dict.fromkeys(read(part) for part in re.split(r"[\s,+]+|\band\b", said) if part))
    if not 1 <= len(found) <= 2:
        raise ValueError(f"is not one or two of: {', '.join(_TAILS)}; or none seen")
    return found


def _broadhead(place: Place, data: dict[str, Any]) -> None:
    _how_to_say(place.units, words=False)
    fletched, _ = _hits("field point", place.units, None, words=False)
    broadhead, _ = _hits("broadhead", place.units, None, words=False)
    if fletched:
        data["fletched"] = fletched
    if broadhead:
        data["broadhead"] = broadhead
    else:
        data["together"] = click.confirm("Do they land together?", default=True)


def _how_to_say(units: str, words: bool) -> None:
    unit = "centimetres" if units == "metric" else "inches"
    said = f"Hits in {unit} from the spot aimed at: 3l 1h is 3 left and 1 high (lo is low), as is -3,1. "
    said += "One a line or several with ; between them. Enter when done."
    if words:
        said += f" Or one word for all: {', '.join(_WORDS)}."
    click.echo(wrap(said))


def _hits(
    name: str, units: str, usual: int | None, words: bool
) -> tuple[tuple[Hit, ...], str | None]:
    """Hits, line by line until an empty one; or a word instead of all of them."""
    unit = "cm" if units == "metric" else "in"
    check = _reader(Point)
    hits: list[Hit] = []

    def read(said: str) -> str | tuple[Hit, ...]:
        word = _plain(read_as(said))
        if words and not hits and word in _WORDS:
            return word
        return tuple(check(hit) for hit in read_hits(said, unit))

    while True:
        of = f" of {usual}" if usual is not None and len(hits) < usual else ""
        found = ask(f"  {name} {len(hits) + 1}{of}", "", read)
        if isinstance(found, str):
            return (), found
        if not found:
            return tuple(hits), None
        hits += found


def what_kind(place: Place, entry: AnyEntry) -> AnyEntry:
    """Free text about a change: whether the bow shoots another arrow since, and what it was."""
    assert isinstance(entry, Change)
    assert place.bow is not None
    if (
        entry.what in WHATS
        or change_of(entry, place.bow.rig, place.entries, place.bow.before) != "other"
    ):
        return entry
    question = f'Does the bow want another arrow after "{printable(entry.what)}"?'
    if not click.confirm(question, default=False):
        return entry
    shown = [what.replace("_", " ") for what in WHATS if begins_period(what)] + ["string"]
    click.echo(f"It was one of: {', '.join(shown)}.")
    what = ask("Which", "", one_of(*shown)).replace(" ", "_")
    state = entry.rig_state or RigState()
    if what == "string" and state.string_material is None:
        of = ask("Of what (low stretch, polyester)", "", one_of("low stretch", "polyester"))
        state = state.model_copy(update={"string_material": of.replace(" ", "_")})
    note = ". ".join(text for text in (entry.what, entry.note) if text)
    named = state if state != RigState() else None
    return entry.model_copy(update={"what": what, "note": note, "rig_state": named})
