"""A rig and its builds told as the facts that rules speak of."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shaftwright.arrays import Array
from shaftwright.parameters import setting
from shaftwright.physics.bow import string_virtual_mass_kg
from shaftwright.records.builds import Builds
from shaftwright.records.rig import Plunger, Rig
from shaftwright.resources import table
from shaftwright.resources import usual as usual
from shaftwright.rules.evaluate import interpolate
from shaftwright.rules.facts import FactMap
from shaftwright.rules.load import RuleBook
from shaftwright.rules.sections import PurposeRule


@dataclass(frozen=True)
class SpeedReading:
    """What a chronograph said of this bow, against the usual one of its kind.

    Attributes
    ----------
    excess_fps : float
        Measured speed less what a bow of the kind with standard limbs does at the same weight, draw
        and grains per pound [fps].
    doubt_fps : float
        95 % half width of the reading [fps].
    told : str
        Where it comes from, in words.
    warnings : tuple of str
        What was left out, or does not fit together.
    """

    excess_fps: float
    doubt_fps: float
    told: str = ""
    warnings: tuple[str, ...] = ()


def brace_height_in(rig: Rig) -> float:
    """Brace height of the rig, or the usual one of its kind where it is unknown [in]."""
    brace = rig.bow.brace_height_in
    return brace if isinstance(brace, float) else usual("brace_height_in", rig.bow.kind)


def string_mass_gr(rig: Rig) -> float:
    """Mass of the string, or the usual one of what it is made of [gr]."""
    mass = rig.string.mass_gr
    return usual("string_mass_gr", rig.string.material) if mass is None else mass


def silencers(rig: Rig) -> tuple[float, float]:
    """Mass of both silencers [gr], and their place as a fraction of the half string from the limb tip."""
    place = rig.string.silencer_position
    return rig.string.silencers_gr or 0.0, usual("silencer_position") if place is None else place


def _plunger(rig: Rig) -> Plunger:
    """What is said of the plunger; nothing where the arrow lies on something else."""
    return (rig.bow.plunger if rig.bow.rest == "plunger" else None) or Plunger()


def side_step(rig: Rig, by_in: float) -> Rig:
    """The rig with its plunger's side position moved out; how well the place is known stays.

    Parameters
    ----------
    rig : Rig
        A rig with a plunger.
    by_in : float
        How far out, in where negative [in].

    Returns
    -------
    Rig
        Only what depends on the place itself is different.
    """
    plunger = rig.bow.plunger or Plunger()
    name = "moved_in" if plunger.out_in is None else "out_in"
    moved = plunger.model_copy(update={name: (getattr(plunger, name) or 0.0) + by_in})
    return rig.model_copy(update={"bow": rig.bow.model_copy(update={"plunger": moved})})


def _turns_beyond_usual(rig: Rig) -> float:
    """How far the plunger is turned in beyond the usual, within its travel; 0 where nobody says."""
    turns = _plunger(rig).turns
    if turns is None:
        return 0.0
    value, low, high = (usual("plunger_turns", "any", end) for end in ("value", "low", "high"))
    return min(max(turns, low), high) - value


def side_position(rig: Rig) -> tuple[float, str]:
    """How far the shaft's near side stands outside the string's plane, and how well that is known.

    Parameters
    ----------
    rig : Rig
        For its rest, plunger, plate and window.

    Returns
    -------
    tuple
        Position of the plate's face [in], past centre negative; case of `bow.side_position`.
    """
    plunger = _plunger(rig)
    moved = plunger.moved_in or 0.0
    out, case = plunger.out_in, "stated"
    if out is None and rig.bow.rest in ("elevated", "plunger") and rig.bow.plate is None:
        out, case = usual("shaft_centre_in", "set_by_rest"), "set_by_rest"
    if out is not None:
        return out + moved - usual("shaft_radius_in", "reference"), case
    place, case = _by_the_window(rig)
    return place + moved, case


def _plate_in(rig: Rig) -> float:
    """Thickness of the plate, the usual one where none is told [in]."""
    return rig.bow.plate.thickness_in if rig.bow.plate else usual("plate_thickness_in")


def _by_the_window(rig: Rig) -> tuple[float, str]:
    """As `side_position`, where the riser's cut and the plate tell."""
    window, plate, thickness = rig.bow.window, rig.bow.plate, _plate_in(rig)
    if window.cut == "unknown":
        # a recurve's riser is always cut, other handles often not at all
        case = {"selfbow": "_selfbow", "longbow": "_longbow", "unknown": "_longbow"}
        out = usual("window_out_in", rig.bow.kind)
        return out + thickness, "window_unknown" + case.get(rig.bow.kind, "")
    stated = "stated" if plate else "plate_not_stated"
    if window.cut == "to_centre":
        return thickness, stated
    if window.cut == "none":
        return usual("window_out_in", "not_cut") + thickness, stated
    by = window.by_in
    if not isinstance(by, float):
        by, stated = usual("window_by_in", window.cut), "by_not_stated"
    return (by if window.cut == "short_of_centre" else -by) + thickness, stated


