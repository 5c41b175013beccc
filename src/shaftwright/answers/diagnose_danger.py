"""What decides before any change is weighed: danger, and ends that stay inside the groups."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shaftwright.answers.diagnose_options import Option, options_for
from shaftwright.answers.diagnose_signs import InQuestion, pooled_side
from shaftwright.answers.one import dangers
from shaftwright.answers.rank import hard_floor_gr_per_lb
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.demand import demand_of
from shaftwright.inference.evidence import Learned
from shaftwright.inference.evidence_summary import Reading
from shaftwright.inference.rig_facts import SpeedReading, shortest_safe_length_in
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.load import RuleBook
from shaftwright.rules.purposes import purposes
from shaftwright.units import inches


def reads_inside(asked: InQuestion) -> bool:
    """Whether what was shot lies inside the archer's own groups, or was called straight.

    Parameters
    ----------
    asked : InQuestion
        The build.

    Returns
    -------
    bool
        True as well where nothing was said of the side.
    """
    if asked.side_in is not None:
        return abs(asked.side_in) < asked.within_in
    return asked.last.look.reads in ("straight", None)


def too_short(asked: InQuestion, rig: Rig) -> str | None:
    """Actual length against the shortest safe one; None when the shaft is long enough.

    Parameters
    ----------
    asked : InQuestion
        The build.
    rig : Rig
        The rig as it stands.

    Returns
    -------
    str or None
        What is wrong.
    """
    length = float(asked.build.build.length_in[0])
    shortest = shortest_safe_length_in(rig, purposes().purposes[rig.purpose])
    if length >= shortest - 1e-9:
        return None
    return f"{inches(length)} is too short, it must be at least {inches(shortest)}"


def stays_inside(asked: InQuestion) -> bool:
    """Whether the last ends lie inside the archer's own groups one after the other, tails straight.

    Parameters
    ----------
    asked : InQuestion
        The build.

    Returns
    -------
    bool
        False as well with too few ends, or where the ends together lie near the edge.
    """
    rules = diagnosis_rules()
    many = int(rules.value("inside_groups_to_stop"))
    last = [r.look for r in asked.readings if r.counted and len(r.look.bare)][-many:]
    if len(last) < many or asked.side_in is None:
        return False
    tails = sum(look.tail in ("stiff", "weak") for look in last)
    return (
        abs(asked.side_in) < rules.value("aim_inside") * asked.within_in
        and all(abs(float(look.bare[:, 0].mean())) < asked.within_in for look in last)
        and tails <= 1
    )


def still_marked(asked: InQuestion) -> bool:
    """Whether marks were seen on the bow with this build, and not enough clean looks came after.

    Parameters
    ----------
    asked : InQuestion
        The build.

    Returns
    -------
    bool
        Readings at which nobody looked neither mark nor clear it.
    """
    return _marks(asked.readings) == "marked"


def _marks(readings: Sequence[Reading]) -> str:
    """marked, clean, or unknown where nobody looked often enough."""
    looks = [getattr(r.entry, "marks", "not_looked") for r in readings]
    looks = [told for told in looks if told != "not_looked"]
    clean = int(diagnosis_rules().value("clean_looks"))
    if any(told != "none" for told in looks[-clean:]):
        return "marked"
    return "clean" if len(looks) >= clean else "unknown"


def weakest_allowed_lb(learned: Learned) -> float:
    """A mismatch at or under which nothing may be weakened: so weak a build left marks.

    Parameters
    ----------
    learned : Learned
        Every build that was shot.

    Returns
    -------
    float
        Minus infinity where no build left marks, or a still weaker one left none [lb].
    """
    told = [
        (float(build.mismatch_lb.mean()), _marks([r for r in learned.readings if r.build == k]))
        for k, build in enumerate(learned.builds)
        if build.period == 0
    ]
    clear = min((z for z, marks in told if marks == "clean"), default=np.inf)
    return max((z for z, marks in told if marks == "marked" and z < clear), default=-np.inf)


def lighter_front_at_hand(
    asked: InQuestion, rig: Rig, stock: Stock | None, book: RuleBook
) -> bool:  # fmt: skip
    """Whether the front of the build in question can be made lighter at all.

    Parameters
    ----------
    asked : InQuestion
        The build.
    rig : Rig
        For the mass floor.
    stock : Stock or None
        Points and inserts.
    book : RuleBook
        For the draw weight at the own draw.

    Returns
    -------
    bool
        False where it carries the lightest parts of the stock that fit, or lighter ones would bring
        the bare arrow under the mass floor.
    """
    now = asked.build.build
    floor = hard_floor_gr_per_lb(rig) * demand_of(rig, now, book).own_lb - 1e-9
    return any(
        option.same_shaft
        and option.build.front_gr[0] < now.front_gr[0] - 1e-9
        and option.build.bare_gr[0] >= floor
        for option in options_for(asked, rig, stock)
    )


def found_outside(option: Option, asked: InQuestion, learned: Learned) -> bool:
    """Whether a change only leads back to a build that was shot and lay outside the groups.

    Parameters
    ----------
    option : Option
        The change.
    asked : InQuestion
        The build as it is, for the archer's own groups.
    learned : Learned
        Every build that was shot.

    Returns
    -------
    bool
        False where that build was shot too little to say so.
    """
    few = diagnosis_rules().value("fewest_groups_to_stop")
    for k, build in enumerate(learned.builds):
        if k == asked.index or build.period or _plate_in(build.rig) != _plate_in(option.rig):
            continue
        if not all(
            np.allclose(getattr(build.build, name), getattr(option.bare, name))
            for name in ("spine_mils", "length_in", "front_gr", "tail_gr")
        ):
            continue
        good = [r for r in learned.readings if r.build == k and r.counted and len(r.look.bare)]
        side = pooled_side(learned, k)
        if side is not None and len(good) >= few and abs(side) > asked.within_in:
            return True
    return False


def _plate_in(rig: Rig) -> float:
    return round(rig.bow.plate.thickness_in, 6) if rig.bow.plate else 0.0


def mass_warning(
    option: Option, rig: Rig, book: RuleBook, speed: SpeedReading | None
) -> str | None:
    """A word where a changed arrow falls under the mass usual for the purpose.

    Parameters
    ----------
    option : Option
        The change.
    rig : Rig
        For the purpose.
    book : RuleBook
        The rules.
    speed : SpeedReading or None
        What a chronograph said.

    Returns
    -------
    str or None
        None when it is heavy enough.
    """
    rule = purposes().purposes[rig.purpose]
    own = demand_of(option.rig, option.build, book, speed).own_lb
    share = float(option.build.total_gr[0]) / own
    if share >= rule.gr_per_lb.low - 0.05:
        return None
    return (
        f"the changed arrow comes to {share:.1f} gr/lb, under the {rule.gr_per_lb.low:g} to "
        f"{rule.gr_per_lb.high:g} usual for {rule.label}"
    )


def dangers_of(
    asked: InQuestion, learned: Learned, rig: Rig, book: RuleBook
) -> tuple[str | None, tuple[str, ...]]:
    """What makes the build in question dangerous on this bow.

    Parameters
    ----------
    asked : InQuestion
        The build.
    learned : Learned
        What the shots taught.
    rig : Rig
        The rig as it stands.
    book : RuleBook
        The rules.

    Returns
    -------
    short : str or None
        Too short for the draw.
    others : tuple of str
        Too light, far too weak: what was found, and the least it had to be.

    Notes
    -----
    A far too weak shaft can read stiff, so shots outside the groups do not talk the rules' own
    figure away: the graver of before and after the shots counts.
    """
    build = asked.build
    supply = float(stiffness_lb(build.build)[0])
    wanted = supply - float(build.mismatch_lb.mean())
    if not reads_inside(asked):
        wanted = max(wanted, supply - float(build.before_lb.mean()))
    question = Scenario(build.rig, rig.purpose, book, given=learned.belief)
    found = dangers(question, build.build, wanted)
    return too_short(asked, rig), tuple(t for t in found if not t.startswith("too short"))
