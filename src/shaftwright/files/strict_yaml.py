"""A strict reader of YAML: plain data only, duplicates refused, every value knows its line.

Anchors, aliases, tags and merge keys are refused, so that nothing can be expanded; only
`true`, `false`, `null`, decimal numbers and text are values.
"""

from __future__ import annotations

import functools
import os
import re
import stat
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import yaml

from shaftwright.errors import InputError

LARGEST_BYTES = 16 * 1024 * 1024
DEEPEST = 12
LONGEST_SCALAR = 4000
LONGEST_KEY = 200
#: what YAML allows in no place
_NO_TEXT = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_INT = re.compile(r"[+-]?[0-9]{1,30}\Z")
_FLOAT = re.compile(
    r"[+-]?(?:[0-9]{1,30}\.[0-9]*|\.[0-9]+|[0-9]{1,30}(?=[eE]))(?:[eE][+-]?[0-9]{1,3})?\Z"
)
_SPECIAL = {"": None, "~": None, "null": None, "true": True, "false": False,
            ".nan": float("nan"), ".inf": float("inf"), "-.inf": float("-inf")}  # fmt: skip

Path_ = tuple[str | int, ...]


@dataclass
class Document:
    """Plain data and the line of every value in it."""

    #: the file as the archer named it
    name: str
    #: dict, list, str, int, float, bool or None
    data: Any
    #: path of keys and indices -> line from 1
    lines: dict[Path_, int] = field(default_factory=dict)

    def line(self, path: Path_) -> int | None:
        """Line of a value, or of its nearest parent that has one."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)


def read_text(path: Path | str, largest: int = LARGEST_BYTES) -> str:
    """The text of a file, without a byte-order mark; a missing, huge, or binary one is an `InputError`."""
    name = str(path)
    try:
        # a pipe that the shell opened can be read; one in the folder would wait for a writer
        if stat.S_ISFIFO(os.stat(path).st_mode) and not name.startswith(("/dev/", "/proc/")):
            raise InputError.of(name, "is not a plain file")
        with Path(path).open("rb") as handle:
            raw = handle.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable file name"
        raise InputError.of(name, f"cannot be read: {reason.lower()}") from None
    return decoded(raw, name, largest)


def decoded(raw: bytes, name: str, largest: int = LARGEST_BYTES) -> str:
    """Bytes as text, without a byte-order mark; huge or binary ones are an `InputError`."""
    if len(raw) > largest:
        raise InputError.of(name, f"is larger than {largest // 1024 // 1024} MiB")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError.of(name, "is not a UTF-8 text file; save it as UTF-8", line) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise InputError.of(name, "is not a text file", line)
    return text


def load_yaml(path: Path | str) -> Document:
    """Read one strict YAML file; see `parse_yaml`."""
    return parse_yaml(read_text(path), str(path))


def parse_yaml(text: str, name: str, first_line: int = 1) -> Document:
    """Parse text that begins on a line of a file; an `InputError` if it is not one plain document."""
    try:
        reader = _Reader(text, name, first_line)
        return Document(name, reader.document(), reader.lines)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + first_line if mark else None
        told = f"is not YAML here: {error.problem or error.context}"
        if mark and any(
            re.match(" *\t", row) for row in text.split("\n")[mark.line : mark.line + 1]
        ):
            told = "has a tab here; write blanks"
        raise InputError.of(name, told, line) from None
    except (yaml.reader.ReaderError, UnicodeEncodeError):
        # the readers count in bytes or in characters, so the place is looked for
        bad = _NO_TEXT.search(text)
        line = first_line + text.count("\n", 0, bad.start()) if bad else first_line
        problem = "holds a control character or bytes that are no text; take them out"
        raise InputError.of(name, problem, line) from None
    except RecursionError:
        raise InputError.of(name, "is nested too deeply") from None


@functools.lru_cache(maxsize=4096)
def plain_value(text: str) -> Any:
    """What an unquoted scalar means: nothing, true, false, a number, or else text."""
    if text.lower() in _SPECIAL:
        return _SPECIAL[text.lower()]
    if _INT.match(text):
        return int(text)
    return float(text) if _FLOAT.match(text) else text


class _Reader:
    """Builds plain data from parser events, refusing everything that is not plain."""

    def __init__(self, text: str, name: str, first_line: int) -> None:
        self.next = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(text).get_event
        self.name, self.first_line = name, first_line
        self.lines: dict[Path_, int] = {}

    def fail(self, event: Any, problem: str, field_: str = "", value: object = ...) -> NoReturn:
        line = event.start_mark.line + self.first_line
        raise InputError.of(self.name, problem, line, field_, value)

    def document(self) -> Any:
        """The one document of the text; nothing where there is none."""
        self.next()  # the stream begins
        if type(self.next()) is yaml.StreamEndEvent:
            return None
        first = self.next()
        self.lines[()] = first.start_mark.line + self.first_line
        data = self.value(first, ())
        self.next()  # the document ends
        if type(event := self.next()) is not yaml.StreamEndEvent:
            self.fail(event, "holds a second document; one file is one document")
        return data

    def value(self, event: Any, path: Path_) -> Any:
        """A scalar, or a container with everything in it."""
        self.plain_only(event)
        if type(event) is yaml.ScalarEvent:
            if len(event.value) > LONGEST_SCALAR:
                self.fail(event, f"is longer than {LONGEST_SCALAR} characters", "", event.value)
            return event.value if event.style else plain_value(event.value)
        if len(path) >= DEEPEST:
            self.fail(event, f"is nested deeper than {DEEPEST} levels")
        offset = self.first_line
        if type(event) is yaml.SequenceStartEvent:
            items: list[Any] = []
            while type(event := self.next()) is not yaml.SequenceEndEvent:
                here = (*path, len(items))
                self.lines[here] = event.start_mark.line + offset
                items.append(self.value(event, here))
            return items
        fields: dict[str, Any] = {}
        while type(event := self.next()) is not yaml.MappingEndEvent:
            key = self.key(event, fields, path)
            here = (*path, key)
            self.lines[here] = event.start_mark.line + offset
            fields[key] = self.value(self.next(), here)
        return fields

    def key(self, event: Any, fields: dict[str, Any], path: Path_) -> str:
        """The key of a mapping that has none like it yet."""
        self.plain_only(event)
        if type(event) is not yaml.ScalarEvent:
            self.fail(event, "a key must be plain text")
        key: str = event.value
        if len(key) > LONGEST_KEY:
            self.fail(event, "is too long for a key", "", key)
        if key == "<<":
            self.fail(event, "merge keys (<<) are not allowed; write the values out")
        if key in fields:
            self.fail(event, "stands twice; keep one", ".".join(map(str, (*path, key))))
        return key

    def plain_only(self, event: Any) -> None:
        """Nothing that could expand into something else."""
        if type(event) is yaml.AliasEvent:
            self.fail(event, "aliases (*) are not allowed; write the value out")
        if event.anchor is not None:
            self.fail(event, "anchors (&) are not allowed; write the value out")
        if event.tag is not None:
            self.fail(event, "tags (!) are not allowed")


class StrictDumper(yaml.SafeDumper):
    """Writes what `parse_yaml` reads back: text that would read as something else is quoted."""

    def represent_text(self, text: str) -> yaml.ScalarNode:
        """One text, in quotes where it would otherwise read as a number, a truth or nothing."""
        style = None if isinstance(plain_value(text), str) else "'"
        if not text.isprintable():
            style = '"'  # its escapes keep every line break and control character as it is
        return self.represent_scalar("tag:yaml.org,2002:str", text, style=style)


StrictDumper.add_representer(str, StrictDumper.represent_text)


def laid_into(old: str | None, new: str) -> str:
    """The values of one text laid into another, of which every other sign stays: comments, order, spelling.

    What goes takes along the comment beside it. Where that cannot be done, the new text as it is.
    """
    data, edits = parse_yaml(new, "").data, list[tuple[int, int, str]]()
    try:
        held, laid = parse_yaml(old or "", "").data, old or ""
        if not isinstance(held, dict):
            return new
        _lay(yaml.compose(laid, yaml.SafeLoader), held, data, laid, edits)
        # from the end; of two at one place the outer first, so that the inner comes to stand before it
        edits.sort(key=lambda edit: edit[0])
        for start, end, text in reversed(edits):
            laid = laid[:start] + text + laid[end:]
        return laid if parse_yaml(laid, "").data == data else new
    except (yaml.YAMLError, InputError):
        return new


def _lay(
    node: Any, held: dict[str, Any], wanted: dict[str, Any], old: str, edits: list[tuple[int, int, str]]
) -> None:  # fmt: skip
    """What has to be edited in a mapping, so that it holds the values that are wanted."""
    there = {key.value: (key, value) for key, value in node.value}
    if node.flow_style and set(there) != set(wanted):
        edits.append((node.start_mark.index, node.end_mark.index, _flow(wanted)))
        return
    for name, (key, value) in there.items():
        start, end = value.start_mark.index, _end(value, old)
        if name not in wanted:
            edits.append((key.start_mark.index - key.start_mark.column, _next_line(old, end), ""))
        elif isinstance(wanted[name], dict) and isinstance(value, yaml.MappingNode):
            _lay(value, held[name], wanted[name], old, edits)
        elif held[name] != wanted[name]:
            if isinstance(value, yaml.CollectionNode) and not value.flow_style:
                start = key.end_mark.index + 1
            edits.append((start, end, f"{' ' * (old[start - 1] == ':')}{_flow(wanted[name])}"))
    added = [f"{name}: {_flow(value)}" for name, value in wanted.items() if name not in there]
    if added:
        at = _next_line(old, _end(node, old))
        begin, line = " " * node.start_mark.column, "\r\n" if "\r\n" in old else "\n"
        text = "".join(f"{begin}{one}{line}" for one in added)
        edits.append((at, at, text if old[at - 1 : at] == "\n" else line + text))


def _end(node: Any, old: str) -> int:
    """Where the last value in a node ends, without the comments that follow."""
    while isinstance(node, yaml.CollectionNode) and node.value and not node.flow_style:
        last = node.value[-1]
        node = last[1] if isinstance(last, tuple) else last
    start: int = node.start_mark.index
    return start + len(old[start : node.end_mark.index].rstrip())


def _next_line(text: str, at: int) -> int:
    return text.find("\n", at) + 1 or len(text)


def _flow(value: Any) -> str:
    """A value in one line, as it may stand anywhere."""
    written: str = yaml.dump(
        [value], Dumper=StrictDumper, default_flow_style=True, sort_keys=False, allow_unicode=True,
        width=LARGEST_BYTES,
    )  # fmt: skip
    return written.strip()[1:-1]
