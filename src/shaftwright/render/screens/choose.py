"""The answer of `choose` as text: what to do, the spines that suit, the arrows that could be made."""

from __future__ import annotations

from shaftwright.answers.choose.candidates import Rejection
from shaftwright.answers.choose.choose import Choice, Nudge
from shaftwright.answers.choose.listing import ListedBuild
from shaftwright.inference.band import Band
from shaftwright.physics.spine import pounds_from_mils, spine_marked
from shaftwright.render.words import (
    bullets,
    clean,
    closing,
    eighths,
    fives,
    opening,
    short,
    spine_told,
    table,
    wrap,
)
from shaftwright.units import cap, in_100, inches

WORTH_WORDS = {
    "match": "how well it suits",
    "mass": "weight",
    "foc": "balance",
    "robustness": "forgiving of half an inch",
    "price": "price",
    "in_hand": "parts in hand",
}
_AWAY = {"shortest-safe-length": "too short for your draw", "arrow-mass-floor": "too light for the bow",
         "far-too-weak": "far too weak to be shot", "parts-fit": "no point fits"}  # fmt: skip
_SHARES = ((0.6, "would leave less than half of it"), (0.42, "would halve it"),
           (0.29, "would narrow it by a third"), (0.22, "would narrow it by a quarter"),
           (0.15, "would narrow it by a fifth"), (0.08, "would narrow it by a tenth"))  # fmt: skip


def choice_text(choice: Choice, full: bool = False) -> str:
    """What to do, the spines that suit and the arrows of the stock, in 80 columns."""
    told = [wrap(f"{cap(note)}.") for note in choice.beside_plan]
    parts = [opening(choice.question), *told, _spines(choice)]
    if choice.builds:
        parts.append(_arrows(choice))
    if full:
        parts += _figures(choice)
    else:
        away = _left_out(choice)
        if away:
            parts[-1] += "\n" + away
    parts.append(closing(choice.question, full, choice.weight_notes))
    return "\n\n".join(parts)


def _spines(choice: Choice) -> str:
    """The bands as a table, what small changes do to them, and what would narrow them."""
    wood = choice.material == "wood"
    bands = [
        (f"cut to {_at(choice.band)}", choice.band),
        (f"full length, {_at(choice.band_uncut)}", choice.band_uncut),
    ]
    if choice.band_before is not None:
        cut = eighths(choice.band_before.length_in)
        bands.append((f"cut to {cut} in, before your shots", choice.band_before))
    rows = [
        [name, *(spine_told(mils, wood) for mils in (band.mid, band.low, band.high))]
        for name, band in bands
    ]
    head = f"Spine that suits ({100 * choice.band.chance:.0f} in 100)"
    shown = table(rows, ["", "best", "from (stiff)", "to (weak)"], "lrrr", "  ", "  ")
    lines = [head + shown[len(head) :]]
    lines.append(wrap(nudged(choice)))
    sizes = ", ".join(f"{size:.0f}" for size in choice.usual_in_band)
    if sizes and not choice.listed:
        lines.append(wrap(f"Usual sizes among them, from full length to shortest: {sizes}."))
    if choice.wood_groups and not wood:
        groups = ", ".join(f"{low:g}-{high:g}" for low, high in choice.wood_groups)
        lines.append(wrap(f"In wood, as marked in pounds: {groups}."))
    lines += map(wrap, narrowed(choice)[:1])
    return "\n".join(lines)


def _at(band: Band) -> str:
    return f"{eighths(band.length_in)} in, {fives(band.front_gr)} gr up front"


def nudged(choice: Choice) -> str:
    """What half an inch longer, and a heavier point, do to the middle of the short band."""
    wood = choice.material == "wood"
    longer = next(n for n in choice.nudges if n.change.endswith("longer"))
    heavier = next(n for n in choice.nudges if n.change.endswith("more up front"))

    def moved(nudge: Nudge) -> str:
        if wood:
            pounds = pounds_from_mils(nudge.mid_mils) - pounds_from_mils(choice.band.mid)
            return f"{abs(pounds):.0f} lb {'more' if pounds > 0 else 'less'}"
        return f"{fives(abs(nudge.moves_mils))} {'less' if nudge.moves_mils < 0 else 'more'}"

    return f"Half an inch longer asks for {moved(longer)}; {heavier.change} for {moved(heavier)}."


def narrowed(choice: Choice) -> list[str]:
    """The measurements that would narrow the range, most first."""
    found = []
    early = choice.question.plan.next.stage in ("set_up", "measure")
    for one in choice.narrow:
        if early and one.what.startswith("shoot"):
            continue  # the bow comes first
        words = next((words for share, words in _SHARES if one.share >= share), None)
        if words is not None:
            found.append(f"{cap(one.what)}: that {words}.")
    return found


def _arrows(choice: Choice) -> str:
    rows = [_row(build) for build in choice.builds]
    headers = ["arrow", "cut to", "up front", "weight", "gr/lb", "balance", "fps", "suits"]
    shown = table(rows, headers, "lrrrrrrr", "  ", "  ")
    legend = "suits: chances in 100 as it stands; cut and point bring most of them in."
    if any(build.marked for build in choice.builds):
        legend = f"* to shoot now; {legend.removesuffix(' of them in.')} in."
    return shown + "\n" + wrap(legend)


