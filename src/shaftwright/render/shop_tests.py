"""How the test shafts are shot, where to cut, and which shafts belong together, as text."""

from __future__ import annotations

from collections.abc import Sequence

from tabulate import tabulate

from shaftwright.answers.shop_chosen import ChosenKit, TrialShaft
from shaftwright.answers.shop_cut import CutPlan, Matched
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.render.words import bullets, clean, short, tame, wrap
from shaftwright.rules.purposes import setting
from shaftwright.units import inches, percent


def trials_text(
    kit: ChosenKit, hand: str, where: str = "", both: Sequence[str] = (), brief: bool = False
) -> str:  # fmt: skip
    """The test shafts in the order they are shot, with what each should read.

    Parameters
    ----------
    kit : ChosenKit
        The kit.
    hand : str
        The hand that draws.
    where : str
        The rig, where there are two kits.
    both : sequence of str
        The rigs, where one kit is shot from two.
    brief : bool
        Without the notes that stand under another kit already.

    Returns
    -------
    str
        Text in 80 columns.
    """
    yards = shop_setting("test_distance_yd")
    rig = f" from {where}" if where else " for both" if both else ""
    head = wrap(
        tame(f"Test shafts at {yards:g} yd{rig}, bare, in this order, each at full length:")
    )
    rows = [
        [str(i), short(t.shaft, 13), f"{t.spine_mils:.0f}", inches(t.length_in).removesuffix(" in"),
         _front(t), f"{t.bare_gr:.0f}", _expect(t), percent(t.alone)]
        for i, t in enumerate(kit.shafts, 1)
    ]  # fmt: skip
    table = tabulate(
        rows, headers=["", "shaft", "spine", "inches", "with", "gr", "will read", "alone"],
        tablefmt="plain", disable_numparse=True,
        colalign=("right", "left", "right", "right", "left", "right", "left", "right"),
        maxcolwidths=[None] * 4 + [14, None, 12, None],
    )  # fmt: skip
    ladders = dict.fromkeys(", ".join(t.ladder) for t in kit.shafts if len(t.ladder) > 1)
    ladder = [f"then up the ladder of points: {clean(ladder)}" for ladder in ladders]
    notes = [
        "each with the lightest point of this kit that keeps the bare arrow heavy enough; when one reads "
        "weak and leaves marks on bow or shaft, shoot no weaker one",
        *ladder,
        "weak is what length is for: cut a quarter inch at a time from the point end",
        "alone: chance that this shaft by itself can be tuned with the points of the kit",
    ]
    if both:
        notes.append(f"will read: {' / '.join(both)}; shoot for both before cutting")
    if brief:
        notes = ladder
    if hand in ("right", "left"):
        side = "right" if hand == "right" else "left"
        notes.append(
            f"drawn with the {hand} hand, a weak bare shaft lands {side} of the fletched ones"
        )
    warned = bullets(map(tame, _too_weak(kit)), "! ")
    return "\n".join([head, table, *([warned] if warned else []), bullets(map(tame, notes))])


def _too_weak(kit: ChosenKit) -> list[str]:
    """What to mind before shafts that may be far too weak uncut are shot; stiffest first."""
    told = []
    for i, t in enumerate(kit.shafts):
        if t.chance_far_too_weak <= setting("far_too_weak_chance"):
            continue
        uncuttable = t.safer_length_in >= t.length_in - 1e-9
        before = (
            "shoot it only after a stiffer one has read stiff or straight, for no cut of it with this "
            "front is known to be safe and heavy enough" if uncuttable
            else f"shoot it uncut only after a stiffer one has read stiff or straight, else cut it to "
            f"{inches(t.safer_length_in)} first" if i
            else f"if you have no stiffer arrow that flies, cut it to {inches(t.safer_length_in)} first"
        )  # fmt: skip
        lighter = (
            f"; {clean(t.lighter_point)} of the stock is lighter and heavy enough: add it to the kit "
            "and shoot this shaft with it first" if t.lighter_point else ""
        )  # fmt: skip
        told.append(
            f"{clean(t.shaft)} uncut may be far too weak to be shot "
            f"(chance {percent(t.chance_far_too_weak)}): "
            f"{before}{lighter}"
        )
    return told


def _front(trial: TrialShaft) -> str:
    return " + ".join(short(p, 13) for p in (trial.point, trial.insert, trial.collar) if p)


def _expect(trial: TrialShaft) -> str:
    words = [trial.expected.replace("_", " "), *(w.replace("_", " ") for w in trial.elsewhere)]
    told = " / ".join(words)
    return f"{told}; intended" if any("weak" in word for word in words) else told


def cut_text(cut: CutPlan, label: str = "") -> str:
    """A cut plan as a table; a note stands only where it differs from the one above.

    Parameters
    ----------
    cut : CutPlan
        The plan.
    label : str
        The rig, where there are two.

    Returns
    -------
    str
        Text in 80 columns.
    """
    rows, before = [], ""
    for s in cut.steps:
        note = ("<- " if s.length_in <= cut.shortest_safe_in + 1e-9 else "") + s.note
        rows.append([inches(s.length_in), percent(s.chance_weak), percent(s.chance_match),
                     percent(s.chance_stiff), note if note != before else ""])  # fmt: skip
        before = note
    table = tabulate(rows, headers=["length", "weak", "straight", "stiff", "do"], tablefmt="plain",
                     disable_numparse=True, colalign=("right",) * 4 + ("left",),
                     maxcolwidths=[None] * 4 + [40])  # fmt: skip
    where = f" on {label}" if label else ""
    head = wrap(tame(f"Cut plan with the final front{where}, from the point end; expected "
                     f"{inches(cut.expected_in)}, never under {inches(cut.shortest_safe_in)}:"))  # fmt: skip
    return f"{head}\n{table}"


def matched_text(matched: Matched, cut: CutPlan | None) -> str:
    """The weighed and measured shafts, those that belong together first.

    Parameters
    ----------
    matched : Matched
        The set.
    cut : CutPlan or None
        For the length they are cut to.

    Returns
    -------
    str
        Text in 80 columns.
    """
    at = f", all to {inches(cut.expected_in)}" if cut is not None else ""
    rows = [[short(p.name, 24), "?" if p.mass_gr is None else f"{p.mass_gr:.1f}",
             "?" if p.spine_mils is None else f"{p.spine_mils:.0f}", "set" if inside else "practice"]
            for group, inside in ((matched.inside, True), (matched.outside, False))
            for p in group]  # fmt: skip
    spread = []
    if matched.mass_range_gr is not None:
        spread.append(f"{matched.mass_range_gr:.1f} gr lightest to heaviest")
    if matched.spine_range_mils is not None:
        spread.append(f"{matched.spine_range_mils:.0f} thousandths stiffest to weakest")
    verdict = "well matched" if matched.tight else "not a matched dozen yet: weigh and measure more"
    head = wrap(f"Cut table of what you weighed and measured{at}: {len(matched.inside)} that belong "
                f"together, {', '.join(spread)}; {verdict}")  # fmt: skip
    return head + "\n" + tabulate(rows, headers=["shaft", "gr", "spine", "for"], tablefmt="plain",
                                  disable_numparse=True,
                                  colalign=("left", "right", "right", "left"))  # fmt: skip
