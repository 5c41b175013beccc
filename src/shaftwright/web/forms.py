"""Between a form and the files: fields of the rig's steps, and entries of the notebook."""

from __future__ import annotations

import copy
import functools
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Final, Literal

import yaml

from shaftwright.errors import Fault, InputError
from shaftwright.files.rig import rig_from
from shaftwright.files.strict_yaml import StrictDumper, parse_yaml, plain_value
from shaftwright.records.fields import Record
from shaftwright.records.rig import Rig, weight_in_words
from shaftwright.units import distance_told, length_told, read_quantity

WAY: Final = "bow.draw_weight.way"
NO_SCALE: Final = "bow.draw_weight.no_scale"
LONGEST: Final = 4000
_EXAMPLE: Final = re.compile(r"(^(?:Such as )?|\b(?:plus|add) )([\d/ ]*\d) (in|yd)\b")
#: faults of a whole part stand beside its first question
_SHOWN_AT: Final = {
    "name": "rig",
    "bow.draw_weight": "bow.draw_weight.lb",
    "bow.plate": "bow.plate.thickness",
    "bow.plunger": "bow.plunger.spring",
    "bow.nocking_point": "bow.nocking_point.above_square",
    "bow.window": "bow.window.cut",
}


class StepField(Record):
    """One question of a step."""

    field: str
    label: str
    kind: Literal["choice", "measure", "number", "text", "curve", "hits", "distance"]
    help: str
    required: bool = False
    unknown: bool = False
    example: str = ""
    when: str = ""
    more: bool = False
    choices: tuple[tuple[str, ...], ...] = ()
    #: of a change: the rig's question that asks the same
    rig: str = ""

    @property
    def id(self) -> str:
        """Id of its control in the page."""
        return "f-" + self.field.replace(".", "-").replace("_", "-")


class Kind(Record):
    """The form of one kind of entry in the notebook."""

    title: str
    intro: str
    fields: tuple[StepField, ...]


class Step(Kind):
    """One step of the rig."""

    id: str


class Forms(Record):
    """All that the forms ask."""

    format: Literal[1]
    steps: tuple[Step, ...]
    kinds: dict[str, Kind]


@functools.cache
def forms() -> Forms:
    """The steps of the rig, and the kinds of entries that are told by a form."""
    text = (files("shaftwright") / "web" / "steps.yaml").read_text(encoding="utf-8")
    return Forms.model_validate(parse_yaml(text, "steps.yaml").data)


def all_fields() -> tuple[StepField, ...]:
    """Every question of the rig, in order."""
    return tuple(field for step in forms().steps for field in step.fields)


def _one_by_one() -> list[StepField]:
    """Those that ask for one field of a rig each: all but the draw weight."""
    return [field for field in all_fields() if not field.field.startswith("bow.draw_weight")]


@dataclass(frozen=True)
class Checked:
    """What a form comes to.

    Attributes
    ----------
    rig : Rig or None
        The record, None when something is wrong.
    text : str
        The file that would be written.
    faults : dict
        Field -> what is wrong, in the words of the commands.
    others : tuple of str
        Faults that belong to no field of the form.
    """

    rig: Rig | None
    text: str
    faults: dict[str, str]
    others: tuple[str, ...] = ()


def values_of(data: Any) -> dict[str, str]:
    """A rig's plain data as the values of the form.

    Parameters
    ----------
    data : Any
        Content of rig.yaml; anything but a mapping gives an empty form.

    Returns
    -------
    dict
        Field -> text; fields that are unknown are marked by `FIELD.unknown`.
    """
    values: dict[str, str] = {}
    if not isinstance(data, dict):
        return values
    for field in _one_by_one():
        value = _get(data, field.field)
        if value is None or isinstance(value, dict | list):
            continue
        if field.unknown and value == "unknown":
            values[f"{field.field}.unknown"] = "yes"
        else:
            values[field.field] = _shown(value)
    return values | weight_values(_get(data, "bow.draw_weight"))


def weight_values(weight: Any) -> dict[str, str]:
    """A draw weight as a rig tells it, or as it is said, `45 lb at 28 in`, as the values of the form."""
    if isinstance(weight, str):
        weight = weight_in_words(weight)
    if not isinstance(weight, dict):
        return {}
    if weight.get("curve") is not None:
        rows = weight["curve"] if isinstance(weight["curve"], list) else []
        told = (" , ".join(_shown(cell) for cell in row) for row in rows if isinstance(row, list))
        return {WAY: "curve", "bow.draw_weight.curve": "\n".join(told)}
    at = _shown(weight.get("at") or "")
    own = at.replace(" ", "_") == "own_draw"
    values = {WAY: "own_draw"} if own else {WAY: "marked", "bow.draw_weight.at": at}
    if weight.get("lb") is not None:
        values["bow.draw_weight.lb"] = _shown(weight["lb"])
    return values | ({NO_SCALE: "yes"} if weight.get("no_scale") is True else {})


