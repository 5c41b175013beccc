"""A strict reader of YAML: plain data only, duplicates refused, every value knows its line.

Anchors, aliases, tags and merge keys are refused, so that nothing can be expanded; only
`true`, `false`, `null`, decimal numbers and text are values.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from shaftwright.errors import Fault, InputError

LARGEST_BYTES = 16 * 1024 * 1024
DEEPEST = 12
LONGEST_SCALAR = 4000
LONGEST_KEY = 200
_INT = re.compile(r"[+-]?[0-9]{1,30}\Z")
_FLOAT = re.compile(
    r"[+-]?(?:[0-9]{1,30}\.[0-9]*|\.[0-9]+|[0-9]{1,30}(?=[eE]))(?:[eE][+-]?[0-9]{1,3})?\Z"
)
_SPECIAL = {"": None, "~": None, "null": None, "true": True, "false": False,
            ".nan": float("nan"), ".inf": float("inf"), "-.inf": float("-inf")}  # fmt: skip

Path_ = tuple[str | int, ...]


@dataclass
class Document:
    """Plain data and the line of every value in it.

    Attributes
    ----------
    name : str
        The file as the archer named it.
    data : Any
        dict, list, str, int, float, bool or None.
    lines : dict
        Path of keys and indices -> line from 1.
    """

    name: str
    data: Any
    lines: dict[Path_, int] = field(default_factory=dict)

    def line(self, path: Path_) -> int | None:
        """Line of a value, or of its nearest parent that has one."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)


def read_text(path: Path | str, largest: int = LARGEST_BYTES) -> str:
    """The text of a file; a missing, huge, or binary one is an `InputError`.

    Parameters
    ----------
    path : Path or str
        The file.
    largest : int
        Size it may have [bytes].

    Returns
    -------
    str
        Its text, without a byte-order mark.

    Raises
    ------
    InputError
        With one fault.
    """
    name = str(path)
    try:
        with Path(path).open("rb") as handle:
            raw = handle.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable file name"
        raise InputError([Fault(name, f"cannot be read: {reason.lower()}")]) from None
    if len(raw) > largest:
        raise InputError([Fault(name, f"is larger than {largest // 1024 // 1024} MiB")])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        problem = "is not a UTF-8 text file; save it as UTF-8"
        raise InputError([Fault(name, problem, line)]) from None
    if "\0" in text:
        raise InputError(
            [Fault(name, "is not a text file", text[: text.index("\0")].count("\n") + 1)]
        )
    return text


def load_yaml(path: Path | str) -> Document:
    """Read one strict YAML file.

    Parameters
    ----------
    path : Path or str
        The file.

    Returns
    -------
    Document
        Its data with lines.

    Raises
    ------
    InputError
        Anything that is not plain, single-document YAML without duplicates, anchors or tags.
    """
    return parse_yaml(read_text(path), str(path))


def parse_yaml(text: str, name: str, first_line: int = 1) -> Document:
    """Parse strict YAML text; see `load_yaml`.

    Parameters
    ----------
    text : str
        The text.
    name : str
        How to call it in faults.
    first_line : int
        Line of the file on which the text begins.

    Returns
    -------
    Document
        Data with lines.

    Raises
    ------
    InputError
        With one fault.
    """
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    builder = _Builder(name, first_line)
    try:
        for event in yaml.parse(text, Loader=loader):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + first_line if mark else None
        problem = f"is not YAML here: {error.problem or error.context}"
        raise InputError([Fault(name, problem, line)]) from None
    except yaml.YAMLError:
        raise InputError([Fault(name, "holds characters that YAML does not allow")]) from None
    except RecursionError:
        raise InputError([Fault(name, "is nested too deeply")]) from None
    return Document(name, builder.root, builder.lines)


def plain_value(text: str) -> Any:
    """What an unquoted scalar means: nothing, true, false, a number, or else text.

    Parameters
    ----------
    text : str
        The scalar as written.

    Returns
    -------
    None, bool, int, float or str
        Its value.
    """
    if text.lower() in _SPECIAL:
        return _SPECIAL[text.lower()]
    if _INT.match(text):
        return int(text)
    if _FLOAT.match(text):
        return float(text)
    return text


_plain = functools.lru_cache(maxsize=4096)(plain_value)


class NotPlainError(Exception):
    """Text that the quick reader leaves to `parse_yaml`, which names the fault."""


def quick_items(text: str) -> list[tuple[int, Any]]:
    """The items of a block list, three times as fast as `parse_yaml` and as strict.

    Parameters
    ----------
    text : str
        YAML text.

    Returns
    -------
    list of tuple
        Line on which an item's value begins, from 0, and its plain data.

    Raises
    ------
    NotPlainError
        Anything that `parse_yaml` refuses, or that is no block list; no word on where or why.
    """
    try:
        return _items(getattr(yaml, "CSafeLoader", yaml.SafeLoader)(text).get_event)
    except (yaml.YAMLError, RecursionError) as error:
        raise NotPlainError from error


