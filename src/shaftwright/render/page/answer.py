"""Sections of the report: the band, the builds with their reasons, the map."""

from __future__ import annotations

from shaftwright.answers.choose.listing import ListedBuild
from shaftwright.answers.report import Report
from shaftwright.render.page.markup import Markup, element, items, join, table, trusted
from shaftwright.render.pictures.figure import to_svg
from shaftwright.render.screens.choose import (
    first_because,
    narrowed,
    nudged,
    placed,
    spine_label,
    turned_away,
)
from shaftwright.render.words import chances
from shaftwright.units import in_100, inches

Section = tuple[str, str, Markup]


def section(key: str, name: str, *body: Markup | None, only: str | None = None) -> Section:
    """A part of the page: its id, its name in the list of parts, its markup."""
    heading = element("h2", name, id=f"{key}-name")
    return key, name, element(
        "section", heading, *body, id=key, aria_labelledby=f"{key}-name", class_=only
    )  # fmt: skip


def picture(figure: object, caption: str) -> Markup:
    """A figure with a caption."""
    return element("figure", trusted(to_svg(figure)), element("figcaption", caption))  # type: ignore[arg-type]


def band_section(told: Report) -> Section:
    """The band in numbers and as a picture, and what would narrow it."""
    from shaftwright.render.pictures.band import band_figure

    choice = told.choice
    bands = [("shortest safe", choice.band), ("uncut", choice.band_uncut)]
    if choice.band_before is not None:
        bands.append(("before your shots", choice.band_before))
    rows = [
        [
            f"{name}: {inches(b.length_in)}, {b.front_gr:.0f} gr",
            f"{b.low:.0f}",
            f"{b.mid:.0f}",
            f"{b.high:.0f}",
        ]
        for name, b in bands
    ]
    numbers = table(
        f"Static spine, {chances(choice.band.chance)}; a low number is stiff",
        ["at", ("stiffest", "n"), ("middle", "n"), ("weakest", "n")], rows,
    )  # fmt: skip
    sizes = []
    if choice.usual_in_band:
        sizes.append(
            "Usual sizes, from uncut to shortest: "
            + ", ".join(f"{s:.0f}" for s in choice.usual_in_band)
        )
    if choice.wood_groups:
        groups = ", ".join(f"{low:g}-{high:g} lb" for low, high in choice.wood_groups)
        sizes.append(f"Wood groups, likewise, as marked on the shafts: {groups}")
    words = element("div", numbers, items(sizes))
    drawn = picture(
        band_figure(told.bands, "band"),
        "How likely each spine is the right one: filled between stiffest and weakest, a line at the middle.",
    )
    return section("spine", "Spine that suits", element("div", drawn, words, class_="side"))


def narrow_section(told: Report) -> Section:
    """What would take most doubt away, and what small changes of the arrow do."""
    lines = narrowed(told.choice) or [
        "Nothing on this page: your own shots have said most of what there is to say."
    ]
    return section(
        "narrow", "What would narrow it most", items(lines), element("p", nudged(told.choice))
    )


def builds_section(told: Report) -> Section | None:
    """The arrows of the stock with their reasons; None without one."""
    choice = told.choice
    if choice.ranking is None:
        return None
    if not choice.listed:
        words = element("p", "Nothing in this stock keeps the limits.")
        return section("builds", "Arrows", words, items(turned_away(choice)), items(choice.notes))
    headers = [
        "arrow", ("weight", "n"), ("gr/lb", "n"), ("balance", "n lesser"), ("fps", "n lesser"),
        ("price", "n lesser"), ("suits", "n"), ("tunes", "n"),
    ]  # fmt: skip
    caption = (
        "Suits: chances in 100 as it stands; tunes: that some cut, point or insert of the shaft "
        "brings it right"
    )
    away = turned_away(choice)
    shown = table(
        caption, headers, map(_row, choice.builds), map(_parts, choice.builds), class_="best"
    )
    return section(
        "builds", "Arrows of this stock", shown, join(_why(build, told) for build in choice.builds),
        element("h3", "Left out") if away else None, items(away),
        element("h3", "Not in this stock") if choice.notes else None, items(choice.notes),
    )  # fmt: skip


def _row(build: ListedBuild) -> list[object]:
    speed = build.speed_fps
    return [
        f"{build.rank} {build.shaft}" + (" (to shoot now)" if build.marked else ""),
        f"{build.total_gr:.0f} gr", f"{build.gr_per_lb:.1f}", f"{build.foc_pct:.0f} %",
        f"{speed.mid:.0f} ({speed.low:.0f} to {speed.high:.0f})",
        "" if build.price is None else f"{build.price:.2f}", _of_100(build.chance_match),
        "" if build.chance_tunable is None else _of_100(build.chance_tunable),
    ]  # fmt: skip


def _of_100(chance: float) -> str:
    return in_100(chance).removesuffix(" in 100")


def _parts(build: ListedBuild) -> str:
    parts = " + ".join(p for p in (build.point, build.insert, build.collar) if p)
    return f"spine {spine_label(build)}, {inches(build.length_in)}, {build.front_gr:.0f} gr up front: {parts}"


def _why(build: ListedBuild, told: Report) -> Markup:
    first = build.rank == 1
    speed = build.speed_fps
    lines: list[object] = [
        *build.reasons, f"speed: {speed.mid:.0f} fps ({speed.low:.0f} to {speed.high:.0f})",
    ]  # fmt: skip
    if build.price is not None:
        lines.append(f"price of one arrow, less what you own: {build.price:.2f}")
    if first:
        lines += placed(told.choice)
    notes = [element("strong", f"Mind: {caution}") for caution in build.cautions]
    title = first_because(told.choice) if first else f"{build.rank} {build.shaft}: its reasons"
    return element(
        "details", element("summary", title), items([*lines, *notes]), open="open" if first else None
    )  # fmt: skip


def map_section(told: Report) -> Section:
    """The map."""
    from shaftwright.render.pictures.map import map_figure

    drawn = told.map
    shaft = drawn.shaft or f"a shaft of spine {drawn.spine_mils:.0f}"
    words = [
        f"Shaded: lengths and weights up front that suit {shaft}; the darker, the likelier. "
        "The line runs where it is in the middle.",
        "To the left and below, the arrow acts stiffer; to the right and above, weaker. "
        "Cut a quarter inch at a time: length cannot be put back.",
        "Hatched: too short for this draw, longer than the shaft is sold, or lighter than the bow allows.",
    ]  # fmt: skip
    marks = [
        f"{m.rank} {m.shaft}: {inches(m.length_in)} with {m.front_gr:.0f} gr, suits {in_100(m.chance_match)}"
        for m in drawn.marks
    ]
    told_beside = element(
        "div", *(element("p", line) for line in words),
        element("h3", "Marks on it") if marks else None,
        items(marks), class_="screen",
    )  # fmt: skip
    figure = picture(map_figure(drawn, "map"), f"Where {shaft} suits this bow.")
    return section(
        "where", "Length and weight up front", element("div", figure, told_beside, class_="side")
    )
