"""The pictures of a choice by name, for commands and pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from shaftwright.answers.choose.choose import Choice

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: Names of the pictures, and their ids in a page.
PICTURES: Final = ("map", "ladder", "band")


def choice_figure(choice: Choice, picture: str = "map") -> Figure:
    """One picture of a choice.

    Parameters
    ----------
    choice : Choice
        The answer.
    picture : str
        One of `PICTURES`; also the figure's id.

    Returns
    -------
    matplotlib.figure.Figure
        To be written by `to_svg` or `save`.

    Raises
    ------
    ValueError
        No such picture.
    """
    if picture == "map":
        from shaftwright.answers.choose.map import build_map
        from shaftwright.render.pictures.map import map_figure

        return map_figure(build_map(choice))
    if picture == "ladder":
        from shaftwright.answers.choose.ladder import ladder_of
        from shaftwright.render.pictures.ladder import ladder_figure

        return ladder_figure(ladder_of(choice))
    if picture == "band":
        from shaftwright.answers.choose.density import band_curves
        from shaftwright.render.pictures.band import band_figure

        return band_figure(band_curves(choice))
    raise ValueError(f"no picture {picture!r}: {', '.join(PICTURES)}")
