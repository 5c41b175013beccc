"""The first line: what to do next, in the archer's words."""

from __future__ import annotations

import numpy as np

from shaftwright.advise.choose import Choice
from shaftwright.advise.listing import ListedBuild
from shaftwright.match.band import moments, stiffness_lb
from shaftwright.mechanics.normal import cdf
from shaftwright.mechanics.spine import pounds_from_mils
from shaftwright.quantities import inches, percent
from shaftwright.records.stock import shaft_facts
from shaftwright.resources import table
from shaftwright.rulebook.purposes import setting

SURE_ENOUGH = "sure_enough_chance"


def advice(choice: Choice) -> str:
    """What to do next.

    Parameters
    ----------
    choice : Choice
        An answer.

    Returns
    -------
    str
        One sentence.
    """
    if choice.ranking is None:
        main, other = _usual_pair(choice)
        return f"Buy three test shafts, not a dozen: two {main:g}, one {other:g}; leave them uncut."
    if not choice.listed:
        return (
            "Nothing in this stock can be built within the limits; see what was turned away below."
        )
    if _last_may_be_far_too_weak(choice):
        return (
            "First settle the last bare shaft: it may be far too weak, so shoot nothing weaker, longer or "
            "heavier up front; shaftwright bareshaft says what to do."
        )
    best = choice.listed[0]
    likeliest = max(b.chance_tunable or b.chance_match for b in choice.listed)
    if likeliest < setting("worth_testing_chance"):
        band, uncut = choice.band, choice.band_uncut
        return (
            f"Nothing in this stock is likely to suit (at best {percent(likeliest)}): look for shafts "
            f"between {min(band.low, uncut.low):.0f} and {max(band.high, uncut.high):.0f}{_groups(choice)}."
        )
    if best.chance_match >= setting(SURE_ENOUGH):
        return (
            f"Build two proof arrows before the dozen: {best.shaft} at {inches(best.length_in)}, "
            f"{best.front_gr:.0f} gr up front."
        )
    return _test_shafts(choice)


def _usual_pair(choice: Choice) -> tuple[float, float]:
    """The usual spine nearest the middle of both bands, and the next nearest."""
    middle = (pounds_from_mils(choice.band.mid) + pounds_from_mils(choice.band_uncut.mid)) / 2
    near = sorted(sold_by_most(), key=lambda s: abs(pounds_from_mils(s) - middle))
    return near[0], near[1]


def sold_by_most() -> list[float]:
    """Carbon spines that most shops keep, from tables/usual_shafts.csv [mils]."""
    rows = [
        r for r in table("usual_shafts") if r["material"] == "carbon" and r["kept_by"] == "most"
    ]
    return sorted({float(row["spine_mils"]) for row in rows})


def _test_shafts(choice: Choice) -> str:
    """Two of the likeliest shaft and one of its neighbour; what is in hand before anything is bought."""
    assert choice.candidates is not None
    items = choice.candidates.items
    first = choice.listed[0]
    apart = setting("other_test_spine_pct") / 100
    other = next(
        (b for b in choice.listed[1:] if abs(b.spine_mils / first.spine_mils - 1) > apart
         and items[b.shaft_index].material == items[first.shaft_index].material), None,
    )  # fmt: skip
    pair = [first] if other is None else [first, other]
    owned = [b for b in pair if items[b.shaft_index].in_hand > 0]
    lengths = {b.shaft_index: longest_safe_test_in(choice, b.shaft_index) for b in pair}
    cut = _how_long(choice, pair, lengths)
    if len(owned) == len(pair):
        names = " and ".join(b.shaft for b in sorted(pair, key=lambda b: b.spine_mils))
        return f"Buy nothing yet: shoot the {names} you own, stiffest first{cut}."
    if owned:
        want = next(b for b in pair if b not in owned)
        number = "one" if want is other else "two"
        buy = f"{number} {_single(choice, want)}"
        return f"Shoot the {owned[0].shaft} you own, and buy {buy} to test beside it{cut}."
    if other is None:
        return f"Buy two test shafts, not a dozen: two {_single(choice, first)}{cut}."
    return (
        f"Buy three test shafts, not a dozen: two {_single(choice, first)}, "
        f"one {_single(choice, other)}{cut}."
    )


def _how_long(choice: Choice, pair: list[ListedBuild], lengths: dict[int, float]) -> str:
    """Uncut where that is safe; what is to be cut or held back first where it may not be."""
    assert choice.candidates is not None
    items = choice.candidates.items
    held = [
        b
        for b in pair
        if lengths[b.shaft_index] < (items[b.shaft_index].full_length_in or 0) - 1e-9
    ]
    told = "" if len(held) == len(pair) else "; leave them uncut" if not held else ""
    for b in held:
        at = lengths[b.shaft_index]
        first = f"cut it to {inches(at)} first" if at > 0 else "do not shoot it"
        stiffest = b.spine_mils == min(p.spine_mils for p in pair)
        if stiffest:
            told += f"; {b.shaft} may be far too weak uncut: {first}"
        else:
            told += f"; {b.shaft} uncut only after the stiffer one reads stiff or straight, else {first}"
    return told


def _groups(choice: Choice) -> str:
    """Wood groups to look for, where wood is in question."""
    if not choice.wood_groups:
        return ""
    return f" (wood marked {choice.wood_groups[0][0]:g} to {choice.wood_groups[-1][1]:g} lb)"


def _last_may_be_far_too_weak(choice: Choice) -> bool:
    """Whether the build shot last from the bow as it stands may be far too weak for it."""
    learned = choice.question.learned
    builds = [b for b in learned.builds if b.period == 0] if learned is not None else []
    return bool(builds) and builds[-1].far_too_weak > setting("far_too_weak_chance")


def _single(choice: Choice, build: ListedBuild) -> str:
    """The same shaft in its smallest pack, and a word where even that is more than a test needs."""
    assert choice.candidates is not None
    items = choice.candidates.items
    mine = items[build.shaft_index]
    facts = shaft_facts(mine)
    twins = [i for i in items if i.kind == "shaft" and shaft_facts(i) == facts]
    smallest = min(twins, key=lambda item: item.pack, default=mine)
    return smallest.item + (
        f" (sold by {smallest.pack}: ask for singles)" if smallest.pack > 3 else ""
    )


def longest_safe_test_in(choice: Choice, shaft_index: int) -> float:
    """Longest a shaft may be left for its first shot with some point of the stock [in]; 0 if never.

    Parameters
    ----------
    choice : Choice
        An answer with a stock.
    shaft_index : int
        Which shaft.

    Returns
    -------
    float
        Longest length at which some build of it is hardly far too weak.
    """
    assert choice.candidates is not None
    builds = choice.candidates.builds
    own = builds.take(np.flatnonzero(builds.shaft == shaft_index))
    if not len(own):
        return 0.0
    mean, sd, _ = moments(choice.question.demand(own), own, choice.question.belief)
    # far too weak when the stiffness is under the gate's share of what is wanted
    weak = 1 - cdf((stiffness_lb(own) / setting("shoot_gate") - mean) / sd)
    safe = weak <= setting("far_too_weak_chance")
    return float(own.length_in[safe].max()) if safe.any() else 0.0
