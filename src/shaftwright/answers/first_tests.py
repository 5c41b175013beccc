"""Which shafts to test first, how long and with what up front: safe to draw, in hand before bought."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.candidates import enumerate_builds
from shaftwright.answers.choose import Choice
from shaftwright.answers.listing import ListedBuild
from shaftwright.answers.rank import hard_floor_gr_per_lb
from shaftwright.inference.band import moments, stiffness_lb
from shaftwright.physics.normal import cdf
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.records.builds import Builds, builds_by_numbers
from shaftwright.records.stock import Stock, StockItem
from shaftwright.resources import table
from shaftwright.rules.purposes import setting


@dataclass(frozen=True)
class Trial:
    """One test shaft as it is to be shot first.

    Attributes
    ----------
    name : str
        The shaft, or its usual spine.
    spine_mils : float
        Its static spine.
    length_in, full_in : float
        Longest it may be left for its first shot, and as it is sold.
    front_gr : float
        What is up front.
    fitted : str
        The parts that make it so, in words.
    too_weak : float
        Chance that it is weaker than a match.
    owned, all_owned : bool
        Whether the shaft is in hand; whether its point and insert are too.
    build : ListedBuild or None
        The listed build it stands for, with a stock.
    """

    name: str
    spine_mils: float
    length_in: float
    full_in: float
    front_gr: float
    fitted: str
    too_weak: float
    owned: bool = False
    all_owned: bool = False
    build: ListedBuild | None = None

    @property
    def uncut(self) -> bool:
        """Whether it may be left as it is sold."""
        return self.length_in >= self.full_in - 1e-9


def usual_trials(choice: Choice) -> list[Trial]:
    """Without a stock: the two usual spines nearest the middle of both bands, nearest first.

    Parameters
    ----------
    choice : Choice
        An answer.

    Returns
    -------
    list of Trial
        Spines that are far too weak even at the shortest safe length are passed over; may be empty.
    """
    middle = (pounds_from_mils(choice.band.mid) + pounds_from_mils(choice.band_uncut.mid)) / 2
    near = sorted(sold_by_most(), key=lambda s: abs(pounds_from_mils(s) - middle))
    found = []
    for spine in near:
        trial = _usual_trial(choice, spine)
        if trial is not None:
            found.append(trial)
        if len(found) == 2:
            break
    return found


def sold_by_most() -> list[float]:
    """Carbon spines that most shops keep, from tables/usual_shafts.csv [mils]."""
    return sorted(_mass_by_spine())


def _mass_by_spine() -> dict[float, float]:
    """Usual mass [gr/in] of the carbon spines that most shops keep [mils]."""
    return {
        float(row["spine_mils"]): float(row["gr_per_in"])
        for row in table("usual_shafts")
        if row["material"] == "carbon" and row["kept_by"] == "most"
    }


def _usual_trial(choice: Choice, spine: float) -> Trial | None:
    """The longest safe first shot of a usual spine, with the usual front or what the mass floor asks."""
    asked = choice.question
    short, full = choice.band.length_in, choice.band_uncut.length_in
    step = setting("cut_step_in")
    lengths = np.append(np.arange(short, full - 1e-9, step), full)
    per_inch = _mass_by_spine()[spine]
    bare = builds_by_numbers(spine, lengths, 0.0, None, per_inch)
    own_lb = asked.demand(asked.reference_build()).own_lb
    want = hard_floor_gr_per_lb(asked.rig) * own_lb - bare.bare_gr
    more = setting("front_varies_gr")
    usual = asked.purpose_rule.usual_front_gr
    front = usual + more * np.ceil(np.maximum(want - usual, 0.0) / more - 1e-9)
    builds = builds_by_numbers(spine, lengths, front, None, per_inch)
    safe = np.flatnonzero(
        _weaker(choice, builds, setting("shoot_gate")) <= setting("far_too_weak_chance")
    )
    if not len(safe):
        return None
    i = int(safe[-1])
    weak = _too_weak(choice, builds, i)
    fitted = f"{front[i]:.0f} gr up front"
    return Trial(f"{spine:g}", spine, float(lengths[i]), full, float(front[i]), fitted, weak)


def stock_trials(choice: Choice) -> list[Trial]:
    """With a stock: up to two shafts of one material to test, what is in hand before what is bought.

    Parameters
    ----------
    choice : Choice
        An answer with listed builds.

    Returns
    -------
    list of Trial
        Likeliest first among those in hand, then among those to buy. None has less than a decent
        chance of being tuned or a greater one than the gate allows of being far too weak; none is
        what the notebook found clearly weak, while there is another. May be empty.
    """
    assert choice.candidates is not None
    items, decent = choice.candidates.items, setting("decent_chance")
    fair = [b for b in choice.listed if best_chance(b) >= decent]
    if not fair:
        return []
    material = items[fair[0].shaft_index].material
    pool = [b for b in fair if items[b.shaft_index].material == material]
    pool.sort(key=lambda b: not items[b.shaft_index].in_hand)
    return _two(_trials(choice, pool, False)) or _two(_trials(choice, pool, True))


def best_chance(build: ListedBuild) -> float:
    """Chance that some cut, point or insert of a listed shaft matches; else that it matches as it is."""
    return build.chance_tunable or build.chance_match


def _trials(choice: Choice, pool: list[ListedBuild], weak_too: bool) -> Iterator[Trial]:
    for build in pool:
        trial = _trial(choice, build)
        if trial is not None and (weak_too or not _found_weak(choice, trial)):
            yield trial


def _two(trials: Iterator[Trial]) -> list[Trial]:
    """The first, and the next whose spine is far enough from it to tell something else."""
    apart = setting("other_test_spine_pct") / 100
    first = next(trials, None)
    if first is None:
        return []
    other = next((t for t in trials if abs(t.spine_mils / first.spine_mils - 1) > apart), None)
    return [first] if other is None else [first, other]


def _trial(choice: Choice, listed: ListedBuild) -> Trial | None:
    """A shaft's first shot: as long as is safe, with parts in hand, else the lightest heavy enough."""
    assert choice.candidates is not None
    assert choice.ranking is not None
    builds, items = _with_field_points(choice, listed.shaft_index)
    floor = hard_floor_gr_per_lb(choice.question.rig) - 1e-9
    safe = (builds.bare_gr / choice.ranking.own_lb >= floor) & (builds.collar < 0)
    safe &= _weaker(choice, builds, setting("shoot_gate")) <= setting("far_too_weak_chance")
    if not safe.any():
        return None
    in_hand = np.array([*(item.in_hand > 0 for item in items), True])
    to_buy = (~in_hand[builds.head]).astype(int) + ~in_hand[builds.insert]
    kept = np.flatnonzero(safe)
    i = int(kept[np.lexsort((builds.front_gr[kept], to_buy[kept], -builds.length_in[kept]))[0]])
    shaft = choice.candidates.items[listed.shaft_index]
    owned = shaft.in_hand > 0
    parts = [_told(items[builds.head[i]])]
    insert = int(builds.insert[i])
    several = builds.insert.min() < builds.insert.max()
    if insert >= 0 and (several or (owned and not in_hand[insert])):
        parts.append(_told(items[insert]))
    return Trial(
        listed.shaft, listed.spine_mils, float(builds.length_in[i]), shaft.full_length_in or 0.0,
        float(builds.front_gr[i]), " and ".join(parts), _too_weak(choice, builds, i),
        owned, owned and not to_buy[i], listed,
    )  # fmt: skip


