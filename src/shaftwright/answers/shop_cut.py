"""Where to cut, and which shafts of a batch belong together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.settings import shop_setting, shopping_rules
from shaftwright.inference.band import chance_between, match_limits, moments
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import AnyEntry, Weigh
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CutStep:
    """One length on the way down.

    Attributes
    ----------
    length_in, cut_in : float
        Shaft length after the cut, and what comes off [in].
    chance_weak, chance_match, chance_stiff : float
        What the bare shaft should then read, with the final front.
    note : str
        What to do here.
    """

    length_in: float
    cut_in: float
    chance_weak: float
    chance_match: float
    chance_stiff: float
    note: str


@dataclass(frozen=True)
class CutPlan:
    """From the first full-length test to the final length.

    Attributes
    ----------
    full_in, expected_in, shortest_safe_in : float
        Length as sold, length expected in the end, and the length under which nothing is cut [in].
    steps : tuple of CutStep
        Longest first.
    """

    full_in: float
    expected_in: float
    shortest_safe_in: float
    steps: tuple[CutStep, ...]


def cut_plan(asked: Scenario, build: Builds, full_in: float, shortest_in: float) -> CutPlan:
    """Cuts for one build, a bold first one where it is safe, then small ones.

    Parameters
    ----------
    asked : Scenario
        Rig and belief.
    build : Builds
        The final build, of length 1, at its expected length.
    full_in, shortest_in : float
        Length as sold and shortest safe length [in].

    Returns
    -------
    CutPlan
        Steps down to an eighth of an inch near the expected length, and on to the shortest safe one.
    """
    expected = float(build.length_in[0])
    lengths = np.array(_lengths(full_in, expected, shortest_in))
    rows = build.take(np.zeros(len(lengths), dtype=int))
    rows = replace(rows, length_in=lengths)
    mean, sd, skew = moments(asked.demand(rows), rows, asked.belief)
    low, high = match_limits(rows, setting("tolerance_pct") / 100)
    match = chance_between(mean, sd, skew, low, high)
    weak = chance_between(mean, sd, skew, high, np.full(len(rows), 1e9))
    stiff = np.clip(1 - match - weak, 0.0, 1.0)
    most = shop_setting("first_cut_too_stiff_chance")
    safe = np.flatnonzero(stiff <= most)
    bold = int(safe.max()) if len(safe) else 0
    keep = [0, *range(max(bold, 1), len(lengths))] if len(lengths) > 1 else [0]
    steps = []
    for i, before in zip(keep, [0, *keep], strict=False):
        note = _note(i, bold, float(lengths[i]), expected, shortest_in, float(weak[i]))
        steps.append(CutStep(float(lengths[i]), float(lengths[before] - lengths[i]), float(weak[i]),
                             float(match[i]), float(stiff[i]), note))  # fmt: skip
    return CutPlan(full_in, expected, shortest_in, tuple(steps))


def _lengths(full_in: float, expected_in: float, shortest_in: float) -> list[float]:
    coarse, fine = setting("cut_step_in"), shop_setting("near_goal_step_in")
    near = shop_setting("near_goal_in")
    lengths = [full_in]
    here = math.floor(full_in / coarse + 1e-9) * coarse
    while here > shortest_in - 1e-9:
        if here < lengths[-1] - 1e-9:
            lengths.append(here)
        here -= fine if abs(here - fine - expected_in) <= near + 1e-9 else coarse
    if lengths[-1] > shortest_in + 1e-9:
        lengths.append(shortest_in)
    return lengths


def _note(
    index: int, bold: int, length: float, expected: float, shortest: float, weak: float
) -> str:  # fmt: skip
    if length <= shortest + 1e-9:
        return "shortest safe length: never cut below it; still weak here means another shaft"
    if index == 0:
        if weak > 0.5:
            return "uncut: shoot it first; it will read weak, that is intended"
        return "uncut: shoot it first, and leave it uncut unless it reads weak"
    if abs(length - expected) <= 1e-9:
        return "expected length: shoot, and cut on only while it reads weak"
    if index == bold:
        return "may be cut to here in one go, from the point end; then shoot"
    return "shoot; cut on only while it reads weak" if index > bold else "shoot"


@dataclass(frozen=True)
class Piece:
    """One shaft or arrow of the batch as it was weighed and measured."""

    name: str
    mass_gr: float | None
    spine_mils: float | None


@dataclass(frozen=True)
class Matched:
    """The tightest set of a batch.

    Attributes
    ----------
    inside, outside : tuple of Piece
        The set, and what is left for practice; heaviest last.
    mass_range_gr, spine_range_mils : float or None
        Lightest to heaviest, stiffest to weakest, of the set.
    tight : bool
        Whether both are within what a well matched dozen keeps.
    """

    inside: tuple[Piece, ...]
    outside: tuple[Piece, ...]
    mass_range_gr: float | None
    spine_range_mils: float | None
    tight: bool


def pieces_of(entries: Sequence[AnyEntry], shaft_names: Sequence[str] = ()) -> tuple[Piece, ...]:
    """The shafts and arrows of a notebook's `weigh` entries, later entries over earlier ones.

    Parameters
    ----------
    entries : sequence
        A notebook.
    shaft_names : sequence of str
        Shafts of the stock: `NAME 3` is a piece too, `NAME` alone is the sort and no piece.

    Returns
    -------
    tuple of Piece
        In the order they first appear.
    """
    known: dict[str, Piece] = {}
    names = {n.lower() for n in shaft_names}
    for entry in entries:
        if not isinstance(entry, Weigh) or not _numbered(entry.item, names):
            continue
        piece = known.get(entry.item, Piece(entry.item, None, None))
        mass = piece.mass_gr if entry.mass_gr is None else entry.mass_gr
        spine = piece.spine_mils if entry.spine_mils is None else entry.spine_mils
        known[entry.item] = Piece(entry.item, mass, spine)
    return tuple(known.values())


def _numbered(item: str, shaft_names: set[str]) -> bool:
    low = item.lower().strip()
    if low in shaft_names:
        return False
    if any(low.startswith((f"{name} ", f"{name}#")) for name in shaft_names):
        return True
    return low.split(" ")[0].rstrip("0123456789#") in shopping_rules().numbered


def tightest_set(pieces: Sequence[Piece], number: int) -> Matched | None:
    """The `number` pieces that differ least in mass and spine.

    Parameters
    ----------
    pieces : sequence of Piece
        The batch. Only what all pieces of the larger group have been measured for is compared.
    number : int
        Wanted; fewer when fewer were measured.

    Returns
    -------
    Matched or None
        None when nothing was measured.

    Notes
    -----
    Exact: the sum of the two ranges, each over what a well matched dozen keeps, is least. For every
    lightest and heaviest piece a window slides over the spines of those between.

    Examples
    --------
    >>> batch = [Piece(f"shaft {i}", m, None) for i, m in enumerate([300.0, 310.0, 309.0, 308.5])]
    >>> [p.name for p in tightest_set(batch, 3).inside]
    ['shaft 3', 'shaft 2', 'shaft 1']
    """
    both = [p for p in pieces if p.mass_gr is not None and p.spine_mils is not None]
    weighed = [p for p in pieces if p.mass_gr is not None]
    measured = [p for p in pieces if p.spine_mils is not None]
    group = max((both, weighed, measured), key=len)
    if not group:
        return None
    number = max(min(number, len(group)), 1)
    use_mass = len(group) == len(weighed) or group is both
    use_spine = len(group) == len(measured) or group is both
    unit_gr, unit_mils = shop_setting("dozen_mass_range_gr"), shop_setting("dozen_spine_range_mils")
    mass = (
        np.array([p.mass_gr if use_mass and p.mass_gr is not None else 0.0 for p in group])
        / unit_gr
    )
    spine = np.array(
        [p.spine_mils if use_spine and p.spine_mils is not None else 0.0 for p in group]
    )
    chosen = _tightest(mass, spine / unit_mils, number)
    inside = [group[i] for i in chosen]
    names = {p.name for p in inside}
    outside = [p for p in pieces if p.name not in names]
    inside.sort(key=lambda p: (p.mass_gr or 0.0, p.spine_mils or 0.0))
    masses = [p.mass_gr for p in inside if p.mass_gr is not None] if use_mass else []
    spines = [p.spine_mils for p in inside if p.spine_mils is not None] if use_spine else []
    mass_range = max(masses) - min(masses) if masses else None
    spine_range = max(spines) - min(spines) if spines else None
    tight = (mass_range or 0.0) <= unit_gr + 1e-9 and (spine_range or 0.0) <= unit_mils + 1e-9
    return Matched(tuple(inside), tuple(outside), mass_range, spine_range, tight)


def _tightest(mass: Array, spine: Array, number: int) -> list[int]:
    """Indices of the set with the least sum of ranges."""
    order = np.lexsort((spine, mass))
    best, chosen = math.inf, list(range(number))
    for i in range(len(order) - number + 1):
        for j in range(i + number - 1, len(order)):
            across = mass[order[j]] - mass[order[i]]
            if across >= best - 1e-12:
                break
            inside = order[i : j + 1]
            ranked = inside[np.argsort(spine[inside], kind="stable")]
            windows = spine[ranked[number - 1 :]] - spine[ranked[: len(ranked) - number + 1]]
            k = int(np.argmin(windows))
            members = ranked[k : k + number]
            size = float(np.ptp(mass[members]) + windows[k])
            if size < best - 1e-12:
                best, chosen = size, members.tolist()
    return chosen
