"""An entry of the notebook in an archer's words, for the eye before it is kept or struck out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shaftwright.records.hits import hit_told
from shaftwright.render.words import clean, wrap
from shaftwright.units import convert, inches

if TYPE_CHECKING:
    from shaftwright.records.notebook import AnyEntry, BuildSpec

_UNITS = {"speed": " fps", "arrow_mass": " gr", "level": " dB", "background": " dB", "mass": " gr",
          "spine_mils": " mils", "draw_weight": " lb", "front": " gr", "tail": " gr"}  # fmt: skip
_LENGTHS = ("length", "brace", "draw", "plate", "nocking_point", "tiller", "crawl", "draw_length", "out",
            "diameter")  # fmt: skip
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")


def arrow_told(build: BuildSpec, piece: int | None = None) -> str:
    """An arrow by its parts, such as `MARSH-500, 29 1/2 in, P175, I25, the second one`."""
    length = [] if build.length_in is None else [inches(build.length_in)]
    if build.by_numbers:
        told = [f"spine {build.spine_mils:g}", *length, f"{build.front_gr:g} gr up front"]
    else:
        parts = (build.point or build.broadhead, build.insert, build.collar, build.wrap)
        told = [str(name) for name in (build.shaft, *length, *parts) if name]
    if piece is not None and piece > 1:
        ordinal = _ORDINALS[piece - 1] if piece <= len(_ORDINALS) else f"{piece}th"
        told.append(f"the {ordinal} one")
    return clean(", ".join(told))


def words_echo(reads: str, tail: str, whose: str = "") -> str:
    """The archer's word said back in what it means at the butt.

    Examples
    --------
    >>> words_echo("slightly_stiff", "right")
    'slightly stiff: tail right, lands left. If not: shaftwright note undo'
    >>> words_echo("straight", "straight")
    'straight: tail straight, lands with the fletched ones. If not: shaftwright note undo'
    """
    lands = {"right": "left", "left": "right"}.get(tail, "with the fletched ones")
    said = f"{reads.replace('_', ' ')}: tail {tail}, lands {lands}{whose}"
    return f"{said}. If not: shaftwright note undo"


def entry_text(entry: AnyEntry, units: str = "imperial") -> str:
    """An entry in 80 columns, every line indented."""
    date = [] if entry.date is None else [entry.date.isoformat()]
    if entry.kind in ("bareshaft", "broadhead"):
        at = distance_plain(entry.distance_yd, units)
        head = f"{arrow_told(entry.build, entry.piece)}, at {at}"
        lines = [", ".join([head, *date]), *_shots(entry, units)]
    elif entry.kind == "dozen":
        head = f"{entry.made} made of {arrow_told(entry.build)}"
        masses = " ".join(f"{mass:g}" for mass in entry.masses_gr)
        lines = [", ".join([head, *date]), *([f"weights: {masses} gr"] if masses else [])]
    elif entry.kind == "have":
        length = "" if entry.length_in is None else f", {inches(entry.length_in)} long"
        lines = [", ".join([f"{entry.count} {clean(entry.item)} in hand{length}", *date])]
    elif entry.kind == "change":
        note = [] if entry.note is None else [clean(entry.note)]
        lines = [", ".join([f"change of {clean(entry.what).replace('_', ' ')}", *note, *date])]
        lines += [_fields(entry.rig_state)] if entry.rig_state else []
    else:
        lines = [", ".join([f"{entry.kind}: {_fields(entry)}", *date])]
    lines += [f"remark: {clean(entry.remark)}"] if entry.remark else []
    return "\n".join(wrap(line, "    ", "  ") for line in lines)


def _shots(entry: Any, units: str) -> list[str]:
    unit = "cm" if units == "metric" else "in"

    def told(name: str, hits: Sequence[Any]) -> list[str]:
        where = "; ".join(hit_told(hit, unit) for hit in hits)
        return [f"{name}: {where} ({unit})"] if hits else []

    if entry.kind == "broadhead":
        lands = {True: ["they land together"], False: ["they land apart"], None: []}[entry.together]
        return [*told("field points", entry.fletched), *told("broadheads", entry.broadhead), *lands]
    seen = [f"reads {entry.reads.replace('_', ' ')}"] if entry.reads else []
    tails = [
        word for shot in entry.bare if shot.tail for word in (shot.tail.side, shot.tail.up) if word
    ]
    tails = [*entry.nock, *(word for word in dict.fromkeys(tails) if word not in entry.nock)]
    seen += [f"tails {' and '.join(tails)}"] if tails else ["no tails seen"]
    marks = {"none": "no marks", "not_looked": "marks not looked for"}
    seen.append(marks.get(entry.marks, f"marks on the {entry.marks}"))
    seen.append("feathers' weight taped on" if entry.taped else "nothing taped on")
    hits = [*told("fletched", entry.fletched), *told("bare", [shot.at for shot in entry.bare])]
    return [*hits, ", ".join(seen)]


def distance_plain(yards: float, units: str = "imperial") -> str:
    """A distance as it was typed, not rounded to what is usual."""
    if units == "metric":
        return f"{round(convert(yards, 'yd', 'm'), 1):g} m"
    return f"{round(yards, 2):g} yd"


def _fields(record: Any) -> str:
    """Whatever else an entry states, by the names archers write."""
    plain = record.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True, mode="json")
    told = []
    for name, value in plain.items():
        if name in ("date", "remark", "rig_state", "kind"):
            continue
        if isinstance(value, dict):
            value = " ".join(f"{key} {item}" for key, item in value.items())
        elif name in _LENGTHS and isinstance(value, float):
            value = inches(value, 32)
        elif isinstance(value, float):
            value = f"{value:g}{_UNITS.get(name, '')}"
        told.append(clean(f"{name.replace('_', ' ')} {value}"))
    return ", ".join(told)