def rig_check(given: Mapping[str, str], old: Any) -> Checked:
    """A form laid over a rig's former data, checked as the commands check a file.

    Parameters
    ----------
    given : mapping
        Field -> text; unknown names are ignored.
    old : Any
        Former content of rig.yaml; what the form does not ask stays.

    Returns
    -------
    Checked
        With the text to write when nothing is wrong.
    """
    data = copy.deepcopy(old) if isinstance(old, dict) else {}
    data["format"] = 1
    for field in _one_by_one():
        text = given.get(field.field, "").strip()[:LONGEST]
        unknown = field.unknown and given.get(f"{field.field}.unknown")
        # without a script both may be there: what is new of the two counts
        if unknown and not (text and _get(data, field.field) == "unknown"):
            text = "unknown"
        _set(data, field.field, _plain(text) if text else None)
    _set(data, "bow.draw_weight", _weight(given))
    if not given.get("bow.plate.material") and not given.get("bow.plate.thickness"):
        _set(data, "bow.plate", None)
    for section in ("archer", "bow", "string"):
        data.setdefault(section, {})
    data["bow"].setdefault("window", {})
    data["bow"].setdefault("draw_weight", {})
    first = ["format", "rig", "archer", "bow", "string", "launch", "purpose"]
    data = {k: data[k] for k in [*first, *data] if k in data}
    text = yaml.dump(data, Dumper=StrictDumper, sort_keys=False, allow_unicode=True, width=100)
    try:
        # through the file's own reader: what is written must read back
        return Checked(rig_from(parse_yaml(text, "rig.yaml")), text, {})
    except InputError as error:
        return Checked(None, text, *by_field(error.faults))


def by_field(found: Iterable[Fault]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Faults of a rig beside the questions they belong to, and those that belong to none."""
    faults: dict[str, str] = {}
    others: list[str] = []
    names = {field.field for field in all_fields()}
    for fault in found:
        curve = "bow.draw_weight.curve"
        name = curve if fault.field.startswith(curve) else _SHOWN_AT.get(fault.field, fault.field)
        if name in names:
            faults.setdefault(name, told(fault))
        else:
            others.append(f"{fault.field}: {told(fault)}" if fault.field else told(fault))
    return faults, tuple(others)


def told(fault: Fault) -> str:
    """A fault beside its field: the value given and what is allowed, without file and line."""
    plain = str(Fault("x", fault.problem, None, "", fault.value))
    return plain.removeprefix("x:").strip()


def _weight(given: Mapping[str, str]) -> dict[str, Any] | None:
    way = given.get(WAY, "")
    if way == "curve":
        # one reading a line: draw length, pounds
        lines = given.get("bow.draw_weight.curve", "")[:20_000].splitlines()
        rows = [_row(line) for line in lines if line.strip()]
        return {"curve": rows}
    pounds = given.get("bow.draw_weight.lb", "").strip()[:LONGEST]
    at = given.get("bow.draw_weight.at", "").strip()[:LONGEST] if way == "marked" else "own_draw"
    if not pounds and not way:
        return None
    weight = {"lb": _plain(pounds) if pounds else None, "at": _plain(at) if at else None,
              "no_scale": True if given.get(NO_SCALE) == "yes" else None}  # fmt: skip
    return {key: value for key, value in weight.items() if value is not None}


def _row(line: str) -> list[Any]:
    cells = line.replace(";", ",").split(",") if "," in line or ";" in line else line.split()
    return [_plain(cell.strip()) for cell in cells]


def _plain(text: str) -> Any:
    """Text of a form as YAML would read it when plain: a number, or the text itself."""
    value = plain_value(text)
    return value if type(value) in (int, float) and math.isfinite(value) else text


def _shown(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _get(data: dict[str, Any], path: str) -> Any:
    parts = tuple(path.split("."))
    here: Any = data
    for part in parts[:-1]:
        here = here.get(part) if isinstance(here, dict) else None
    if not isinstance(here, dict):
        return None
    return next((here[n] for n in Rig.spellings(parts) if here.get(n) is not None), None)


def _set(data: dict[str, Any], path: str, value: Any) -> None:
    parts = tuple(path.split("."))
    here = data
    for part in parts[:-1]:
        below = here.get(part)
        if not isinstance(below, dict):
            if value is None:
                return
            below = here[part] = {}
        here = below
    names = Rig.spellings(parts)
    for name in names:
        here.pop(name, None)
    if value is not None:
        here[names[0]] = value
    elif not here and len(parts) > 1:
        _set(data, ".".join(parts[:-1]), None)


def in_units(text: str, units: str) -> str:
    """A help text with its example in the rig's units.

    Examples
    --------
    >>> in_units("Such as 7 1/2 in; empty where it is as before.", "metric"), in_units("20 yd", "metric")
    ('Such as 19.1 cm; empty where it is as before.', '18 m')
    """
    if units != "metric":
        return text
    return _EXAMPLE.sub(
        lambda m: m[1] + (distance_told(float(m[2]), units) if m[3] == "yd"
                          else length_told(read_quantity(m[2], "in"), units)), text)  # fmt: skip
