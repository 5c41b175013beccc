"""Sections of the report: the band, the builds with their reasons, the map."""

from __future__ import annotations

from shaftwright.answers.listing import ListedBuild
from shaftwright.answers.report import Report
from shaftwright.render.choose import WORTH_WORDS, spine_label, turned_away
from shaftwright.render.figure import to_svg
from shaftwright.render.markup import Markup, element, items, join, table, trusted
from shaftwright.render.words import chances
from shaftwright.units import inches, percent

Section = tuple[str, str, Markup]


def section(key: str, name: str, *body: Markup | None, only: str | None = None) -> Section:
    """A part of the page: its id, its name in the list of parts, its markup."""
    heading = element("h2", name, id=f"{key}-name")
    return key, name, element(
        "section", heading, *body, id=key, aria_labelledby=f"{key}-name", class_=only
    )  # fmt: skip


def picture(figure: object, caption: str) -> Markup:
    """A figure of `show.figure` with a caption."""
    return element("figure", trusted(to_svg(figure)), element("figcaption", caption))  # type: ignore[arg-type]


def band_section(told: Report) -> Section:
    """The band in numbers and as a picture, and what would narrow it."""
    from shaftwright.render.plots.band import band_figure

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
    """What would take most doubt away, and what small changes of the build do."""
    choice = told.choice
    narrow = [
        f"{n.what}: removes up to {n.removes_lb:.0f} lb of doubt"
        for n in choice.narrow[:3]
        if n.removes_lb >= 0.5
    ]
    if not narrow:
        narrow = ["nothing on this page: your own shots have said most of what there is to say"]
    nudges = [f"{n.change}: {n.mid_mils:.0f}" for n in choice.nudges]
    return section(
        "narrow", "What would narrow it most", items(narrow),
        element("p", "Middle of the band at the short build when it is " + "; ".join(nudges) + "."),
    )  # fmt: skip


def builds_section(told: Report) -> Section | None:
    """The ranked builds with their reasons."""
    choice = told.choice
    if choice.ranking is None:
        return None
    if not choice.listed:
        words = element("p", "Nothing in this stock can be built within the limits.")
        return section("builds", "Builds", words, items(turned_away(choice)), items(choice.notes))
    headers = [
        "build", ("mass", "n"), ("gr/lb", "n"), ("front of centre", "n lesser"), ("speed, fps", "n lesser"),
        ("price", "n lesser"), ("match", "n"), ("tunable", "n"),
    ]  # fmt: skip
    rows = [_row(rank, build) for rank, build in enumerate(choice.listed, 1)]
    caption = (
        "Each shaft's best build, best first; can be tuned: some cut, point or insert of it matches"
    )
    reasons = [_why(rank, build, told) for rank, build in enumerate(choice.listed, 1)]
    away = turned_away(choice)
    shown = table(caption, headers, rows, [_parts(build) for build in choice.listed], class_="best")
    return section(
        "builds", "Builds, best first", shown, join(reasons),
        element("h3", "Turned away") if away else None, items(away),
        element("h3", "Not in this stock") if choice.notes else None, items(choice.notes),
    )  # fmt: skip


def _row(rank: int, build: ListedBuild) -> list[object]:
    speed = build.speed_fps
    return [
        f"{rank} {build.shaft}", f"{build.total_gr:.0f} gr", f"{build.gr_per_lb:.1f}",
        f"{build.foc_pct:.0f} %",
        f"{speed.mid:.0f} ({speed.low:.0f} to {speed.high:.0f})",
        "" if build.price is None else f"{build.price:.2f}", percent(build.chance_match),
        "" if build.chance_tunable is None else percent(build.chance_tunable),
    ]  # fmt: skip


def _parts(build: ListedBuild) -> str:
    parts = " + ".join(p for p in (build.point, build.insert, build.collar) if p)
    return f"spine {spine_label(build)}, {inches(build.length_in)}, {build.front_gr:.0f} gr up front: {parts}"


def _why(rank: int, build: ListedBuild, told: Report) -> Markup:
    first = rank == 1
    speed = build.speed_fps
    lines: list[object] = [
        *build.reasons, f"speed: {speed.mid:.0f} fps ({speed.low:.0f} to {speed.high:.0f})",
    ]  # fmt: skip
    if build.price is not None:
        lines.append(f"price of one arrow, less what you own: {build.price:.2f}")
    if first:
        lines += _place(told)
    notes = [element("strong", f"Mind: {caution}") for caution in build.cautions]
    title = f"Why {build.shaft} comes first" if first else f"{rank} {build.shaft}: reasons"
    return element(
        "details", element("summary", title), items([*lines, *notes]), open="open" if first else None
    )  # fmt: skip


def _place(told: Report) -> list[str]:
    """How firm the first place is, and what decided it."""
    place, ranking = told.choice.place, told.choice.ranking
    if place is None or ranking is None or place.second < 0:
        return []
    other = ranking.builds.name(int(ranking.builds.shaft[place.second]))
    decided = ", ".join(f"{WORTH_WORDS[n]} {v:+.3f}" for n, v in place.decided_by[:3])
    verdict = "a tie with" if place.tie else "ahead of"
    lines = [f"{verdict} {other} by {place.margin:.3f} of 1: {decided}"]
    if not place.stable:
        flips = ", ".join(WORTH_WORDS[f] for f in place.flips)
        lines.append(f"not a firm first: a fifth more or less weight on {flips} changes it")
    return lines


def map_section(told: Report) -> Section:
    """The map."""
    from shaftwright.render.plots.map import map_figure

    drawn = told.map
    shaft = drawn.shaft or f"a shaft of spine {drawn.spine_mils:.0f}"
    words = [
        f"Shaded: lengths and front masses at which {shaft} lies inside the band; the darker, the likelier. "
        "The line runs where it is in the middle.",
        "To the left and below, the arrow acts stiffer; to the right and above, weaker. "
        "Cut a quarter inch at a time: length cannot be put back.",
        "Hatched: too short for this draw, longer than the shaft is sold, or lighter than the bow allows.",
    ]  # fmt: skip
    marks = [
        f"{m.rank} {m.shaft}: {inches(m.length_in)} with {m.front_gr:.0f} gr, chance {percent(m.chance)}"
        for m in drawn.marks
    ]
    told_beside = element(
        "div", *(element("p", line) for line in words),
        element("h3", "Marks on it") if marks else None,
        items(marks), class_="screen",
    )  # fmt: skip
    figure = picture(map_figure(drawn, "map"), f"Where {shaft} suits this bow.")
    return section(
        "where", "Length and front mass", element("div", figure, told_beside, class_="side")
    )
