"""The first line of a shopping answer: what to do next, in the archer's words."""

from __future__ import annotations

from shaftwright.advise.shop import ShopAnswer
from shaftwright.advise.shop_chosen import ChosenKit
from shaftwright.advise.shop_two import TwoAnswer
from shaftwright.quantities import inches, percent
from shaftwright.rulebook.purposes import setting


def first_line(answer: ShopAnswer) -> str:
    """What to buy or do first, in one sentence under 140 characters where names allow."""
    kit = answer.kit
    bought = [line for line in kit.lines if line.packs]
    shafts = [line for line in bought if line.kind == "shaft"]
    others = len(bought) - len(shafts)
    chance = f"{percent(kit.chance)}"
    full = "full length, stiffest first"
    if _proved_enough(answer):
        assert answer.final is not None
        b = answer.final.build
        return (
            f"Your shots point to {b.name(int(b.shaft[0]))} at {inches(float(b.length_in[0]))}, "
            f"{b.front_gr[0]:.0f} gr up front (chance {percent(answer.final.chance_match)}): "
            "shoot the proof arrows first, then buy the dozen."
        )
    if not bought:
        own = _names([t.shaft for t in kit.shafts])
        return f"Buy no test shafts: shoot the {own} you own, {full}; chance {chance} that one can be tuned."
    if not shafts:
        parts = _names([line.item.item for line in bought])
        return f"Buy {parts}, and shoot the shafts you own, {full}; chance {chance} that one can be tuned."
    names = _names([f"{max(line.quantity - line.in_hand, 1)} {line.item.item}" for line in shafts])
    more = f" and {others} pack{'s' if others > 1 else ''} of small parts" if others else ""
    return (
        f"Buy {names}{more} before any dozen, {money(kit)}: {full}; "
        f"chance {chance} that one can be tuned."
    )


def _proved_enough(answer: ShopAnswer) -> bool:
    """Whether the archer's own shots make the list's build sure enough for proof arrows."""
    learned = answer.asked.belief.learned and answer.final is not None
    return bool(
        learned and answer.final and answer.final.chance_match >= setting("sure_enough_chance")
    )


def first_line_two(answer: TwoAnswer) -> str:
    """One arrow or two, in one sentence."""
    if answer.one_final is not None and answer.one is not None:
        b = answer.one.build
        return (
            f"One arrow can serve both: {b.name(int(b.shaft[0]))} at {inches(float(b.length_in[0]))}, "
            f"{b.front_gr[0]:.0f} gr up front; the windows meet with a chance of "
            f"{percent(answer.chance_overlap)}."
        )
    if answer.pair is None:
        return "Nothing in this stock suits both, nor each alone."
    names = [f.want.shaft.first.item for f in answer.pair]
    if answer.same_shaft:
        return f"One shaft, two builds: {names[0]}, cut or pointed differently for each."
    return (
        f"Two arrows: {names[0]} for the first, {names[1]} for the second; no one arrow suits both."
    )


def money(kit: ChosenKit) -> str:
    """Price of a kit, or about what it usually costs where the stock states no price."""
    return f"about {kit.reckoned:.2f} at usual prices" if kit.unpriced else f"{kit.price:.2f}"


def _names(names: list[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"
