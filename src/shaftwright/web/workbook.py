"""The bow's folder: its files by fixed names, read and written so that nothing is ever lost.

Nothing a browser sends becomes a file name. Links are not followed, writes happen whole or not at
all, and a save names the revision it started from: if the file has changed since, both versions stay.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

from shaftwright.errors import InputError
from shaftwright.files.atomic import locked, write_atomic
from shaftwright.files.bow import BEFORE, NOTEBOOK, RIG, STOCK
from shaftwright.files.strict_yaml import LARGEST_BYTES, decoded

What = Literal["rig", "stock", "notebook", "before"]
FILES: Final[dict[What, str]] = {"rig": RIG, "stock": STOCK, "notebook": NOTEBOOK, "before": BEFORE}
ABSENT: Final = "absent"
KEPT_FOLDER: Final = "kept"
MOST_KEPT: Final = 200
_KEPT: Final = re.compile(
    r"(?:rig|stock|notebook|before)-[0-9]{8}-[0-9]{6}-[0-9a-f]{8}\.(?:yaml|csv)\Z"
)


@dataclass(frozen=True)
class Version:
    """A file as it stood: its text, None when there is no file, and its revision."""

    text: str | None
    revision: str


class Conflict(Exception):
    """The file has changed since it was read; what was to be saved has been kept.

    Attributes
    ----------
    theirs : Version
        The file as it stands now.
    kept : str
        Name under which what was to be saved lies in the folder `kept`.
    """

    def __init__(self, what: What, theirs: Version, kept: str) -> None:
        super().__init__(f"{FILES[what]} has changed since this page read it")
        self.theirs, self.kept = theirs, kept


def revision_of(text: str | None) -> str:
    """The revision of a text: a short hash, or `absent`.

    Examples
    --------
    >>> revision_of(None), len(revision_of("rig: fen"))
    ('absent', 16)
    """
    if text is None:
        return ABSENT
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


class Workbook:
    """A bow's folder."""

    def __init__(self, folder: Path | str) -> None:
        self.folder = Path(os.path.realpath(folder))
        if not self.folder.is_dir():
            raise InputError.of(str(folder), "is not a folder; make it first, or name another")

    def path(self, what: What) -> Path:
        """Where a file lies, for the functions that write it; a link or a folder there is refused."""
        path = self.folder / FILES[what]
        _refuse_odd(path)
        return path

    def read(self, what: What) -> Version:
        """A file as it stands."""
        text = _read_plain(self.folder / FILES[what])
        return Version(text, revision_of(text))

    def save(self, what: What, text: str, revision: str) -> Version:
        """Replace a file, if it is still the one that was read; the former text is kept."""
        path = self.path(what)
        with locked(self.folder):
            now = self.read(what)
            if now.revision != revision and now.text != text:
                raise Conflict(what, now, self._keep(what, text))
            if now.text != text:
                if now.text is not None:
                    self._keep(what, now.text)
                write_atomic(path, text)
        return Version(text, revision_of(text))

    def kept(self) -> list[str]:
        """Names of the versions put aside, newest first."""
        folder = self.folder / KEPT_FOLDER
        if not folder.is_dir() or folder.is_symlink():
            return []
        names = [name for name in os.listdir(folder) if _KEPT.match(name)]
        return sorted(names, key=lambda n: n.split("-", 1)[1], reverse=True)

    def read_kept(self, name: str) -> str | None:
        """A version put aside, None when there is none of that name."""
        return _read_plain(self.folder / KEPT_FOLDER / name) if name in self.kept() else None

    def _keep(self, what: What, text: str) -> str:
        folder = self.folder / KEPT_FOLDER
        if folder.is_symlink():
            raise InputError.of(KEPT_FOLDER, "is a link; the page follows none")
        folder.mkdir(exist_ok=True)
        mark = revision_of(text)[:8]
        suffix = Path(FILES[what]).suffix
        for name in self.kept():
            if name.startswith(f"{what}-") and name.endswith(f"-{mark}{suffix}"):
                return name
        name = f"{what}-{datetime.now():%Y%m%d-%H%M%S}-{mark}{suffix}"
        write_atomic(folder / name, text)
        for old in self.kept()[MOST_KEPT:]:
            with suppress(OSError):
                os.unlink(folder / old)
        return name


def _refuse_odd(path: Path) -> None:
    try:
        mode = os.lstat(path).st_mode
    except FileNotFoundError:
        return
    if stat.S_ISLNK(mode):
        raise InputError.of(path.name, "is a link; the page follows none, copy the file here")
    if not stat.S_ISREG(mode):
        raise InputError.of(path.name, "is not a plain file")


def _read_plain(path: Path) -> str | None:
    """The text of a plain file; links are refused even when they appear at the last moment."""
    _refuse_odd(path)
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        descriptor = os.open(path, flags)
    except FileNotFoundError:
        return None
    with os.fdopen(descriptor, "rb") as stream:
        raw = stream.read(LARGEST_BYTES + 1)
    return decoded(raw, path.name)
