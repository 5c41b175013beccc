"""One build as text."""

from __future__ import annotations

from shaftwright.advise.choose import Question
from shaftwright.advise.one import OneBuild
from shaftwright.quantities import inches
from shaftwright.show.words import bullets, clean, wrap


def build_text(asked: Question, one: OneBuild) -> str:
    """One build with its mechanics in 80 columns.

    Parameters
    ----------
    asked : Question
        For the rig's name.
    one : OneBuild
        The build.

    Returns
    -------
    str
        Text.
    """
    b, m = one.listed, one.mechanics
    parts = [b.shaft or "a shaft by numbers", f"spine {b.spine_mils:.0f}", inches(b.length_in)]
    parts += [p for p in (b.point, b.insert, b.collar) if p]
    speed = b.speed_fps
    rows = [
        (
            "whole arrow",
            f"{b.total_gr:.0f} gr, {b.gr_per_lb:.1f} gr/lb; {b.front_gr:.0f} gr of it up front",
        ),
        (
            "balance",
            f"{m.balance_in:.2f} in from the nock throat, {m.foc_pct:.1f} % front of centre",
        ),
        ("speed", f"{speed.mid:.0f} fps ({speed.low:.0f} to {speed.high:.0f})"),
        (
            "hits with",
            f"{one.energy_ftlb:.1f} ft-lb, {one.momentum_slug_fps:.3f} slug ft/s at the bow",
        ),
        ("rings at", ", ".join(f"{f:.1f}" for f in m.frequencies_hz) + " Hz, free in flight"),
        ("buckles at", f"{m.critical_thrust_n:.0f} N of steady thrust; the push lasts only"),
        ("", "milliseconds: compare builds with it, it is no safety limit"),
    ]
    lines = [f"  {name:<12} {text}" for name, text in rows]
    text = [
        wrap(f"{', '.join(clean(p) for p in parts)} on {asked.rig.name}"),
        "\n".join(lines),
        bullets(b.reasons),
    ]
    warnings = [*one.cautions, *b.cautions]
    if warnings:
        text.append(bullets(warnings, "! "))
    return "\n\n".join(text)
