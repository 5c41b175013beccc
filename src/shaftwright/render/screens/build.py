"""One arrow as text."""

from __future__ import annotations

from collections.abc import Sequence

from shaftwright.answers.build import OneBuild
from shaftwright.answers.scenario import Scenario
from shaftwright.records.builds import Builds
from shaftwright.render.words import bullets, clean, closing, eighths, opening, wrap
from shaftwright.units import inches


def builds_name(builds: Builds) -> str:
    """A single build in a line: shaft, spine, length and the named parts at the front."""
    parts = [
        builds.name(int(builds.shaft[0])) or "a shaft by numbers",
        f"spine {builds.spine_mils[0]:.0f}", inches(float(builds.length_in[0])),
    ]  # fmt: skip
    named = (builds.name(int(i[0])) for i in (builds.head, builds.insert, builds.collar))
    return ", ".join(clean(part) for part in (*parts, *named) if part)


def arrow_named(builds: Builds, asked: Scenario, of_next: bool) -> str:
    """Which arrow on which bow, and whether it is only the one that the plan names."""
    said = f"{builds_name(builds)} on {asked.rig.name}"
    return f"{said}: the arrow that next names." if of_next else said


def danger_first(dangers: Sequence[str]) -> list[str]:
    """What makes an arrow one not to be drawn, as a first paragraph; nothing where nothing does."""
    return [wrap(f"Do not draw this arrow: {'; '.join(dangers)}.", "  ", "! ")] if dangers else []


def build_text(one: OneBuild, full: bool = False, of_next: bool = False) -> str:
    """One arrow on one bow: what it weighs, how it balances, how well it suits, how hard it hits."""
    b, m, asked = one.listed, one.mechanics, one.question
    speed = b.speed_fps
    balance = f"{eighths(m.balance_in)} in from the nock throat, {m.foc_pct:.0f} % front of centre"
    rows = [
        ("spine", one.spine_from or ""),
        ("weight", f"{b.total_gr:.0f} gr, {b.gr_per_lb:.1f} gr/lb; {b.front_gr:.0f} gr of it up front"),
        ("balance", balance),
        ("speed", f"{speed.mid:.0f} fps ({speed.low:.0f} to {speed.high:.0f}), {speed_source(asked)}"),
        ("hits with", f"{one.energy_ftlb:.0f} ft-lb at the bow"),
        *(tuple(reason.split(": ", 1)) for reason in b.reasons if reason.startswith(("suits", "tuning"))),
    ]  # fmt: skip
    lines = [wrap(arrow_named(one.builds, asked, of_next))]
    for name, text in rows + (_figures(one) if full else []):
        lines += [wrap(text, " " * 14, f"  {name:<11} ")] if text else []
    parts = [opening(asked), *danger_first(one.dangers), "\n".join(lines)]
    amiss = [*b.cautions, *one.amiss]
    if full:
        parts.append(bullets(b.reasons))
    if amiss:
        parts.append(bullets(amiss if full else amiss[:2], "! "))
    return "\n\n".join([*parts, closing(asked, full=full)])


def _figures(one: OneBuild) -> list[tuple[str, ...]]:
    """What an archer sets nothing by, for `--full`."""
    m = one.mechanics
    digits = 1 if one.listed.shaft else 3  # usual lengths of named parts are good for no more
    centre = f"{m.balance_in:.2f} in from the nock throat, {m.foc_pct:.2f} % front of centre {_whole(one)}"
    return [
        ("centre", centre),
        ("momentum", f"{one.momentum_slug_fps:.3f} slug ft/s, {one.energy_ftlb:.1f} ft-lb"),
        ("rings at", ", ".join(f"{f:.{digits}f}" for f in m.frequencies_hz) + " Hz, free in flight"),
        ("steady push", _thrust(one)),
        ("bare shaft", _trim(one)),
    ]  # fmt: skip


def _whole(one: OneBuild) -> str:
    if one.foc_whole_pct is None or one.point_ahead_in is None:
        return "to the end of the shaft; of the physical whole a little less"
    return (
        f"to the end of the shaft; {one.foc_whole_pct:.1f} % of the physical whole, the point "
        f"{one.point_ahead_in:g} in ahead as usual"
    )


def speed_source(asked: Scenario) -> str:
    """Where a speed comes from, in words."""
    return "as usual for such a bow" if asked.speed is None else f"by {asked.speed.told}"


def _thrust(one: OneBuild) -> str:
    text = (
        f"buckles at {one.mechanics.critical_thrust_n:.0f} N, {one.thrust.reference_pct:.0f} % of the "
        "reference arrow (500, 29 in, 125 gr)"
    )
    if one.thrust.same_shaft_median_pct is not None:
        text += f", {one.thrust.same_shaft_median_pct:.0f} % of the middle one of this shaft"
    return text + "; it compares arrows and is no safety limit: the real push lasts milliseconds"


def _trim(one: OneBuild) -> str:
    trim = one.trim
    if trim is None:
        return "balances behind its middle: it does not steady itself at all"
    return (
        f"settles {trim.angle_deg:.1f} degrees to its path; with {trim.more_front_gr:.0f} gr more up "
        f"front {trim.more_angle_deg:.1f}: the air then turns it with a shorter arm (theory)"
    )
