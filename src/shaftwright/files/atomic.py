"""Writes that either happen whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

_OURS = (
    ".shaftwright-"  # in the name of every temporary file, so that nobody else's is taken for one
)


def write_atomic(path: Path | str, text: str) -> None:
    """Replace a file's text in one step: a kill at any instant leaves the old or the new."""
    target = Path(os.path.realpath(path))
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}{_OURS}", dir=target.parent)
    except OSError as error:
        # the archer knows the file's own name, not the temporary one's
        raise type(error)(error.errno, error.strerror, str(path)) from None
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o644
        os.chmod(temporary, mode)
        os.replace(temporary, target)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(temporary)
        raise
    _sync_folder(target.parent)


def sweep(path: Path | str) -> None:
    """Take away what killed writers left beside a file; call it where nobody else is writing the file."""
    target = Path(os.path.realpath(path))
    leftover = re.compile(re.escape(f".{target.name}{_OURS}") + r"[a-z0-9_]{8}\Z")
    for name in os.listdir(target.parent):
        if leftover.match(name):
            with contextlib.suppress(OSError):
                os.unlink(target.parent / name)


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder, so that two writers wait for each other; a killed one lets go by itself."""
    try:
        import fcntl
    except ImportError:  # no such locks here; the write itself stays whole
        yield
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