def _row(build: ListedBuild) -> list[str]:
    return [
        short(build.shaft, 21) + (" *" if build.marked else ""), eighths(build.length_in),
        f"{fives(build.front_gr)} gr", f"{fives(build.total_gr)} gr", f"{build.gr_per_lb:.1f}",
        f"{build.foc_pct:.0f} %", f"{build.speed_fps.mid:.0f}", f"{100 * build.chance_match:.0f}",
    ]  # fmt: skip


_MOST_NAMED = 4


def _left_out(choice: Choice) -> str:
    """What the limits left out, in a line."""
    if choice.no_shafts:
        return wrap(f"{cap(choice.no_shafts)}.")
    shafts = [f"{_counted(r)} {_AWAY[r.rule]}" for r in choice.rejected if _of_shafts(r.rule)]
    arrows = [_AWAY[r.rule] for r in choice.rejected if not _of_shafts(r.rule)]
    if arrows:
        shafts.append(f"arrows {' or '.join(arrows)}")
    if choice.outside_weights:
        few = len(choice.outside_weights) <= _MOST_NAMED
        named = (
            ", ".join(choice.outside_weights) if few else f"{len(choice.outside_weights)} shafts"
        )
        weights = choice.question.purpose_rule.weights(choice.outside_materials)
        shafts.append(f"{named}: not within {weights}, however made up")
    if choice.listed or choice.candidates is None:
        return wrap(f"Left out: {'; '.join(shafts)}.") if shafts else ""
    away = bullets(turned_away(choice))
    return "Nothing in this stock can be made up for this bow:\n" + away


def _of_shafts(rule: str) -> bool:
    """Whether a limit turns whole shafts away or ways to make them up."""
    return rule in ("shortest-safe-length", "parts-fit")


def _counted(away: Rejection) -> str:
    what = "shaft" if _of_shafts(away.rule) else "arrow"
    return f"{away.count} {what}{'' if away.count == 1 else 's'}"


def turned_away(choice: Choice) -> list[str]:
    """What each limit turned away: what was found and the least it had to be, a line each."""
    return [
        f"{_counted(r)} {_AWAY.get(r.rule, r.rule)}: {r.found}; at least {r.at_least}"
        for r in choice.rejected
    ]


def spine_label(build: ListedBuild) -> str:
    """Spine as the shaft is sold: thousandths of an inch, or pounds marked on wood."""
    return spine_marked(build.spine_mils, build.wood_lb is not None)


def _figures(choice: Choice) -> list[str]:
    """What the short screen keeps back: parts, reasons, what was turned away, the gravest cautions."""
    wood = choice.material == "wood"
    nudges = "; ".join(f"{n.change}: {spine_told(n.mid_mils, wood)}" for n in choice.nudges)
    narrow = [f"{n.what}: {100 * n.share:.0f} % narrower" for n in choice.narrow]
    parts = [wrap(f"Best spine cut to {inches(choice.band.length_in)}, with {nudges}.", "  ", "")]
    if narrow:
        parts.append("What would narrow it:\n" + bullets(narrow))
    if choice.builds:
        parts.append(_parts(choice))
    if choice.listed:
        parts.append(_reasons(choice))
    away = turned_away(choice)
    if away:
        parts.append("Left out:\n" + bullets(away))
    if choice.notes:
        parts.append("Not in this stock:\n" + bullets(choice.notes))
    grave = [c.text for c in choice.cautions if c.severity == "danger"]
    return [*parts, "Cautions:\n" + bullets(grave, "! ")]


def _parts(choice: Choice) -> str:
    rows = [
        [
            build.rank, short(build.shaft, 22), spine_label(build), short(build.point, 12),
            short(build.insert + (f"+{build.collar}" if build.collar else ""), 16),
            "" if build.chance_tunable is None else in_100(build.chance_tunable).removesuffix(" in 100"),
            "" if build.price is None else f"{build.price:.2f}",
        ]
        for build in choice.builds
    ]  # fmt: skip
    headers = ["", "arrow", "spine", "point", "insert", "tunes", "price"]
    legend = "tunes: chances in 100 that some cut, point or insert of the shaft brings it right"
    return table(rows, headers, "rlrllrr", "  ") + "\n" + wrap(legend, "  ")


def _reasons(choice: Choice) -> str:
    first = choice.builds[0]
    lines = [first_because(choice), bullets(first.reasons)]
    if first.cautions:
        lines.append(bullets(first.cautions, "! "))
    return "\n".join([*lines, *(wrap(line, "    ", "  ") for line in placed(choice))])


def first_because(choice: Choice) -> str:
    """What the reasons of the first arrow stand under."""
    because = " it flies straight" if _flies(choice) else ""
    return f"Why {clean(choice.builds[0].shaft)} comes first:{because}"


def _flies(choice: Choice) -> bool:
    then = choice.question.plan.next
    return then.stage in ("prove", "dozen", "done") and choice.builds[0].shaft == then.shaft


def placed(choice: Choice) -> list[str]:
    """How firm the first place is by its figures, and what decided it; nothing where shots did."""
    place = choice.place
    if place is None or _flies(choice):
        return []
    verdict = "level with" if place.tie else "ahead of"
    decided = ", ".join(f"{WORTH_WORDS[d.worth]} {d.difference:+.3f}" for d in place.decided_by[:3])
    lines = [f"by its figures {verdict} {place.shaft} by {place.margin:.3f} of 1: {decided}"]
    if not place.stable:
        flips = ", ".join(WORTH_WORDS[flip] for flip in place.flips)
        lines.append(f"not a firm first: another is, where {flips} counts a fifth more or less")
    return lines
