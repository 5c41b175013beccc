"""A launch as text: how the arrow leaves, what changes do, and the doubt on every figure."""

from __future__ import annotations

from shaftwright.answers.launch.launch import Effect, Launched
from shaftwright.answers.launch.seen import Seen, agreement, sides, story
from shaftwright.render.screens.build import arrow_named, danger_first
from shaftwright.render.words import bullets, closing, fives, opening, spine_told, table, wrap
from shaftwright.units import REFERENCE_YD, Interval, convert, distance_told

#: distances of the short table [yd]
_NEAR_AND_FAR = (10.0, REFERENCE_YD)
_UNITS = {"imperial": "in", "metric": "cm"}


def launch_text(found: Launched, full: bool = False, of_next: bool = False) -> str:
    """The launch in 80 columns."""
    asked = found.question
    name = wrap(arrow_named(found.seen.builds, asked, of_next))
    parts = [opening(asked), *danger_first(found.dangers)]
    if full:
        parts += [name + "\n" + wrap(_verdict(found)), *_everything(found)]
        return "\n\n".join([*parts, closing(asked, True, found.warnings)])
    rules = f"It names no spine to buy: the rules say {spine_told(found.by_rules.mid, asked.only_wood)}."
    lines = [_verdict(found), _touches(found.seen), _bare(found), rules]
    parts += ["\n".join([name, *map(wrap, lines)]), _effects(found)]
    said = "Computed, not shot: trust the changes more than figures, your own shots most."
    return "\n\n".join([*parts, said + "\n" + closing(asked)])


def seen_launch_text(seen: Seen | None, why_not: str, full: bool) -> str:
    """What the launch model sees of one build, below a trace of the rules."""
    if seen is None:
        return wrap(f"The launch model cannot shoot it: {why_not}")
    nock, nose = sides(seen)
    head = f"By the launch model, apart from the rules, it leaves nock {nock}, nose {nose}."
    end = "Its side hangs on what nobody measures; shaftwright launch shows the doubt."
    body = bullets(story(seen)) if full else wrap(_touches(seen))
    return "\n".join([wrap(head), body, wrap(end)])


def _touches(seen: Seen) -> str:
    """When it presses the plate and whether it clears."""
    if not seen.contacts:
        return "The shaft does not touch the plate."
    first, last, stop = seen.contacts[0], seen.contacts[-1], seen.exit.time_ms
    said = f"It presses the plate from {first.start_ms:.0f} to {last.end_ms:.0f} ms"
    if stop - last.end_ms < 0.05:
        return f"{said}, and has not cleared it when the string stops: expect contact."
    return f"{said} and is clear {stop - last.end_ms:.0f} ms before the string stops."


def _verdict(found: Launched) -> str:
    nock, nose = sides(found.seen)
    word = "stiff" if found.seen.stiff > 0 else "weak"
    said = f"It leaves nock {nock}, nose {nose}, the {word} side. {agreement(found.seen, found.stiff_share)}"
    if found.fitted_groups:
        said += " Your own shots chose among them."
    return said


def _span(spread: Interval, digits: int) -> str:
    low, high = (round(end, digits) + 0.0 for end in (spread.low, spread.high))
    return f"{low:+.{digits}f} to {high:+.{digits}f}"


def _everything(found: Launched) -> list[str]:
    which = "the draw that fits best" if found.fitted_groups else "the middle settings"
    return [
        f"On the way out, at {which}:\n" + bullets(story(found.seen)),
        _exit(found),
        wrap(f"{_matched(found)} {_by_rules(found)}"),
        _effects(found, True),
        _offsets(found),
        wrap(
            f"Computed, not shot, over {found.draws} draws of what nobody measures (the string's "
            "stiffness near brace, the fingers' side push, the plate, energy and virtual weight). "
            "Trust the changes more than the absolute figures, and your own bare shafts more than "
            "either. Bare shafts only into a wide soft butt at short distance."
        ),
    ]


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
    """What each law of the string would call straight: never a spine to buy by."""
    told = [
        f"{fives(spine)} ({law})"
        for law, spine in found.matched_by_law.items()
        if spine is not None
    ]
    if not told:
        return "No spine leaves straight in most of the guesses."
    return (
        f"What leaves straight hangs on the string's law, which nobody measures: {', '.join(told)}."
    )


