"""The first line of a shopping answer: what to do next, in the archer's words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shaftwright.answers.shop import ShopAnswer
from shaftwright.answers.shop_chosen import ChosenKit
from shaftwright.answers.shop_final import FinalBuild
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_two import TwoAnswer
from shaftwright.rules.purposes import setting
from shaftwright.units import inches, percent

_FIRST = "stiffest first"


def first_line(answer: ShopAnswer) -> str:
    """What to buy or do first, in one sentence under 140 characters where names allow."""
    if answer.kit.chance < setting("worth_testing_chance"):
        return (
            f"Buy nothing from this stock yet: its best test kit, {money(answer.kit)}, holds a shaft that "
            f"can be tuned with a chance of {percent(answer.kit.chance)} only; below stands what binds."
        )
    if answer.freed_by and answer.final is not None:
        return (
            f"Buy no dozen: {_built(answer.final)}, the best the limits leave, matches with a chance of "
            f"{percent(answer.final.chance_match)} only. {_tests_first(answer.kit)}; {answer.freed_by[0]}."
        )
    if _proved_enough(answer):
        assert answer.final is not None
        front = f"{answer.final.build.front_gr[0]:.0f} gr up front"
        return (
            f"Your shots point to {_built(answer.final)}, "
            f"{front} (chance {percent(answer.final.chance_match)}): "
            "shoot the proof arrows first, then buy the dozen."
        )
    return f"{_tests_first(answer.kit)}; chance {percent(answer.kit.chance)} that one can be tuned."


def _built(final: FinalBuild) -> str:
    return f"{final.build.name(int(final.build.shaft[0]))} at {inches(float(final.build.length_in[0]))}"


def _tests_first(kit: ChosenKit) -> str:
    """What to buy and shoot before any dozen."""
    bought = [line for line in kit.lines if line.packs]
    shafts = [line for line in bought if line.kind == "shaft"]
    others = len(bought) - len(shafts)
    weak = _unless_weak([kit])
    uncut = f"{_FIRST}{weak}" if weak else f"full length, {_FIRST}"
    if not bought:
        return f"Buy no test shafts: shoot the {_names([t.shaft for t in kit.shafts])} you own, {uncut}"
    if not shafts:
        parts = _names([line.item.item for line in bought])
        return f"Buy {parts}, {money(kit)}, and shoot the shafts you own, {uncut}"
    names = _names([f"{line.packs * line.item.pack} {line.item.item}" for line in shafts])
    more = f" and {others} pack{'s' if others > 1 else ''} of small parts" if others else ""
    return f"Buy {names}{more} before any dozen, {money(kit)}: {uncut}"


def _unless_weak(kits: Sequence[ChosenKit]) -> str:
    """Which test shafts must not simply be shot uncut; empty when all may be."""
    far = setting("far_too_weak_chance")
    names = dict.fromkeys(
        t.shaft for kit in kits for t in kit.shafts if t.chance_far_too_weak > far
    )
    return f"; see caution for {_names(list(names))}" if names else ""


def _proved_enough(answer: ShopAnswer) -> bool:
    """Whether the archer's own shots make the list's build sure enough for proof arrows."""
    learned = answer.asked.belief.learned and answer.final is not None
    return bool(
        learned and answer.final and answer.final.chance_match >= setting("sure_enough_chance")
    )


def first_line_two(answer: TwoAnswer) -> str:
    """What to buy first for two rigs or purposes, and whether one arrow can serve both."""
    if answer.poor:
        told = _names([f"{_built(f)} ({percent(f.chance_match)})" for f in answer.finals])
        return f"Buy no dozen: {told} is too unlikely to match; {_first_of_two(answer)}."
    names = _names(list(dict.fromkeys(f.want.shaft.first.item for f in answer.finals)))
    if answer.shared:
        head = (
            f"One arrow may serve both, {_built(answer.finals[0])}"
            if names
            else "One arrow may serve both"
        )
    elif answer.same_shaft:
        head = f"One shaft, {names}, cut or pointed in two ways"
    else:
        head = (
            f"Two arrows, {names}, for no one arrow suits both"
            if names
            else "No one arrow suits both"
        )
    return f"{head}: {_first_of_two(answer)}."


def _first_of_two(answer: TwoAnswer) -> str:
    """What to buy and shoot before any dozen, of all kits together."""
    first, second = answer.asked
    each = ", each from both" if answer.shared else ", each from its rig"
    where = "" if first.rig.bow == second.rig.bow else each
    proved = [_proved(answer, i) for i in range(len(answer.kits))]
    if not answer.kits or all(proved):
        return f"shoot proof arrows first{where}, then buy the dozen"
    done = [answer.finals[i].want.shaft.first.item for i, sure in enumerate(proved) if sure]
    head = f"proof arrows of {_names(done)}; " if done else ""
    kits = [kit for kit, sure in zip(answer.kits, proved, strict=True) if not sure]
    weak = "; see their cautions" if _unless_weak(kits) else ""
    lines = [line for kit in kits for line in kit.lines if line.packs]
    shafts = [
        f"{line.packs * line.item.pack} {line.item.item}" for line in lines if line.kind == "shaft"
    ]
    others = len(lines) - len(shafts)
    more = [f"{others} pack{'s' if others > 1 else ''} of small parts"] if others else []
    if not lines:
        owned = list(dict.fromkeys(t.shaft for kit in kits for t in kit.shafts))
        return f"{head}buy no test shafts, shoot the {_names(owned)} you own{where}{weak}"
    price = math.fsum(kit.reckoned for kit in kits)
    about = "about " if any(kit.unpriced for kit in kits) else ""
    bought = _names([*shafts, *more])
    return f"{head}buy {bought} first, {about}{price:.2f}, and shoot the test shafts{where}{weak}"


def _proved(answer: TwoAnswer, place: int) -> bool:
    """Whether the shots of a rig itself make its arrow sure enough for proof arrows."""
    if not answer.finals:
        return False
    own = any(q.learned is not None for q in answer.asked) if answer.shared else (
        answer.asked[place].learned is not None
    )  # fmt: skip
    return own and answer.finals[place].chance_match >= setting("sure_enough_chance")


def money(kit: ChosenKit) -> str:
    """Price of a kit, or about what it usually costs where the stock states no price."""
    return f"about {kit.reckoned:.2f} at usual prices" if kit.unpriced else f"{kit.price:.2f}"


def promise(kit: ChosenKit) -> str:
    """The chance of a kit with what was asked, how firm it is, and whether a cheaper kit does it."""
    asked = math.floor(1000 * kit.asked_chance + 0.5) / 10
    proven = "no cheaper kit does it" if kit.proven else f"proven least price {kit.least_price:.2f}"
    told = f"asked {asked:g}%; {proven}"
    if kit.reachable < kit.asked_chance - 1e-9:
        told = (
            f"asked {asked:g}%; no kit of this stock reaches more than {percent(kit.reachable)}; "
            "this is the cheapest found within about half a point of that"
        )
    elif kit.chance < kit.asked_chance:
        told += "; counted afresh, on draws that had no part in the choosing, a little less"
    larger = shop_setting("doubt_too_narrow_pct")
    return (
        f"chance {kit.chance:.1%} that one of its shafts can be tuned ({told}); were all doubts "
        f"{larger:g} % larger than the rules state, {percent(kit.chance_were_wider)}"
    )


def _names(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"