def _told(item: StockItem) -> str:
    return item.item + ("" if item.in_hand else " (to buy)")


def _with_field_points(choice: Choice, shaft_index: int) -> tuple[Builds, tuple[StockItem, ...]]:
    """Every build of one shaft with field points: test shafts are never shot with broadheads."""
    assert choice.candidates is not None
    asked, all_of = choice.question, choice.candidates
    builds = all_of.builds.take(np.flatnonzero(all_of.builds.shaft == shaft_index))
    if not builds.is_broadhead.any():
        return builds, all_of.items
    shaft = all_of.items[shaft_index]
    stock = Stock((shaft, *(item for item in all_of.items if item.kind != "shaft")))
    plain = asked.purpose_rule.model_copy(update={"broadheads": False})
    found = enumerate_builds(asked.rig, stock, plain)
    return found.builds, found.items


def _weaker(choice: Choice, builds: Builds, share: float) -> NDArray[np.float64]:
    """Chance (n,) that the stiffness is under a share of what is wanted."""
    mean, sd, _ = moments(choice.question.demand(builds), builds, choice.question.belief)
    chance: NDArray[np.float64] = 1 - cdf((stiffness_lb(builds) / share - mean) / sd)
    return chance


def _too_weak(choice: Choice, builds: Builds, index: int) -> float:
    """Chance that one build is weaker than a match."""
    one = builds.take(slice(index, index + 1))
    return float(_weaker(choice, one, 1 - setting("tolerance_pct") / 100)[0])


def _found_weak(choice: Choice, trial: Trial) -> bool:
    """Whether the notebook found such a shaft or a stiffer one clearly weak, and this is likely so too."""
    learned = choice.question.learned
    if learned is None:
        return False
    tolerance, apart = setting("tolerance_pct") / 100, setting("other_test_spine_pct") / 100
    for noted in learned.builds:
        wanted = float(stiffness_lb(noted.build)[0]) - noted.mismatch_lb
        weak = float(np.mean(noted.mismatch_lb < -tolerance * wanted))
        no_stiffer = trial.spine_mils > noted.build.spine_mils[0] * (1 - apart)
        if no_stiffer and weak >= setting("sure_enough_chance"):
            return trial.too_weak > 0.5
    return False