def _items(next_event: Callable[[], Any]) -> list[tuple[int, Any]]:
    """Walk the events once; only what `_Builder` would take as well gets through."""
    found: list[tuple[int, Any]] = []
    stack: list[tuple[Any, str | None]] = []
    inside: Any = None  # the container being filled, None outside of all
    key: str | None = None
    documents = 0
    while True:
        event = next_event()
        kind = type(event)
        if kind is yaml.ScalarEvent:
            value: Any = event.value
            if event.anchor is not None or event.tag is not None or len(value) > LONGEST_SCALAR:
                raise NotPlainError
            if key is None and type(inside) is dict:
                if len(value) > LONGEST_KEY or value == "<<" or value in inside:
                    raise NotPlainError
                key = value
                continue
            if not event.style:
                value = _plain(value)
        elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
            if event.anchor is not None or event.tag is not None or len(stack) >= DEEPEST:
                raise NotPlainError
            if key is None and type(inside) is dict:
                raise NotPlainError
            value = {} if kind is yaml.MappingStartEvent else []
        elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
            inside, key = stack.pop()
            continue
        elif kind is yaml.StreamEndEvent:
            return found
        elif kind is yaml.AliasEvent or (kind is yaml.DocumentStartEvent and documents):
            raise NotPlainError
        else:
            documents += kind is yaml.DocumentStartEvent
            continue
        # a value stands here: put it where it belongs
        if key is not None:
            inside[key] = value
            key = None
        elif inside is None:
            if kind is not yaml.SequenceStartEvent or event.flow_style:
                raise NotPlainError
        else:
            inside.append(value)
            if len(stack) == 1:
                found.append((event.start_mark.line, value))
        if kind is not yaml.ScalarEvent:
            stack.append((inside, key))
            inside = value


class StrictDumper(yaml.SafeDumper):
    """Writes what `parse_yaml` reads back: text that would read as something else is quoted."""

    def represent_text(self, text: str) -> yaml.ScalarNode:
        """One text, in quotes where it would otherwise read as a number, a truth or nothing."""
        style = None if isinstance(plain_value(text), str) else "'"
        if not text.isprintable():
            style = '"'  # its escapes keep every line break and control character as it is
        return self.represent_scalar("tag:yaml.org,2002:str", text, style=style)


StrictDumper.add_representer(str, StrictDumper.represent_text)


class _Builder:
    """Builds plain data from parser events, refusing everything that is not plain."""

    def __init__(self, name: str, first_line: int) -> None:
        self.name, self.offset = name, first_line
        self.root: Any = None
        self.lines: dict[Path_, int] = {}
        self.stack: list[tuple[Any, Path_]] = []
        self.key: list[str | None] = []
        self.documents = 0

    def fail(self, event: Any, problem: str, field_: str = "", value: object = ...) -> None:
        line = event.start_mark.line + self.offset
        raise InputError([Fault(self.name, problem, line, field_, value)])

    def take(self, event: Any) -> None:
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.fail(event, "holds a second document; one file is one document")
        elif isinstance(event, yaml.AliasEvent):
            self.fail(event, "aliases (*) are not allowed; write the value out")
        elif isinstance(event, yaml.ScalarEvent):
            self.plain_only(event)
            if self.wants_key():
                self.take_key(event)
            else:
                self.put(event, self.scalar(event))
        elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
            self.plain_only(event)
            if self.wants_key():
                self.fail(event, "a key must be plain text")
            if len(self.stack) >= DEEPEST:
                self.fail(event, f"is nested deeper than {DEEPEST} levels")
            container: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
            path = self.put(event, container)
            self.stack.append((container, path))
            self.key.append(None)
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            self.stack.pop()
            self.key.pop()

    def plain_only(self, event: Any) -> None:
        if event.anchor is not None:
            self.fail(event, "anchors (&) are not allowed; write the value out")
        if event.tag is not None:
            self.fail(event, "tags (!) are not allowed")

    def wants_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1][0], dict) and self.key[-1] is None

    def take_key(self, event: Any) -> None:
        container, path = self.stack[-1]
        key = event.value
        if len(key) > LONGEST_KEY:
            self.fail(event, "is too long for a key", "", key)
        if key == "<<":
            self.fail(event, "merge keys (<<) are not allowed; write the values out")
        if key in container:
            self.fail(event, "stands twice; keep one", ".".join(map(str, (*path, key))))
        self.lines[(*path, key)] = event.start_mark.line + self.offset
        self.key[-1] = key

    def put(self, event: Any, value: Any) -> Path_:
        if not self.stack:
            self.root = value
            self.lines[()] = event.start_mark.line + self.offset
            return ()
        container, path = self.stack[-1]
        if isinstance(container, dict):
            key = self.key[-1]
            assert key is not None
            container[key] = value
            self.key[-1] = None
            return (*path, key)
        container.append(value)
        here = (*path, len(container) - 1)
        self.lines[here] = event.start_mark.line + self.offset
        return here

    def scalar(self, event: Any) -> Any:
        text: str = event.value
        if len(text) > LONGEST_SCALAR:
            self.fail(event, f"is longer than {LONGEST_SCALAR} characters", "", text)
        if event.style is not None and event.style != "":
            return text
        return plain_value(text)