def rig_facts(rig: Rig, speed: SpeedReading | None = None) -> FactMap:
    """The rig's facts; those of a build are added by `build_facts`.

    Parameters
    ----------
    rig : Rig
        What it does not state is taken as usual, or called unknown.
    speed : SpeedReading, optional
        What a chronograph said.

    Returns
    -------
    dict
        Fact name -> number or choice.
    """
    weight = rig.bow.draw_weight
    draw = rig.archer.draw_length_in
    marked_at = weight.at if isinstance(weight.at, float) else draw
    at = "marked" if isinstance(weight.at, float) else "curve" if weight.curve else "own_draw"
    pair_gr, at_tip = silencers(rig)
    return {
        "archer.release": rig.archer.release,
        # a bow of unknown kind that was chronographed is taken as its speed has it
        "bow.kind": "recurve" if speed and rig.bow.kind == "unknown" else rig.bow.kind,
        "bow.limbs": rig.bow.limbs,
        "bow.rest": rig.bow.rest,
        "bow.plunger.spring": _plunger(rig).spring,
        "bow.plate.material": rig.bow.plate.material if rig.bow.plate else "none",
        "bow.side_position": side_position(rig)[1],
        "bow.draw_weight.at": at,
        "string.material": rig.string.material,
        "speed.measured": "no" if speed is None else "yes",
        "draw_length_in": draw,
        "draw_beyond_marked_in": draw - marked_at,
        "bow.brace_height": "stated" if isinstance(rig.bow.brace_height_in, float) else "unknown",
        "brace_beyond_usual_in": brace_height_in(rig) - usual("brace_height_in", rig.bow.kind),
        "plunger_turns_beyond_usual": _turns_beyond_usual(rig),
        "string_mass_gr": string_mass_gr(rig),
        # a uniform string counts a third of itself
        "silencers_as_string_gr": 3 * float(string_virtual_mass_kg(0.0, pair_gr, at_tip)),
        "speed_excess_fps": 0.0 if speed is None else speed.excess_fps,
        "speed_doubt_fps": 0.0 if speed is None else speed.doubt_fps,
    }


def _beyond_usual_in(rig: Rig) -> float:
    """How far out the usual shaft of the kind would lie, against where the kind's usual bow has it [in]."""
    kind, farthest = rig.bow.kind, usual("window_out_in", "no_further")
    on_riser = _plate_in(rig) + (_plunger(rig).moved_in or 0.0)
    riser = min(side_position(rig)[0] - on_riser, farthest)
    off = usual("window_counts", kind) * (riser - min(usual("window_out_in", kind), farthest))
    return off + on_riser - usual("plate_thickness_in")


