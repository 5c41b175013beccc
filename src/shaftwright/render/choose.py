"""The answer of `choose` as text and as JSON."""

from __future__ import annotations

from typing import Any

from shaftwright.answers.advice import advice
from shaftwright.answers.choose import Choice
from shaftwright.answers.listing import ListedBuild
from shaftwright.inference.band import Band
from shaftwright.render.words import bullets, chances, clean, short, table, wrap
from shaftwright.units import inches, percent

_WORTH_WORDS = {"match": "the match", "mass": "arrow mass", "foc": "balance", "robustness": "robustness",
                "price": "price", "in_hand": "parts in hand"}  # fmt: skip


def choice_text(choice: Choice) -> str:
    """The whole answer in 80 columns, the advice first.

    Parameters
    ----------
    choice : Choice
        The answer.

    Returns
    -------
    str
        Text.
    """
    asked = choice.question
    rig = asked.rig
    parts = [
        wrap(advice(choice)),
        wrap(
            f"{rig.name}: {rig.bow.kind}, draw {inches(rig.archer.draw_length_in)}, "
            f"for {asked.purpose_rule.label}"
        ),
        _bands(choice),
    ]
    if asked.warnings:
        parts.append("In the notebook:\n" + bullets(asked.warnings, "! "))
    if choice.narrow:
        lines = [f"{n.what}: removes up to {n.removes_lb:.0f} lb of doubt" for n in choice.narrow[:3]
                 if n.removes_lb >= 0.5]  # fmt: skip
        if lines:
            parts.append("What would narrow it most:\n" + bullets(lines))
    if choice.listed:
        parts += [_builds_table(choice), _reasons(choice)]
    away = turned_away(choice)
    if away:
        parts.append("Turned away:\n" + bullets(away))
    if choice.notes:
        parts.append("Not in this stock:\n" + bullets(choice.notes))
    parts.append(_cautions(choice))
    return "\n\n".join(parts)


def _band_line(name: str, band: Band) -> str:
    at = f"{inches(band.length_in)}, {band.front_gr:.0f} gr up front"
    return f"  {name:<9}{at:<28}stiffest {band.low:.0f}, middle {band.mid:.0f}, weakest {band.high:.0f}"


def _bands(choice: Choice) -> str:
    lines = [f"Spine that suits ({chances(choice.band.chance)}; a low number is stiff):"]
    lines.append(_band_line("shortest", choice.band))
    lines.append(_band_line("uncut", choice.band_uncut))
    if choice.band_before is not None:
        lines.append(_band_line("unshot", choice.band_before))
        lines.append("  (unshot: the short build as it stood before your own shots)")
    if choice.usual_in_band:
        sizes = ", ".join(f"{s:.0f}" for s in choice.usual_in_band)
        lines.append(wrap(f"Usual sizes, from uncut to shortest: {sizes}", "    ", "  "))
    if choice.wood_groups:
        groups = ", ".join(f"{low:g}-{high:g}" for low, high in choice.wood_groups)
        lines.append(
            wrap(
                f"Wood groups, from uncut to shortest, as marked on the shafts: {groups}",
                "    ",
                "  ",
            )
        )
    nudges = "; ".join(f"{n.change}: {n.mid_mils:.0f}" for n in choice.nudges)
    lines.append(wrap(f"Middle at the short build when {nudges}", "    ", "  "))
    return "\n".join(lines)


def _builds_table(choice: Choice) -> str:
    rows = [_row(rank, build) for rank, build in enumerate(choice.listed, 1)]
    headers = [
        "",
        "shaft",
        "spine",
        "long",
        "point",
        "insert",
        "gr",
        "gr/lb",
        "FOC",
        "fps",
        "match",
        "tune",
    ]
    shown = table(rows, headers, "rlrrllrrrrrr")
    about = "match: chance as it stands; tune: chance that some cut or point of this shaft matches"
    return "Builds, each shaft's best first:\n" + shown + "\n" + wrap(about, "  ")


def _row(rank: int, build: ListedBuild) -> list[str]:
    insert = build.insert + (f"+{build.collar}" if build.collar else "")
    tune = "" if build.chance_tunable is None else percent(build.chance_tunable)
    return [
        str(rank), short(build.shaft, 13), spine_label(build), inches(build.length_in)[:-3],
        short(build.point, 9), short(insert, 10), f"{build.total_gr:.0f}", f"{build.gr_per_lb:.1f}",
        f"{build.foc_pct:.0f}%", f"{build.speed_fps.mid:.0f}", percent(build.chance_match), tune,
    ]  # fmt: skip


def spine_label(build: ListedBuild) -> str:
    """Spine as the shaft is sold: thousandths of an inch, or pounds marked on wood."""
    return f"{build.spine_mils:.0f}" if build.wood_lb is None else f"{build.wood_lb:g} lb"


