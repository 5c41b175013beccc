"""What can go wrong, as data: the library raises these, only the command line turns them into words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

LONGEST_ECHO, _LONGEST_FIELD = 60, 120
#: lines with one fault that is told once
_MANY, _NAMED = 3, 6


@dataclass(frozen=True)
class Fault:
    """One thing wrong with the input, told so that the archer can mend it.

    Attributes
    ----------
    file : str
        The file (or option) it stands in.
    problem : str
        What is wrong and what is allowed.
    line : int or None
        Line in the file, from 1.
    field : str
        Dotted path of the field, or the column.
    value : object
        The value given; echoed cut, never expanded. `...` when there is none.
    """

    file: str
    problem: str
    line: int | None = None
    field: str = ""
    value: object = ...

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        given = "" if self.value is ... else f" {echo(self.value)}"
        field = f" {self.field}:" if self.field else ""
        if len(field) > _LONGEST_FIELD:  # a column's name may be anything
            field = f"{field[:_LONGEST_FIELD]}...:"
        return printable(f"{where}:{field}{given} {self.problem}".replace("\n", " "))


def told_once(faults: Sequence[Fault]) -> list[Fault]:
    """The faults, each that stands in three lines or more told once, where it stands first.

    Examples
    --------
    >>> rows = [Fault("stock.csv", "is not a number", n, "price", f"${n}.00") for n in range(2, 45)]
    >>> print(*told_once(rows))
    stock.csv:2: price: '$2.00' is not a number; the same in 42 more lines, down to 44
    """
    alike: dict[tuple[str, str, str], list[Fault]] = {}
    for fault in faults:
        alike.setdefault(_kind_of(fault), []).append(fault)
    told: list[Fault] = []
    for fault in faults:
        same = alike[_kind_of(fault)]
        lines = sorted({f.line for f in same if f.line})
        if len(lines) < _MANY:
            told.append(fault)
        elif fault is same[0]:
            more = f"{len(lines) - 1} more lines, down to {lines[-1]}"
            if len(lines) <= _NAMED:
                more = f"lines {', '.join(map(str, lines[1:-1]))} and {lines[-1]}"
            told.append(replace(fault, problem=f"{fault.problem}; the same in {more}"))
    return told


def _kind_of(fault: Fault) -> tuple[str, str, str]:
    """What faults of one kind share: all but line, value and the numbers in what is said."""
    return fault.file, fault.field, re.sub(r"[0-9]+(?:[.,][0-9]+)*", "#", fault.problem)


def printable(text: str) -> str:
    r"""Text with control characters taken out, so that no name in a file can drive the terminal.

    Examples
    --------
    >>> printable("fen\x1b[31m")
    'fen?[31m'
    """
    return text if text.isprintable() else "".join(c if c.isprintable() else "?" for c in text)


def echo(value: object) -> str:
    """A value as given, on one line, cut at 60 characters; lists and mappings are only named.

    Examples
    --------
    >>> echo("x" * 100)[-5:], echo([1, 2]), echo(None)
    ("xxx…'", 'a list of 2', 'nothing')
    """
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return f"a mapping of {len(value)}"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, int) and abs(value) > 10**40:
        return "a number of more than 40 digits"
    text = value if isinstance(value, str) else str(value)
    text = printable(text[: LONGEST_ECHO + 1])
    if len(text) > LONGEST_ECHO:
        text = text[: LONGEST_ECHO - 1] + "…"
    return f"'{text}'" if isinstance(value, str) else text


def nearest(word: str, allowed: Iterable[str], cutoff: float = 0.5) -> str:
    """The nearest right spelling, great letters or small; empty where none is near."""
    import difflib  # only a fault needs it

    names = {name.lower(): name for name in allowed}
    near = difflib.get_close_matches(word[:60].lower(), names, 1, cutoff)
    return names[near[0]] if near else ""


def did_you_mean(
    word: str, allowed: Iterable[str], otherwise: str = "", cutoff: float = 0.5
) -> str:
    """A hint at the nearest right spelling.

    Examples
    --------
    >>> did_you_mean("nxt", ["next", "shop"]), did_you_mean("x", ["shop"], "; see --help")
    ('; did you mean next?', '; see --help')
    >>> did_you_mean("marsh-500", ["MARSH-400", "MARSH-500"])
    '; did you mean MARSH-500?'
    """
    close = nearest(word, allowed, cutoff)
    return f"; did you mean {close}?" if close else otherwise


class ShaftwrightError(Exception):
    """Everything this library raises on purpose."""


class InputError(ShaftwrightError):
    """Bad input: one or more faults, none of which changed anything already saved."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = list(faults)
        super().__init__("\n".join(map(str, told_once(self.faults))))

    @classmethod
    def of(
        cls, file: str, problem: str, line: int | None = None, field: str = "", value: object = ...
    ) -> InputError:
        """One fault, raised."""
        return cls([Fault(file, problem, line, field, value)])


class NoAnswer(ShaftwrightError):
    """The input was read, but the question has no answer; the message says why and what would help."""


class TooMany(NoAnswer):
    """More than can be worked through; the message says what to leave out."""