def build_facts(rig: Rig, builds: Builds, book: RuleBook, own_lb: float) -> FactMap:
    """The builds' facts, each an array (n,) or, where it is the same for all, a number.

    Parameters
    ----------
    rig : Rig
        For where the plate stands, and the draw.
    builds : Builds
        The arrows.
    book : RuleBook
        For the front-mass table behind the insert's share, and the archer's usual tail.
    own_lb : float
        Draw weight at the own draw [lb]: what is usually up front goes by it.

    Returns
    -------
    dict
        Fact name -> array (n,) or number.
    """
    front = builds.front_gr
    share: Array = np.zeros(len(builds))
    inside = builds.insert_gr - (builds.stiffening_gr - builds.collar_gr)
    if np.any(inside > 0):
        x, y = book.tables["front_mass", "front_gr", "shift_pct"]
        share = np.asarray(interpolate(x, y, front)) - np.asarray(interpolate(x, y, front - inside))
    return {
        "shaft_centre_beyond_usual_in": _beyond_usual_in(rig)
        + (builds.radius_in - usual("shaft_radius_in", rig.bow.kind)),
        "shaft_length_in": builds.length_in,
        "front_gr": front,
        "insert_share_pct": share,
        "collar_gr": builds.stiffening_gr,
        "tail_gr": builds.tail_gr,
        "rear_taper_in": builds.rear_taper_in,
        "wood_shaft": builds.wood,
        **_usual_arrow(rig, builds, book, own_lb),
    }


def _usual_arrow(rig: Rig, builds: Builds, book: RuleBook, own_lb: float) -> FactMap:
    """The arrow usually shot from such a bow; of wood or not, as each build is."""
    some = builds.wood > 0
    found: tuple[float | Array, ...] = _usually("wood" if some.all() else "other", own_lb)
    if some.any() and not some.all():
        of_wood = _usually("wood", own_lb)
        found = tuple(np.where(some, w, x) for w, x in zip(of_wood, found, strict=True))
    beyond, front = found
    return {
        "usual_length_in": rig.archer.draw_length_in + beyond,
        "usual_front_gr": front,
        "usual_tail_gr": usual("tail_gr") if book.usual_tail_gr is None else book.usual_tail_gr,
    }


def _usually(material: str, own_lb: float) -> tuple[float, float]:
    """How far a shaft usually reaches beyond the draw [in], and what is up front [gr]."""
    rows = [row for row in table("usual_arrow") if row["material"] == material]
    draws = [float(row["draw_lb"]) for row in rows]
    length, front = (
        float(np.interp(own_lb, draws, [float(row[name]) for row in rows]))
        for name in ("beyond_draw_in", "front_gr")
    )
    return length, front


def stated_weight_lb(rig: Rig) -> float:
    """The draw weight as stated: at the own draw, as marked, or read from the curve [lb].

    Parameters
    ----------
    rig : Rig
        For its draw weight and the archer's draw.

    Returns
    -------
    float
        From a curve, in a straight line between its points and, for the last half
        inch at most, beyond them.
    """
    weight = rig.bow.draw_weight
    if weight.curve is None:
        assert weight.lb is not None
        return weight.lb
    draws, pulls = np.array(weight.curve).T
    return float(interpolate(draws, pulls, rig.archer.draw_length_in))


def shortest_safe_length_in(rig: Rig, purpose: PurposeRule) -> float:
    """Shortest safe shaft length for a purpose, to the next quarter inch.

    Parameters
    ----------
    rig : Rig
        For draw length and the mark at the front of the shelf, if given.
    purpose : PurposeRule
        How far the shaft must reach beyond it.

    Returns
    -------
    float
        [in].

    Notes
    -----
    Draw + 1/2 in, + 1 in with broadheads so that they clear the hand (common practice, no source).
    """
    longer = max(rig.archer.draw_length_in, rig.archer.shelf_mark_in or 0.0)
    step = setting("matching.cut_step_in")
    return math.ceil((longer + purpose.shortest_shaft_beyond_draw_in) / step - 1e-9) * step
