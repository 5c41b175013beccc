"""What each change would do to the bare shafts, and the cheapest one that should bring them in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.diagnose_options import Option
from shaftwright.answers.diagnose_signs import InQuestion
from shaftwright.answers.rank import hard_floor_gr_per_lb
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.belief import latin_hypercube
from shaftwright.inference.demand import demand_of
from shaftwright.inference.evidence import Learned, stacked
from shaftwright.inference.evidence_frame import hand_sign
from shaftwright.inference.evidence_rules import evidence_rules
from shaftwright.inference.rig_facts import SpeedReading
from shaftwright.rules.diagnosis import Axis, diagnosis_rules
from shaftwright.rules.load import RuleBook
from shaftwright.rules.purposes import setting
from shaftwright.units import inches

Array = NDArray[np.float64]
_SEED = 20_260_103


@dataclass(frozen=True)
class Outlook:
    """What is expected of one change.

    Attributes
    ----------
    option : Option
        The change.
    mismatch_lb : array (D,)
        Draws after it [lb].
    chance_inside : float
        Chance that the true offset is then inside the groups.
    far_too_weak : float
        Chance that the build is then far too weak to be shot.
    weakens : bool
        Whether it makes the build weaker than it is.
    risky : bool
        Whether it weakens, adds front mass, or takes a weaker or longer shaft: never while the gate is shut.
    heavy_enough : bool
        Whether the bare arrow stays above the mass floor.
    """

    option: Option
    mismatch_lb: Array
    chance_inside: float
    far_too_weak: float
    weakens: bool
    risky: bool
    heavy_enough: bool

    @property
    def worth(self) -> float:
        """Chance less trouble and price."""
        return self.worth_free - diagnosis_rules().costs[self.option.kind].cost

    @property
    def worth_free(self) -> float:
        """Chance less the trouble that a price does not tell: glue."""
        glue = diagnosis_rules().costs["glued_insert"].cost if self.option.glued else 0.0
        return self.chance_inside - glue


def outlooks(
    options: Sequence[Option], asked: InQuestion, learned: Learned, book: RuleBook,
    speed: SpeedReading | None = None,
) -> list[Outlook]:  # fmt: skip
    """Joint draws of every change.

    Parameters
    ----------
    options : sequence of Option
        The changes.
    asked : InQuestion
        The build as it is.
    learned : Learned
        What the shots taught.
    book : RuleBook
        The rules.
    speed : SpeedReading, optional
        What a chronograph said.

    Returns
    -------
    list of Outlook
        In the order of the options.
    """
    by_rig: dict[int, list[int]] = {}
    for i, option in enumerate(options):
        by_rig.setdefault(id(option.rig), []).append(i)
    now = demand_of(asked.build.rig, asked.build.build, book, speed).draws(learned.belief)[0]
    result: dict[int, Outlook] = {}
    random = np.random.default_rng(_SEED)
    fresh, other = (
        random.permutation(latin_hypercube(1, learned.belief.size)[0]) for _ in range(2)
    )
    for members in by_rig.values():
        rig = options[members[0]].rig
        demand = demand_of(rig, stacked([options[i].bare for i in members]), book, speed)
        wanted = demand.draws(learned.belief)
        for row, i in enumerate(members):
            option = options[i]
            supply = float(stiffness_lb(option.build)[0])
            if option.same_shaft:
                z = asked.build.mismatch_lb - (wanted[row] - now)
            else:
                z = supply * (1 + other * option.build.spine_sd_pct[0] / 100) - wanted[row]
            z = z + diagnosis_rules().value("change_doubt_lb") * fresh
            floor = hard_floor_gr_per_lb(rig) * demand.own_lb
            aim = diagnosis_rules().value("aim_inside") * asked.within_in
            weakens = bool(z.mean() < asked.build.mismatch_lb.mean())
            before = asked.build.build
            heavier = option.build.front_gr[0] > before.front_gr[0] + 1e-9
            weaker = option.build.spine_mils[0] > before.spine_mils[0] * 1.001
            longer = option.build.length_in[0] > before.length_in[0] + 1e-9
            result[i] = Outlook(
                option, z, chance_inside(z, learned.slope, aim), far_too_weak(z, supply),
                weakens, bool(weakens or heavier or weaker or longer),
                bool(option.build.bare_gr[0] >= floor - 1e-9),
            )  # fmt: skip
    return [result[i] for i in range(len(options))]


def far_too_weak(mismatch: Array, supply_lb: float) -> float:
    """Chance that a build is far too weak to be shot.

    Parameters
    ----------
    mismatch : array (D,)
        Draws [lb].
    supply_lb : float
        Stiffness of its shaft [lb].

    Returns
    -------
    float
        Share of draws under the shoot gate.
    """
    wanted = np.maximum(supply_lb - mismatch, 1e-6)
    return float(np.mean(supply_lb / wanted < setting("shoot_gate")))


def chance_inside(mismatch: Array, slope: Array, within_in: float) -> float:
    """Chance that the true offset at 20 yd is inside the archer's own groups.

    Parameters
    ----------
    mismatch, slope : array (D,)
        Joint draws [lb], [in/lb].
    within_in : float
        Half the sum of the archer's spreads [in].

    Returns
    -------
    float
        Share of draws.
    """
    return float(np.mean(np.abs(mismatch * slope) < within_in))


def choose_change(
    found: Sequence[Outlook], now_inside: float, gated: bool, free: bool = False
) -> Outlook | None:
    """The cheapest change likely to bring the shafts in; cutting only after what can be undone.

    Parameters
    ----------
    found : sequence of Outlook
        All changes.
    now_inside : float
        The chance as the build is.
    gated : bool
        Whether nothing may be advised that weakens the build.
    free : bool
        Whether the price of a change no longer counts.

    Returns
    -------
    Outlook or None
        None when no change is allowed and better than none.
    """
    allowed = [
        o for o in found
        if o.heavy_enough and o.far_too_weak <= setting("far_too_weak_chance")
        and not (gated and o.risky)
    ]  # fmt: skip
    gain = diagnosis_rules().value("worth_a_change")

    def worth(one: Outlook) -> float:
        return one.worth_free if free else one.worth

    better = [o for o in allowed if gated or worth(o) > now_inside + gain]
    undone = [o for o in better if o.option.reversible]
    enough = diagnosis_rules().value("reversible_enough")
    if any(o.chance_inside >= enough for o in undone):
        better = undone
    if not better:
        return None
    # among equals to a chance in a hundred the smallest step wins: it ends nearest to the match
    best = max(better, key=lambda o: (round(worth(o), 2), -abs(float(o.mismatch_lb.mean()))))
    if best.option.kind != "cut":
        return best
    # cut a step at a time, whatever the whole cut may come to
    step = min((o for o in allowed if o.option.kind == "cut"), key=lambda o: abs(o.option.amount))
    whole = inches(abs(best.option.amount))
    told = f"{step.option.what} (perhaps {whole} in all, bare shafts after every cut)"
    return replace(step, option=replace(step.option, what=told))


def next_step(found: Sequence[Outlook], weaken: bool) -> Outlook | None:
    """The step that can be undone toward the right side, where the side is sure and the size is not.

    Parameters
    ----------
    found : sequence of Outlook
        All changes.
    weaken : bool
        Whether the build is too stiff.

    Returns
    -------
    Outlook or None
        The likeliest for its price and trouble; None when nothing safe goes that way.
    """
    allowed = [
        o for o in found
        if o.heavy_enough and o.far_too_weak <= setting("far_too_weak_chance")
        and o.option.reversible and o.weakens == weaken
    ]  # fmt: skip
    return max(allowed, key=lambda o: o.worth, default=None)


@dataclass(frozen=True)
class Expect:
    """Where the next bare centre should lie from the fletched one.

    Attributes
    ----------
    low_in, high_in : float
        Range in the archer's view at the distance, + right or, on the vertical axis, + up [in].
    chance : float
        Chance stated for it.
    distance_yd : float
        [yd].
    axis : str
        sideways, or vertical where the height is what should change.
    """

    low_in: float
    high_in: float
    chance: float
    distance_yd: float
    axis: Axis = "sideways"


def expected_offset(
    mismatch: Array,
    asked: InQuestion,
    learned: Learned,
    bare: int | None = None,
    fletched: int | None = None,
) -> Expect:
    """Range of the next group's offset, the archer's scatter and fliers counted.

    Parameters
    ----------
    mismatch : array (D,)
        Draws for the build to be shot [lb].
    asked : InQuestion
        For hand, cant and distance.
    learned : Learned
        Slope and scatter, drawn with the mismatch.
    bare, fletched : int, optional
        Shots of the next group; those of the rules by default.

    Returns
    -------
    Expect
        In the archer's view.
    """
    rules = evidence_rules()
    chance = diagnosis_rules().value("expect_chance")
    bare = int(diagnosis_rules().value("next_bare")) if bare is None else bare
    fletched = int(diagnosis_rules().value("next_fletched")) if fletched is None else fletched
    random = np.random.default_rng(_SEED)
    size = len(mismatch)
    nu = rules.value("scatter_tails")
    shots = random.standard_t(nu, (bare, size)) * math.sqrt((nu - 2) / nu) * learned.bare_sd
    lost = random.random(size) < rules.value("lost_group_chance")
    shift = np.where(lost, rules.value("lost_group_sd_in"), learned.shift_sd)
    centre = mismatch * learned.slope + shots.mean(axis=0) + shift * random.standard_normal(size)
    centre = centre + learned.fletched_sd / math.sqrt(fletched) * random.standard_normal(size)
    look = asked.last.look
    turn = math.radians(look.cant_deg)
    up = asked.up_in if asked.up_in is not None and abs(asked.up_in) > asked.within_in else 0.0
    hand = hand_sign(asked.build.rig.archer.hand) or -1
    right = (hand * centre * math.cos(turn) + up * math.sin(turn)) * look.distance_yd / 20.0
    low, high = np.quantile(right, [(1 - chance) / 2, (1 + chance) / 2])
    return Expect(float(low), float(high), chance, look.distance_yd)


def grains_off(
    asked: InQuestion, learned: Learned, book: RuleBook, speed: SpeedReading | None = None
) -> tuple[float, float]:
    """How much front mass the build is off by.

    Parameters
    ----------
    asked : InQuestion
        The build.
    learned : Learned
        What the shots taught.
    book : RuleBook
        The rules.
    speed : SpeedReading, optional
        What a chronograph said.

    Returns
    -------
    tuple of float
        Ends of the middle half of the draws, + too stiff [gr].
    """
    build = asked.build.build
    heavier = replace(build, head_gr=build.head_gr + diagnosis_rules().value("front_step_gr"))
    demand = demand_of(asked.build.rig, stacked([build, heavier]), book, speed)
    draws = demand.draws(learned.belief)
    per_grain = np.maximum(
        (draws[1] - draws[0]) / diagnosis_rules().value("front_step_gr"),
        diagnosis_rules().value("least_lb_per_gr"),
    )
    low, high = np.quantile(asked.build.mismatch_lb / per_grain, [0.25, 0.75])
    return float(low), float(high)
