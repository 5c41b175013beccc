"""What the bare shafts say, as text for a tired archer at the butt."""

from __future__ import annotations

from shaftwright.answers.diagnose import Diagnosis
from shaftwright.answers.diagnose_change import Expect
from shaftwright.answers.diagnose_rules import diagnosis_rules
from shaftwright.inference.band import Band
from shaftwright.inference.evidence_frame import side_of
from shaftwright.inference.evidence_summary import Reading
from shaftwright.records.notebook import BareShaft, BuildSpec
from shaftwright.records.rig import Hand
from shaftwright.render.words import bullets, chances, clean, wrap
from shaftwright.units import inches


def bareshaft_text(found: Diagnosis, cautions: tuple[str, ...] = ()) -> str:
    """The diagnosis in 80 columns; the first line is the one thing to do next.

    Parameters
    ----------
    found : Diagnosis
        The answer.
    cautions : tuple of str
        The usual cautions that are due.

    Returns
    -------
    str
        Text.
    """
    decision = found.decision
    parts = [wrap(_sentence(decision.what))]
    why = [decision.verdict]
    if decision.kind in ("change", "shoot", "none"):
        why.append(f"Best guess: {grains_told(*found.grains)}.")
    parts.append(wrap(" ".join(why), "  "))
    lines = []
    if decision.kind != "look":
        same = decision.kind in ("stop", "shoot", "none")
        lines.append(
            ("shot again as it is, " if same else "")
            + f"expect the next bare centre {expect_told(decision.expect)}"
        )
        if decision.kind == "stop" and decision.expect.low_in * decision.expect.high_in > 0:
            lines.append("that lean to one side is smaller than your own groups: leave it")
    if decision.if_wrong:
        lines.append(decision.if_wrong)
    if lines:
        parts.append(bullets(lines))
    parts.append("Seen:\n" + bullets(_seen(found)))
    if not decision.dangers:  # the checks ask for shots, and such an arrow is not shot
        parts.append("What it could be, and how to find out:\n" + bullets(_causes(found)))
    parts.append(_bands(found.band_before, found.band_after))
    told = [*decision.cautions, *cautions]
    if told:
        parts.append(bullets(dict.fromkeys(told), "! "))
    return "\n\n".join(parts)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def grains_told(low: float, high: float) -> str:
    """How far off a build is, in grains of front mass.

    Examples
    --------
    >>> grains_told(22, 61), grains_told(-70, -18)
    ('about 20 to 60 gr too stiff', 'about 20 to 70 gr too weak')
    >>> grains_told(-12, 33), grains_told(160, 400)
    ('between 10 gr too weak and 35 gr too stiff', 'more than 150 gr too stiff: a matter of the shaft')
    >>> grains_told(-44, -1)
    'up to 45 gr too weak'
    """
    small, large = (5 * round(v / 5) for v in (low, high))
    most = round(diagnosis_rules().value("most_front_told_gr"))
    if small >= most or large <= -most:
        return f"more than {most} gr too {'stiff' if small > 0 else 'weak'}: a matter of the shaft"
    if small == large == 0:
        return "about right"
    if 0 <= small < 10:
        return f"up to {min(large, most)} gr too stiff"
    if -10 < large <= 0:
        return f"up to {min(-small, most)} gr too weak"
    if small >= 0:
        return f"about {small} to {min(large, most)} gr too stiff" + (
            "" if large <= most else " or more"
        )
    if large <= 0:
        return f"about {-large} to {min(-small, most)} gr too weak" + (
            "" if -small <= most else " or more"
        )
    return f"between {-small} gr too weak and {large} gr too stiff"


