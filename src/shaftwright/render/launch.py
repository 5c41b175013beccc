"""A launch as text: plain words first, doubt on every absolute figure."""

from __future__ import annotations

from typing import Any

from shaftwright.answers.launch import Effect, Launched
from shaftwright.answers.launch_seen import Contact, Seen
from shaftwright.inference.band import Spread
from shaftwright.render.words import bullets, table, wrap


def launch_text(found: Launched, name: str) -> str:
    """The launch in 80 columns.

    Parameters
    ----------
    found : Launched
        The launch.
    name : str
        What the build is called.

    Returns
    -------
    str
        Text.
    """
    which = "the draw that fits best" if found.fitted_groups else "the middle settings"
    parts = [
        wrap(f"{name} on {found.seen.question.rig.name}"),
        wrap(_verdict(found)),
        f"On the way out, at {which}:\n" + bullets(story(found.seen)),
        _exit(found),
        wrap(_matched(found)),
        _effects(found.effects),
        _offsets(found),
        wrap(
            f"Computed, not shot, over {found.draws} draws of what nobody measures (the string's "
            "stiffness near brace, the fingers' side push, the plate, energy and virtual mass). "
            "Trust the changes more than the absolute figures, and your own bare shafts more than "
            "either. Bare shafts only into a wide soft butt at short distance."
        ),
    ]
    if found.fitted_groups:
        one = "one group" if found.fitted_groups == 1 else f"{found.fitted_groups} groups"
        parts.insert(
            2,
            wrap(
                f"The settings were chosen by {one} of your own bare shafts; the middle is the draw "
                "that fits best."
            ),
        )
    if found.warnings:
        parts.append(bullets(found.warnings, "! "))
    return "\n\n".join(parts)


def explained_launch_text(told: dict[str, Any]) -> str:
    """What the launch model sees of the build, below a trace of the rules.

    Parameters
    ----------
    told : dict
        `exit` and the sentences `told`.

    Returns
    -------
    str
        Text in 80 columns.
    """
    head = (
        "Seen from above (launch model, one launch at the middle settings, apart from the rules):"
    )
    lines = [wrap(head), bullets(told["told"])]
    if told["exit"] is not None:
        lines.append(
            wrap(
                "Its side hangs on what nobody measures; shaftwright launch shows the doubt.", "  "
            )
        )
    return "\n".join(lines)


def sides(seen: Seen) -> tuple[str, str]:
    """Where nock and nose go as the arrow leaves, for this archer.

    Examples
    --------
    `("right", "left")` for a stiff build of a right-handed archer.
    """
    return ("right", "left") if seen.exit.turn_rate_rad_s > 0 else ("left", "right")


def _verdict(found: Launched) -> str:
    seen = found.seen
    nock, nose = sides(seen)
    word = "stiff" if seen.stiff > 0 else "weak"
    turn = found.exit_range["turn_rate_rad_s"]
    return (
        f"This build leaves nock {nock}, nose {nose}: the {word} side, turning "
        f"{turn.mid:+.1f} rad/s, nock right + ({_span(turn, 1)}). "
        f"{agreement(seen, found.stiff_share)}"
    )


def agreement(seen: Seen, stiff_share: float) -> str:
    """How far draws of the settings agree with one launch about its side.

    Parameters
    ----------
    seen : Seen
        One launch.
    stiff_share : float
        Share of draws that leave as a stiff shaft does.

    Returns
    -------
    str
        A sentence.
    """
    share = stiff_share if seen.stiff > 0 else 1 - stiff_share
    if share < 0.75:
        return f"Only {share:.0%} of the draws agree on the side: it may as well go the other way."
    return f"{share:.0%} of the draws agree on the side."


def story(seen: Seen) -> list[str]:
    """Where the shaft touches, when it clears, why the nock goes where it goes.

    Parameters
    ----------
    seen : Seen
        One launch at the middle settings.

    Returns
    -------
    list of str
        Sentences.
    """
    away, riser = ("left", "right") if seen.side.sign > 0 else ("right", "left")
    told = []
    if not seen.contacts:
        told.append("The shaft does not touch the plate.")
    for order, contact in enumerate(seen.contacts):
        told.append(_touch(seen, contact, "again " if order else "", away))
    if seen.contacts:
        last, stop = seen.contacts[-1], seen.exit.time_ms
        if stop - last.end_ms < 0.05:
            told.append(
                f"It has not cleared the plate when the string stops, {stop:.1f} ms after release: "
                "expect contact."
            )
        else:
            told.append(
                f"It is clear of the plate for good after {last.end_ms:.1f} ms, "
                f"{stop - last.end_ms:.1f} ms before the string stops at {stop:.1f} ms."
            )
    if seen.balance_passes_ms is not None:
        told.append(
            f"The balance point, {seen.balance_in:.1f} in from the nock, passes the plate at "
            f"{seen.balance_passes_ms:.1f} ms: a push before that turns the nose {away}, one after "
            f"it turns the nose {riser}."
        )
    nock, nose = sides(seen)
    back = "the fingers' roll, the string's pull on the nock and any push behind the balance point"
    out = "the plate's push ahead of the balance point"
    if seen.stiff > 0:
        why = f"{out} turned it more than {back} turned it back, as with a shaft that bends little"
    else:
        why = f"{back} turned it more than {out}, as with a shaft that bends readily"
    told.append(f"It leaves nock {nock}, nose {nose}: {why}.")
    return told