def _reasons(choice: Choice) -> str:
    first = choice.listed[0]
    lines = [f"Why {clean(first.shaft)} comes first:", bullets(first.reasons)]
    if first.cautions:
        lines.append(bullets(first.cautions, "! "))
    place = choice.place
    if place is not None and place.second >= 0 and choice.ranking is not None:
        other = choice.ranking.builds.name(int(choice.ranking.builds.shaft[place.second]))
        verdict = "a tie with" if place.tie else "ahead of"
        decided = ", ".join(f"{_WORTH_WORDS[n]} {v:+.3f}" for n, v in place.decided_by[:3])
        lines.append(wrap(f"{verdict} {other} by {place.margin:.3f} of 1: {decided}", "    ", "  "))
        if not place.stable:
            flips = ", ".join(_WORTH_WORDS[f] for f in place.flips)
            lines.append(
                wrap(
                    f"not a firm first: a fifth more or less weight on {flips} changes it",
                    "    ",
                    "  ",
                )
            )
    return "\n".join(lines)


def turned_away(choice: Choice) -> list[str]:
    """What each limit turned away, actual against required.

    Parameters
    ----------
    choice : Choice
        The answer.

    Returns
    -------
    list of str
        One line a limit.
    """
    words = {"shortest-safe-length": "too short", "arrow-mass-floor": "too light",
             "far-too-weak": "far too weak to be shot", "parts-fit": "no parts fit"}  # fmt: skip
    return [
        f"{r.count} {_what(r.rule)} {words.get(r.rule, r.rule)}: {r.found}; at least {r.at_least}"
        for r in choice.rejected
    ]


def _what(rule: str) -> str:
    """Whether a limit turns shafts away or builds."""
    return "shafts" if rule in ("shortest-safe-length", "parts-fit") else "builds"


def _cautions(choice: Choice) -> str:
    grave = [c.text for c in choice.cautions if c.severity == "danger"]
    others = [c.name.replace("-", " ") for c in choice.cautions if c.severity != "danger"]
    also = f"also {', '.join(others)}: read them with shaftwright explain RIG --cautions"
    return "Cautions:\n" + bullets(grave, "! ") + "\n" + bullets([also])


def band_dict(band: Band) -> dict[str, float]:
    """A band with the build it is stated at."""
    return {
        "low": band.low, "mid": band.mid, "high": band.high, "chance": band.chance,
        "length_in": band.length_in, "front_gr": band.front_gr,
    }  # fmt: skip


def choice_dict(choice: Choice) -> dict[str, Any]:
    """The answer as one JSON document.

    Parameters
    ----------
    choice : Choice
        The answer.

    Returns
    -------
    dict
        Plain data, `format: 1`.
    """
    band, effective, place = choice.band, choice.effective, choice.place
    document: dict[str, Any] = {
        "format": 1,
        "rig": choice.question.rig.name,
        "purpose": choice.question.purpose,
        "advice": advice(choice),
        "effective_bow_weight_lb": {"mid": effective.mid, "low": effective.low, "high": effective.high},
        "spine_band_mils": {"low": band.low, "mid": band.mid, "high": band.high, "chance": band.chance},
        "band_at": {"length_in": band.length_in, "front_gr": band.front_gr},
        "band_uncut": band_dict(choice.band_uncut),
        "band_before": None if choice.band_before is None else band_dict(choice.band_before),
        "nudges": [{"change": n.change, "mid_mils": n.mid_mils} for n in choice.nudges],
        "usual_sizes_mils": list(choice.usual_in_band),
        "wood_groups_lb": [list(group) for group in choice.wood_groups],
        "narrow": [{"what": n.what, "removes_lb": n.removes_lb} for n in choice.narrow],
        "builds": [build.as_dict(rank) for rank, build in enumerate(choice.listed, 1)],
        "rejected": [r.__dict__ for r in choice.rejected],
        "runner_up": None,
        "trace": choice.trace,
        "cautions": [{"name": c.name, "severity": c.severity, "text": c.text, "why": c.why, "do": c.do,
                      "basis": c.basis, "source": list(c.source)} for c in choice.cautions],
        "warnings": [*choice.question.warnings, *choice.notes],
    }  # fmt: skip
    if place is not None and place.second >= 0 and choice.ranking is not None:
        document["runner_up"] = {
            "shaft": choice.ranking.builds.name(int(choice.ranking.builds.shaft[place.second])),
            "margin": place.margin,
            "tie": place.tie,
            "decided_by": [
                {"worth": name, "difference": value} for name, value in place.decided_by
            ],
            "stable": place.stable,
            "flips": list(place.flips),
        }
    return document
