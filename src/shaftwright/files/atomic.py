"""Writes that either happen whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path


def write_atomic(path: Path | str, text: str) -> None:
    """Replace a file's text in one step: a kill at any instant leaves the old or the new.

    Parameters
    ----------
    path : Path or str
        The file; its folder must exist.
    text : str
        The whole new text.

    Raises
    ------
    OSError
        The folder is missing or not writable; the old file is as it was.
    """
    target = Path(os.path.realpath(path))
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
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


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