def _touch(seen: Seen, contact: Contact, again: str, away: str) -> str:
    ahead = contact.start_in - seen.balance_in
    where = "ahead of" if ahead > 0 else "behind"
    turns = away if ahead > 0 else ("right" if away == "left" else "left")
    return (
        f"It presses the plate {again}from {contact.start_ms:.1f} to {contact.end_ms:.1f} ms, "
        f"{contact.start_in:.1f} to {contact.end_in:.1f} in from the nock, {where} the balance "
        f"point: that turns the nose {turns}."
    )


def _span(spread: Spread, digits: int) -> str:
    return f"{spread.low:+.{digits}f} to {spread.high:+.{digits}f}"


def _exit(found: Launched) -> str:
    at, over = found.seen.exit.__dict__, found.exit_range
    rows = []
    for key, label, digits, sign in (
        ("turn_rate_rad_s", "turn rate, nock right +, rad/s", 1, "+"),
        ("attack_deg", "shaft against path, nock right +, degrees", 2, "+"),
        ("direction_deg", "path against the bow's axis, left +, degrees", 2, "+"),
        ("speed_fps", "speed, fps", 0, ""),
        ("time_ms", "release to the string's stop, ms", 1, ""),
        ("plate_left_ms", "last touch of the plate, ms", 1, ""),
    ):
        span, form = over[key], f"{sign}.{digits}f"
        if at[key] != at[key]:
            rows.append([label, "none", ""])
            continue
        rows.append([label, f"{at[key]:{form}}", f"{span.low:{form}} to {span.high:{form}}"])
    return table(rows, ["as it leaves", "middle", "range (95 %)"], "lrl")


def _matched(found: Launched) -> str:
    spread, rules = found.matched, found.by_rules
    other = f" The rules, by another way, say {rules.low:.0f}, {rules.mid:.0f}, {rules.high:.0f}"
    if spread is None:
        return (
            "No spine would leave without turning in most of the draws: no matched spine is told."
            f"{other}."
        )
    apart = spread.mid < rules.low or spread.mid > rules.high
    other += (
        ": the two do not agree here, so buy on the rules and let bare shafts decide."
        if apart
        else "."
    )
    return (
        f"Spine that would leave without turning, all else as in this build: stiffest "
        f"{spread.low:.0f}, middle {spread.mid:.0f}, weakest {spread.high:.0f}. It hangs on what nobody "
        f"measures; shots narrow it, the model alone does not.{other}"
    )


def _effects(effects: tuple[Effect, ...]) -> str:
    rows = []
    for effect in effects:
        pct, move = effect.stiffness_pct, effect.offset_in
        rows.append([
            effect.change,
            "?" if pct is None else f"{pct.mid:+.1f}",
            "" if pct is None else _span(pct, 1),
            f"{move.mid:+.1f}", _span(move, 1),
        ])  # fmt: skip
    headers = ["change", "stiffness %", "range", "at 20 yd in", "range"]
    note = (
        "+ asks for a stiffer shaft; inches are how the bare shaft moves against the fletched ones, "
        "right +. Ranges are 95 %."
    )
    return table(rows, headers, "lrlrl") + "\n" + wrap(note, "  ")


def _offsets(found: Launched) -> str:
    rows = [
        [
            f"{o.distance_yd:.0f}", f"{o.offset_in.mid:+.0f}", _span(o.offset_in, 0),
            f"{o.nock_deg.mid:+.0f}", _span(o.nock_deg, 0),
        ]
        for o in found.offsets
    ]  # fmt: skip
    headers = ["yd", "bare shaft in", "range", "nock degrees", "range"]
    note = (
        "Bare less fletched, right +; nock to the right of the path +. The bare shaft carries the "
        "fletching's mass as tape. Far out it may swing through: the near attitude tells more."
    )
    return table(rows, headers, "rrlrl") + "\n" + wrap(note, "  ")
