"""Files that answers are written to: never over anything but an earlier one of the same kind."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final, Literal

from shaftwright.errors import InputError
from shaftwright.files.atomic import write_atomic

Kind = Literal["report", "card", "sheet", "list", "picture"]
#: what a file of each kind has in it, and no file that anybody writes by hand
MARKS: Final[dict[Kind, bytes]] = {
    "report": b'<meta name="generator" content="shaftwright report">',
    "card": b'<meta name="generator" content="shaftwright card">',
    "sheet": b'<meta name="generator" content="shaftwright sheet">',
    "list": b"part,item,kind,quantity,packs,pack,unit_price,price,in_hand,why",
    "picture": b"Shaftwright",
}
_MADE_OF: Final = 4  # as many bytes tell text, PNG and PDF apart


def write_output(path: Path | str, written: str | bytes, kind: Kind, force: bool = False) -> None:
    """Write an answer to a new file, or with `force` over an earlier one of its kind."""
    may_write(path, kind, force)
    write_atomic(path, written)


def may_write(path: Path | str, kind: Kind, force: bool = False) -> None:
    """Refuse to write over what is there, unless it is our own of the same kind and that is wanted."""
    if not os.path.lexists(path):
        return
    target, name = Path(path), str(path)
    if not (target.is_file() and _ours(target, kind)):
        problem = f"is there already and is no {kind} of shaftwright, so it is not overwritten"
        raise InputError.of(name, f"{problem}; choose another name")
    if not force:
        problem = f"is there already; choose another name, or add --force to replace this {kind}"
        raise InputError.of(name, problem)


def _ours(path: Path, kind: Kind) -> bool:
    found = path.read_bytes()
    starts: dict[str, tuple[bytes, ...]] = {
        "report": (b"<!DO",), "card": (b"<!DO",), "sheet": (b"<!DO",), "list": (b"part",),
        "picture": {".png": (b"\x89PNG",), ".pdf": (b"%PDF",)}.get(
            path.suffix.lower(), (b"<?xm", b"<!--")),
    }  # fmt: skip
    return found[:_MADE_OF] in starts[kind] and MARKS[kind] in found
