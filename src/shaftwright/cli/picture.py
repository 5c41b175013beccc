"""One picture to one file, with a clear word when the file's name does not say how."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SUFFIXES = (".svg", ".png", ".pdf")


def check_picture_name(path: str) -> None:
    """Refuse a name that ends otherwise, before any work is done.

    Parameters
    ----------
    path : str
        The file to be written.

    Raises
    ------
    InputError
        It ends in none of `SUFFIXES`.
    """
    from shaftwright.errors import Fault, InputError

    if not path.lower().endswith(SUFFIXES):
        raise InputError([Fault("--plot", f"must end in {', '.join(SUFFIXES)}", value=path)])


def write_picture(figure: Figure, path: str) -> None:
    """Write a figure made by `show.figure`; the suffix says how.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The picture.
    path : str
        Checked by `check_picture_name`.
    """
    from shaftwright.render.pictures.figure import save

    check_picture_name(path)
    save(figure, path)
