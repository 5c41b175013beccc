"""Writes that either happen whole or not at all, and spoil nothing that stands there."""

from __future__ import annotations

import contextlib
import os
import re
import stat
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Final, Literal

from shaftwright.errors import InputError

#: in the name of every temporary file, so that nobody else's is taken for one
_OURS: Final = ".shaftwright-"
_LAST: Final = ".part"
_LEFTOVER: Final = re.compile(
    rf"\..+{re.escape(_OURS)}[a-z0-9_]{{8}}{re.escape(_LAST)}\Z", re.DOTALL
)
_held = threading.local()


def write_atomic(path: Path | str, written: str | bytes) -> None:
    """Replace a file's content in one step: a kill at any instant leaves the old or the new.

    Mode and links stay. A file that cannot be replaced so is an `InputError` and stays as it is.
    """
    data = written.encode() if isinstance(written, str) else written
    target = Path(os.path.realpath(path))
    try:
        with locked(target.parent):
            _sweep(target.parent)
            mode = _mode(target, str(path))
            if mode is not None and target.stat().st_nlink > 1:
                _append(target, data, str(path))
            else:
                _replace(target, data, mode)
    except OSError as error:
        # the archer knows the file's own name, not the temporary one's
        raise type(error)(error.errno, error.strerror, str(path)) from None


def _mode(target: Path, name: str) -> int | None:
    """The mode to keep; None where there is no file yet."""
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(mode):
        raise InputError.of(name, "is not a plain file, so nothing was written to it")
    if not mode & 0o222 or not os.access(target, os.W_OK):
        raise InputError.of(name, "is read-only, so nothing was written; allow writing to it first")
    return mode & 0o777


def _replace(target: Path, data: bytes, mode: int | None) -> None:
    handle, temporary = tempfile.mkstemp(_LAST, f".{target.name}{_OURS}", target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o644 if mode is None else mode)
        os.replace(temporary, target)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(temporary)
        raise
    with contextlib.suppress(OSError):
        _sync(target.parent)


def _append(target: Path, data: bytes, name: str) -> None:
    """Write to a file of several names (hard links), which a replaced one would part."""
    old = target.read_bytes()
    if not data.startswith(old):
        problem = (
            "has a second name (a hard link), so it is not replaced; make it a file of its own"
        )
        raise InputError.of(name, problem)
    with target.open("ab", buffering=0) as stream:
        stream.write(data[len(old) :])
        os.fsync(stream.fileno())


def _sweep(folder: Path) -> None:
    """Take away what killed writers left in a folder; nobody else is writing while it is held."""
    for name in os.listdir(folder):
        if _LEFTOVER.match(name):
            with contextlib.suppress(OSError):
                os.unlink(folder / name)


def _sync(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder, so that two writers wait for each other; a killed one lets go by itself.

    Who holds it may ask for it again.
    """
    held: set[str] = _held.__dict__.setdefault("folders", set())
    name = os.path.realpath(folder)
    try:
        import fcntl
    except ImportError:  # no such locks here; the write itself stays whole
        yield
        return
    if name in held:
        yield
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        held.add(name)
        yield
    finally:
        held.discard(name)
        os.close(descriptor)


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
