"""Pydantic's findings retold as faults: file, line, field, value, what is allowed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError

from shaftwright.errors import Fault, InputError, did_you_mean, nearest
from shaftwright.files.strict_yaml import Document
from shaftwright.records.fields import Record

R = TypeVar("R", bound=BaseModel)
_MEANT = "did you mean"


def validated(
    model: type[R] | TypeAdapter[R], document: Document, named: type[BaseModel] | None = None,
    prefix: tuple[str | int, ...] = (), context: object = None,
) -> R:  # fmt: skip
    """The record of a document, or of the part at `prefix`; else an `InputError` with every fault.

    `named` is the record whose fields are meant by a `TypeAdapter`; validators read `context`.
    """
    data = document.data
    for part in prefix:
        data = data[part]
    try:
        if isinstance(model, TypeAdapter):
            return model.validate_python(data)
        named = model
        return model.model_validate(data, context=context)
    except ValidationError as error:
        raise InputError(faults_of(error, document, named, prefix)) from None


def faults_of(
    error: ValidationError, document: Document, model: type[BaseModel] | None = None,
    prefix: tuple[str | int, ...] = (),
) -> list[Fault]:  # fmt: skip
    """One fault for every place that a validation found something in, in the document's order.

    `model` is for the nearest right spelling of an unknown field; `prefix` is the path of the
    validated part in the document.
    """
    found: dict[tuple[str | int, ...], Fault] = {}
    for item in error.errors(include_url=False):
        path = prefix + _real_path(item["loc"], document.data, prefix)
        kind, context = item["type"], item.get("ctx", {})
        value: object = item.get("input", ...)
        if kind in ("missing", "union_tag_not_found"):
            path = (*path, str(item["loc"][-1]) if kind == "missing" else "kind")
            problem, value = "is missing", ...
        elif kind == "extra_forbidden":
            value = ...
            problem = _unknown_field(str(item["loc"][-1]), _names(model, path[len(prefix) : -1]))
        elif kind in ("literal_error", "enum"):
            problem = _not_allowed(value, str(context.get("expected", "")))
        elif kind == "union_tag_invalid":
            path, value = (*path, "kind"), context.get("tag", value)
            problem = _not_allowed(value, str(context.get("expected_tags", "")))
        elif kind in ("value_error", "assertion_error"):
            problem = str(context.get("error", item["msg"]))
            if not problem.startswith("is "):
                value = ... if isinstance(value, dict | BaseModel) else value
        elif kind in ("model_type", "model_attributes_type"):
            problem = _mapping(str(path[-1]) if path else "", str(context.get("class_name", "")))
        else:
            problem = _plain(kind, item["msg"])
        if path in found:
            problem = _joined(found[path].problem, problem)
        field = ".".join(map(str, path[len(prefix) :]))
        found[path] = Fault(document.name, problem, document.line(path), field, value)
    return sorted(found.values(), key=lambda f: (f.line or 0, f.field))


def _real_path(
    loc: Iterable[Any], data: Any, prefix: tuple[str | int, ...]
) -> tuple[str | int, ...]:
    """The part of a location that exists in the data: union tags and validators' names fall out."""
    for part in prefix:
        data = data[part]
    path: list[str | int] = []
    loc = list(loc)
    if len(loc) > 1 and isinstance(data, dict) and data.get("kind") == loc[0]:
        loc = loc[1:]  # the tag of the union, which may have the name of a field too
    for part in loc:
        in_list = isinstance(data, list) and isinstance(part, int) and part < len(data)
        if in_list or (isinstance(data, dict) and part in data):
            data = data[part]
            path.append(part)
    return tuple(path)


def _names(model: type[BaseModel] | None, loc: Iterable[Any]) -> list[str]:
    """The fields that are known at a place; a list's place has those of its items."""
    for part in loc:
        if model is None or isinstance(part, int):
            continue
        infos = model.model_fields.items()
        kind = next((info.annotation for name, info in infos if part in (name, info.alias)), None)
        options = (o for o in (kind, *get_args(kind)) if isinstance(o, type))
        model = next((o for o in options if issubclass(o, BaseModel)), None)
    return [info.alias or name for name, info in model.model_fields.items()] if model else []


def _joined(first: str, second: str) -> str:
    """Two findings on one value, which may be this or that: the nearer one leads."""
    if second in first or "allowed" not in second:
        return first
    if _MEANT in second and _MEANT not in first:
        first, second = second, first
    return f"{first}; or {second.split('allowed: ')[-1]}"


def _unknown_field(name: str, allowed: list[str]) -> str:
    hint = did_you_mean(name, allowed, cutoff=0.6)
    if name[:1].isdigit():
        hint = "; if it stands after a decimal comma, write a point"
    fields = f"; allowed here: {', '.join(allowed)}" if allowed else ""
    return f"is not a known field{hint}{fields}"


def _not_allowed(value: object, expected: str) -> str:
    """What is allowed in place of a choice, the nearest named first: `Carbon` is meant for `carbon`."""
    choices = re.findall(r"'([^']*)'", expected) or [expected]
    hint = ""
    if isinstance(value, str):
        plain = re.sub(r"[\s-]+", "_", value.strip().lower())
        spelt = {choice.lower(): choice for choice in choices}
        close = nearest(plain, spelt, 0.7)
        hint = f"{_MEANT} {spelt[close]}? " if close else ""
    return f"is not allowed; {hint}allowed: {' | '.join(choices)}"


def _mapping(field: str, model: str) -> str:
    """That fields are wanted, with the right form in one line where the record tells one."""
    written = {record.__name__: record.written for record in Record.__subclasses__()}.get(model)
    if not written:
        return "must be a mapping of fields"
    return f"must be a mapping of fields, such as {field + ': ' if field else ''}{written}"


_PLAIN = {
    "dict_type": "must be a mapping of fields",
    "tuple_type": "must be a list",
    "list_type": "must be a list",
    "string_type": "must be text",
    "string_unicode": "holds bytes that are no text",
    "string_too_short": "must not be empty",
    "string_too_long": "is too long",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "too_long": "has too many values",
    "too_short": "has too few values",
    "finite_number": "must be a finite number",
}


def _plain(kind: str, message: str) -> str:
    if kind.startswith("date"):
        return "is not a date; write 2026-05-31"
    return _PLAIN.get(kind, message.lower())