def in_hundred(chance: float) -> str:
    """A chance in a hundred; nothing read from a few shots is certain.

    Examples
    --------
    >>> in_hundred(0.973), in_hundred(0.99999), in_hundred(0.001)
    ('97 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    if chance > 0.99:
        return "over 99 in 100"
    return "under 1 in 100" if chance < 0.01 else f"{100 * chance:.0f} in 100"


def expect_told(expect: Expect) -> str:
    """Where the next bare centre should lie.

    Examples
    --------
    >>> expect_told(Expect(-3.24, 1.6, 0.8, 20))
    'between 3.2 in left and 1.6 in right of the fletched one at 20 yd (4 chances in 5)'
    >>> expect_told(Expect(-3.24, 1.6, 0.8, 20, "vertical"))
    'between 3.2 in low and 1.6 in high of the fletched one at 20 yd (4 chances in 5)'
    """
    less, more = ("low", "high") if expect.axis == "vertical" else ("left", "right")

    def place(x: float) -> str:
        return f"{abs(x):.1f} in {less if x < 0 else more}"

    return (
        f"between {place(expect.low_in)} and {place(expect.high_in)} of the fletched one at "
        f"{expect.distance_yd:g} yd ({chances(expect.chance)})"
    )


def build_told(spec: BuildSpec) -> str:
    """A build in a few words."""
    if spec.by_numbers:
        return f"spine {spec.spine_mils:g}, {inches(spec.length_in or 0)}, {spec.front_gr:g} gr up front"
    length = [] if spec.length_in is None else [inches(spec.length_in)]
    names = [spec.shaft, *length, spec.point or spec.broadhead, spec.insert, spec.collar, spec.wrap]
    return ", ".join(clean(str(name)) for name in names if name)


def words_echo(reads: str, hand: Hand) -> str:
    """The archer's word told back in what it means at the butt.

    Examples
    --------
    >>> words_echo("slightly_stiff", "right")
    'slightly stiff = tail right, lands left: correct?'
    >>> words_echo("weak", "left")
    'weak = tail right, lands left: correct?'
    """
    name = reads.replace("_", " ")
    if reads == "straight":
        return "straight = tail straight, lands with the fletched ones: correct?"
    tail = side_of("stiff" if "stiff" in reads else "weak", hand)
    lands = "left" if tail == "right" else "right"
    return f"{name} = tail {tail}, lands {lands}: correct?"


def _seen(found: Diagnosis) -> list[str]:
    lines = [f"{build_told(found.asked.build.spec)} on {clean(found.rig.name)}"]
    lines += [_reading(reading, found) for reading in found.asked.readings]
    others = len(found.learned.readings) - len(found.asked.readings)
    if others:
        lines.append(
            f"{others} other reading{'s' if others > 1 else ''} of this notebook counted with them"
        )
    within = found.asked.within_in * found.asked.last.look.distance_yd / 20
    lines.append(
        f"at {found.asked.last.look.distance_yd:g} yd anything under {within:.1f} in is inside your groups"
    )
    return lines


def _reading(reading: Reading, found: Diagnosis) -> str:
    entry, look = reading.entry, reading.look
    assert isinstance(entry, BareShaft)
    told = (
        [f"line {reading.line}, {entry.distance_yd:g} yd"]
        if reading.line
        else [f"{entry.distance_yd:g} yd"]
    )
    if len(look.bare_in):
        origin = look.fletched_in.mean(axis=0) if len(look.fletched_in) else (0.0, 0.0)
        x, y = look.bare_in.mean(axis=0) - origin
        told.append(
            f"{len(look.bare_in)} bare, centre {abs(x):.1f} in {'left' if x < 0 else 'right'}, "
            f"{abs(y):.1f} in {'low' if y < 0 else 'high'} of {len(look.fletched_in)} fletched"
        )
    if entry.reads is not None:
        told.append(words_echo(entry.reads, found.asked.build.rig.archer.hand))
    if look.tail in ("stiff", "weak"):
        side = side_of(look.tail, found.asked.build.rig.archer.hand)
        told.append(f"tail {side}" + ("" if look.tail_seen else " (in the butt: weak evidence)"))
    elif look.tail == "straight":
        told.append("tail straight")
    if look.tail_up in ("high", "low"):
        told.append(f"tail {look.tail_up}")
    if not entry.taped:
        told.append("not taped")
    if not reading.counted:
        told.append("says nothing about spine")
    elif reading.contradicts:
        told.append("contradicts the others")
    elif reading.unexpected:
        told.append("far from what the rules expect")
    return ", ".join(told)


def _causes(found: Diagnosis) -> list[str]:
    lines = []
    for axis, most in (("sideways", 4), ("vertical", 2)):
        own = [s for s in found.suspects if s.cause.axis == axis]
        for suspect in own[:most]:
            if suspect.chance < 0.03:
                break
            lines.append(
                f"{suspect.cause.label} ({in_hundred(suspect.chance)}): {suspect.cause.check}"
            )
    return lines


def _bands(before: Band, after: Band) -> str:
    at = f"{inches(after.length_in)}, {after.front_gr:.0f} gr up front, {chances(after.chance)}"
    rows = [
        f"  {name:<14}stiffest {band.low:.0f}, middle {band.mid:.0f}, weakest {band.high:.0f}"
        for name, band in (("before shots", before), ("after them", after))
    ]
    return "\n".join([wrap(f"Spine band at {at}:"), *rows])
