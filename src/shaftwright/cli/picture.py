"""One picture to one file, with a clear word when the file's name does not say how."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.cli.common import check_picture_name

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["check_picture_name", "write_picture"]


def write_picture(figure: Figure, path: str) -> None:
    """Write a figure made by `show.figure`; the suffix says how."""
    from shaftwright.render.pictures.figure import save

    save(figure, path)
