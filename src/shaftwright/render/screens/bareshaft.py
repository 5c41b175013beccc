"""An entry as it stands in the notebook, and what the bare shafts say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shaftwright.answers.diagnose import Diagnosis, NothingShot
from shaftwright.answers.plan.result import Shot
from shaftwright.inference.band import Band
from shaftwright.records.fields import hit_told
from shaftwright.records.notebook import AnyEntry, BuildSpec
from shaftwright.render.words import (
    band_told,
    bullets,
    clean,
    opening,
    own_told,
    short,
    table,
    wrap,
)
from shaftwright.units import (
    REFERENCE_YD,
    aside_told,
    convert,
    distance_told,
    in_100,
    inches,
    length_told,
    pounds_told,
)

_MOST_ARROWS, _MOST_CAUSES = 6, 3


def bareshaft_text(found: Diagnosis, full: bool = False) -> str:
    """The answer in 80 columns; the first line is the one thing to do next."""
    plan = found.plan
    now = [s for s in plan.shot if s.period == 0]
    shown = now if full else now[:_MOST_ARROWS]
    units = found.scenario.rig.units
    yd = distance_told(REFERENCE_YD, units)
    parts = [opening(found.scenario)]
    head = "What you have shot from this bow:"
    if len(now) > len(shown):
        head = f"What you have shot from this bow ({len(now) - len(shown)} more with --full):"
    headers = ["  arrow", "ends", f"bare lands at {yd}", "reads"]
    parts.append(f"{head}\n{table([_row(s, units) for s in shown], headers, 'lrll')}")
    parts.append("\n".join(_why(found, full)))
    item = found.scenario.item(found.arrow.spec.shaft)
    wood = item is not None and item.wood_spine_lb is not None
    parts.append(_bands(found.band_before, found.band_after, wood))
    if found.warnings and not full:
        many = len(found.warnings)
        parts.append(f"{many} note{'s' if many > 1 else ''} on your entries: --full")
    elif found.warnings:
        parts.append("In the notebook:\n" + bullets(found.warnings, "! "))
    if full and plan.next.cautions:
        parts.append(bullets(found.scenario.now.cautions, "! "))
    return "\n\n".join((*parts, *own_told(found.scenario)))


def _row(shot: Shot, units: str) -> list[str]:
    setting = "" if shot.setting == "now" else f", {shot.setting}"
    point = f", {shot.point}" if shot.point else ""
    name = f"  {short(shot.shaft, 18)} {inches(shot.length_in, 32)}{point}{setting}"
    lands = "in words" if shot.offset_in is None else aside_told(shot.offset_in, units)
    told = {"contact": f"{shot.reads}, marks", "outside": shot.reads, "dangerous": "not to be shot"}
    return [short(name, 38), str(shot.groups), lands, told.get(shot.standing, shot.standing)]


def _why(found: Diagnosis, full: bool) -> list[str]:
    """Why it reads as it does, and what else it could be."""
    then = found.scenario.now
    lines = [wrap(then.why if then.stage == "done" else f"Why: {then.why}", "  ", "")]
    # of an arrow that flies straight nothing needs a cause
    if found.dangers or (then.stage != "tune" and not full):
        return lines
    least = 0.01 if full else 0.05
    for axis, most in (("sideways", _MOST_CAUSES), ("vertical", 1)):
        own = [c for c in found.causes if c.axis == axis]
        for cause in own[: len(own) if full else most]:
            if cause.chance < least or (axis == "vertical" and cause.code == "D21" and not full):
                break
            told = f"{cause.label} ({in_100(cause.chance)})"
            lines.append(wrap(f"{told}: {cause.check}" if full else told, "      ", "  - "))
    return lines


def nothing_shot_text(found: NothingShot) -> str:
    """The one next thing, and the band as it stands before the first bare shaft."""
    parts = [opening(found.scenario), "No bare shaft was shot from this bow yet."]
    bands = _bands(None, found.band_after, found.scenario.only_wood)
    return "\n\n".join([*parts, bands, *own_told(found.scenario)])


def _bands(before: Band | None, after: Band, pounds: bool) -> str:
    at = f"{inches(after.length_in)}, {after.front_gr:.0f} gr up front ({in_100(after.chance)})"
    lines = [wrap(f"Spine that suits at {at}")]
    for name, band in (("before you shot", before), ("now", after)):
        if band is not None:
            lines.append(f"  {name:<17}{band_told(band, pounds)}")
    return "\n".join(lines)


#: how a field's name ends, and what is said for it
_UNITS = {"fps": " fps", "gr": " gr", "db": " dB", "mils": " mils", "lb": " lb", "weight": " lb"}
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
        lines += [_fields(entry.rig_state, units)] if entry.rig_state else []
    else:
        lines = [", ".join([f"{entry.kind}: {_fields(entry, units)}", *date])]
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


def _fields(record: Any, units: str) -> str:
    """Whatever else an entry states, by the names archers write."""
    plain = record.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True, mode="json")
    told = []
    fields = {info.alias or name: name for name, info in type(record).model_fields.items()}
    for name, value in plain.items():
        if name in ("date", "remark", "rig_state", "kind"):
            continue
        unit = fields[name].rpartition("_")[2]
        if name == "draw_weight" and isinstance(value, dict):
            value = f"{pounds_told(value['lb'])} at {length_told(value['at'], units)}"
        elif isinstance(value, dict):
            value = " ".join(f"{key} {item}" for key, item in value.items())
        elif isinstance(value, float):
            value = (
                length_told(value, units) if unit == "in" else f"{value:g}{_UNITS.get(unit, '')}"
            )
        told.append(clean(f"{name.replace('_', ' ')} {value}"))
    return ", ".join(told)