def _by_rules(found: Launched) -> str:
    wood = found.question.only_wood
    low, high = (spine_told(x, wood) for x in (found.by_rules.low, found.by_rules.high))
    return f"The rules, by another way, say {low} to {high}. Shots narrow both, the model alone does not."


def _effects(found: Launched, full: bool = False) -> str:
    """What each change asks for, and which way it moves the bare shaft."""
    units = found.question.rig.units
    rows = []
    for effect in found.effects:
        pct, move = effect.stiffness_pct, _offset(effect.offset_in, units)
        if full:
            laws = map(effect.by_law.get, ("late", "computed"))
            others = ["?" if law is None else f"{law.mid:+.1f}" for law in laws]
            sizes = ["?", ""] if pct is None else [f"{pct.mid:+.1f}", _span(pct, 1)]
            rows.append([effect.change, *sizes, *others, effect.sign, f"{move.mid:+.1f}"])
            continue
        rows.append([effect.change, _asked(effect), _moved(move.mid, units, 1), _span(move, 1)])
    if not full:
        return table(rows, ["change", "asks for", "bare moves", "range"], "llll", "  ", "  ")
    at = f"at {distance_told(REFERENCE_YD, units)} {_UNITS[units]}"
    note = (
        "Stiffness asked for: + is a stiffer shaft; by the even law with its range (95 %), then the "
        "middles by the others. Offsets: how the bare shaft moves against the fletched ones, right +."
    )
    headers = ["change", "even %", "range", "late", "computed", "so", at]
    return table(rows, headers, "lrlrrlr") + "\n" + wrap(note, "  ")


def _asked(effect: Effect) -> str:
    """The sizes that the laws of the string give, without a sign where they differ."""
    mids = [spread.mid for spread in effect.by_law.values() if spread is not None]
    if not mids:
        return ""
    if effect.sign == "unsure":
        low, high = round(min(mids)) + 0, round(max(mids)) + 0
        return "unsure" if low == high else f"unsure, {low:+d} to {high:+d} %"
    low, high = sorted(round(abs(mid)) for mid in (min(mids), max(mids)))
    return f"{low} % {effect.sign}" if low == high else f"{low} to {high} % {effect.sign}"


def _moved(offset: float, units: str, digits: int) -> str:
    """A place beside the fletched ones."""
    if abs(offset) < 0.5 * 10.0**-digits:
        return "none"
    return f"{abs(offset):.{digits}f} {_UNITS[units]} {'right' if offset > 0 else 'left'}"


def _offset(inches_off: Interval, units: str) -> Interval:
    """An offset in the archer's own unit."""
    return inches_off.scaled(convert(1, "in", _UNITS[units]))


def _bare(found: Launched) -> str:
    units = found.question.rig.units
    said = []
    for one in found.offsets:
        if one.distance_yd in _NEAR_AND_FAR:
            off, at = _offset(one.offset_in, units), distance_told(one.distance_yd, units)
            place = _moved(off.mid, units, 0).replace("none", "with the fletched")
            said.append(f"{place} at {at}")
    return f"Bare lands {', '.join(said)} ({_span(off, 0)})."


def _offsets(found: Launched) -> str:
    units = found.question.rig.units
    rows = []
    for o in found.offsets:
        off = _offset(o.offset_in, units)
        rows.append([
            distance_told(o.distance_yd, units), f"{off.mid:+.0f}", _span(off, 0),
            f"{o.nock_deg.mid:+.0f}", _span(o.nock_deg, 0),
        ])  # fmt: skip
    headers = ["at", f"bare shaft {_UNITS[units]}", "range", "nock degrees", "range"]
    note = (
        "Bare less fletched, right +; nock to the right of the path +. The bare shaft carries the "
        "fletching's weight as tape. Far out it may swing through: the near attitude says more."
    )
    return table(rows, headers, "rrlrl") + "\n" + wrap(note, "  ")
