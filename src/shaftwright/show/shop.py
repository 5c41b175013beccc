"""The answer of `shop` as text in 80 columns."""

from __future__ import annotations

from collections.abc import Iterable

from tabulate import tabulate

from shaftwright.advise.shop import ShopAnswer
from shaftwright.advise.shop_chosen import ChosenKit, TrialShaft
from shaftwright.advise.shop_cut import CutPlan, Matched
from shaftwright.advise.shop_final import FinalBuild
from shaftwright.advise.shop_own import OwnShaft
from shaftwright.advise.shop_rules import shop_setting
from shaftwright.advise.shop_two import TwoAnswer
from shaftwright.quantities import inches, percent
from shaftwright.rulebook.cautions import Caution
from shaftwright.rulebook.purposes import setting
from shaftwright.show.shop_rows import Row, list_row, rows_of
from shaftwright.show.shop_words import first_line, first_line_two, money
from shaftwright.show.words import bullets, clean, wrap


def shop_text(answer: ShopAnswer) -> str:
    """The whole answer, the advice first.

    Parameters
    ----------
    answer : ShopAnswer
        The answer.

    Returns
    -------
    str
        Text.
    """
    rows = dict(rows_of(answer))
    rig = answer.asked.rig
    parts = [
        wrap(first_line(answer)),
        wrap(f"{rig.name}: {rig.bow.kind}, draw {inches(rig.archer.draw_length_in)}, "
             f"for {answer.asked.purpose_rule.label}"),
    ]  # fmt: skip
    if answer.notes:
        parts.append("Mind:\n" + bullets(answer.notes, "! "))
    if answer.own:
        parts.append(_own(answer.own))
    parts += [_trials(answer.kit, rig.archer.hand), _kit_money(answer.kit, rows["test kit"])]
    if answer.final is not None:
        parts.append(_final(answer, answer.final, rows["final list"]))
    if answer.cut is not None:
        parts.append(_cut(answer.cut))
    if answer.matched is not None:
        parts.append(_matched(answer.matched, answer.cut))
    parts.append(_cautions(answer.cautions))
    return "\n\n".join(parts)


def _own(own: Iterable[OwnShaft]) -> str:
    lines = []
    for o in own:
        front = " + ".join(clean(p) for p in (o.point, o.insert, o.collar) if p)
        told = (f"{clean(o.shaft)} (you have {o.in_hand}): best at {inches(o.length_in)} with {front}, "
                f"chance {percent(o.chance_match)} as it stands; with parts you own some cut matches with "
                f"{percent(o.chance_owned)}, with any part of the stock {percent(o.chance_any)}")  # fmt: skip
        if o.to_buy:
            told += f"; to buy: {', '.join(clean(p) for p in o.to_buy)}"
        lines.append(told)
    return "What you own already:\n" + bullets(lines)


def _trials(kit: ChosenKit, hand: str) -> str:
    yards = shop_setting("test_distance_yd")
    head = f"Test shafts at {yards:g} yd, bare, in this order, each at full length:"
    rows = [
        [str(i), clean(t.shaft)[:18], f"{t.spine_mils:.0f}", inches(t.length_in), _front(t),
         f"{t.bare_gr:.0f}", _expect(t), percent(t.alone)]
        for i, t in enumerate(kit.shafts, 1)
    ]  # fmt: skip
    table = tabulate(
        rows, headers=["", "shaft", "spine", "length", "with", "gr", "will read", "alone"],
        tablefmt="plain", disable_numparse=True,
        colalign=("right", "left", "right", "right", "left", "right", "left", "right"),
        maxcolwidths=[None] * 6 + [16, None],
    )  # fmt: skip
    ladders = dict.fromkeys(", ".join(t.ladder) for t in kit.shafts if len(t.ladder) > 1)
    notes = [
        "stiffest first, with the lightest point that keeps the bare arrow heavy enough; when one reads "
        "weak and leaves marks on bow or shaft, shoot no weaker one",
        "alone: chance that this shaft by itself can be tuned with the points of the kit",
        *(f"then up the ladder of points: {clean(ladder)}" for ladder in ladders),
        "weak is what length is for: cut a quarter inch at a time from the point end, see the cut plan",
    ]
    if hand in ("right", "left"):
        side = "right" if hand == "right" else "left"
        notes.append(
            f"drawn with the {hand} hand, a weak bare shaft lands {side} of the fletched ones"
        )
    return head + "\n" + table + "\n" + _with_line(bullets(_too_weak(kit), "! ")) + bullets(notes)


def _with_line(text: str) -> str:
    return f"{text}\n" if text else ""


def _too_weak(kit: ChosenKit) -> list[str]:
    """What to mind before shafts that may be far too weak uncut are shot; stiffest first."""
    told = []
    for i, t in enumerate(kit.shafts):
        if t.chance_far_too_weak <= setting("far_too_weak_chance"):
            continue
        before = (
            f"shoot it uncut only after a stiffer one has read stiff or straight, else cut it to "
            f"{inches(t.safer_length_in)} first" if i
            else f"if you have no stiffer arrow that flies, cut it to {inches(t.safer_length_in)} first"
        )  # fmt: skip
        told.append(
            f"{clean(t.shaft)} uncut may be far too weak to be shot "
            f"(chance {percent(t.chance_far_too_weak)}): "
            f"{before}"
        )
    return told


def _front(trial: TrialShaft) -> str:
    return " + ".join(clean(p)[:14] for p in (trial.point, trial.insert, trial.collar) if p)


def _expect(trial: TrialShaft) -> str:
    word = trial.expected.replace("_", " ")
    return f"{word}; that is intended" if "weak" in word else word


def _kit_money(kit: ChosenKit, rows: list[Row]) -> str:
    proven = "no cheaper kit does it" if kit.proven else f"proven least price {kit.least_price:.2f}"
    lines = [
        wrap(
            f"Test kit, {money(kit)}: chance {kit.chance:.1%} that one of its shafts can be tuned "
            f"(asked {kit.asked_chance:.1%}; {proven})"
        ),
        _table(rows),
    ]
    lines += [wrap(f"{clean(row['item'])}: {row['why']}", "    ", "  ") for row in rows]
    if kit.curve:
        lines.append("Chance against money, the cheapest kit for each:")
        curve = [[percent(p.chance), f"{p.price:.2f}", clean(", ".join((*p.shafts, *p.parts))) or
                  "what you own"] for p in kit.curve]  # fmt: skip
        lines.append(tabulate(curve, headers=["chance", "price", "to buy"], tablefmt="plain",
                              disable_numparse=True, colalign=("right", "right", "left"),
                              maxcolwidths=[None, None, 58]))  # fmt: skip
    for m in kit.marginals:
        lines.append(
            wrap(
                f"{m.change} {clean(m.shaft)}: {m.price:.2f}, chance {percent(m.chance)}",
                "    ",
                "  ",
            )
        )
    return "\n".join(lines)


def _table(rows: list[Row]) -> str:
    cells = [
        [clean(r["item"])[:22], str(r["quantity"]), str(r["in_hand"]), _packs(r), _money(r["unit_price"]),
         _money(r["price"])]
        for r in rows
    ]  # fmt: skip
    return tabulate(cells, headers=["item", "need", "have", "buy", "a pack", "price"], tablefmt="plain",
                    disable_numparse=True, colalign=("left", *["right"] * 5))  # fmt: skip


def _packs(row: Row) -> str:
    if not row["packs"]:
        return "-"
    return f"{row['packs']}" if row["pack"] == 1 else f"{row['packs']} x {row['pack']}"


def _money(price: float | None) -> str:
    return "?" if price is None else f"{price:.2f}"


def _final(answer: ShopAnswer, final: FinalBuild, rows: list[Row]) -> str:
    b, want = final.build, final.want
    front = " + ".join(
        clean(i.item) for i in (want.head, want.insert, want.collar) if i is not None
    )
    lines = [
        wrap(f"Final list, {answer.list_price:.2f}: {answer.wishes.arrows} arrows of "
             f"{clean(want.shaft.first.item)} at {inches(float(b.length_in[0]))} with {front} "
             f"({b.total_gr[0]:.0f} gr, {final.gr_per_lb:.1f} gr/lb, {final.foc_pct:.0f} % front of centre)"),
        wrap("As things stand this very build matches with a chance of "
             f"{percent(final.chance_match)}: buy it "
             "only when the tests agree, and let them change length and point.", "  ", "  "),
    ]  # fmt: skip
    if answer.cheaper_than_best > 1e-9:
        lines.append(wrap(f"Taken for its price among builds as good: {answer.cheaper_than_best:.3f} of 1 "
                          "under the best on match, mass, balance and robustness.", "  ", "  "))  # fmt: skip
    lines.append(_table(rows))
    lines += [wrap(f"{clean(row['item'])}: {row['why']}", "    ", "  ") for row in rows]
    lines.append(f"Total with the test kit: {answer.total_price:.2f}")
    if answer.unpriced:
        lines.append(wrap(f"Without a price in this stock, and so not in the total: "
                          f"{clean(', '.join(answer.unpriced))}", "  ", "  "))  # fmt: skip
    if answer.leftovers:
        left = ", ".join(f"{n} {clean(i)}" for i, n in answer.leftovers)
        lines.append(wrap(f"Not counted: what the kit brings and the dozen can use ({left}). Enter it as "
                          "in hand once bought, and ask again.", "  ", "  "))  # fmt: skip
    return "\n".join(lines)


def _cut(cut: CutPlan) -> str:
    rows = [
        [inches(s.length_in), percent(s.chance_weak), percent(s.chance_match), percent(s.chance_stiff),
         ("<- " if s.length_in <= cut.shortest_safe_in + 1e-9 else "") + s.note]
        for s in cut.steps
    ]  # fmt: skip
    table = tabulate(rows, headers=["length", "weak", "straight", "stiff", "do"], tablefmt="plain",
                     disable_numparse=True, colalign=("right",) * 4 + ("left",),
                     maxcolwidths=[None] * 4 + [42])  # fmt: skip
    head = wrap(f"Cut plan with the final front, from the point end; expected "
                f"{inches(cut.expected_in)}, never under {inches(cut.shortest_safe_in)}:")  # fmt: skip
    return f"{head}\n{table}"


def _matched(matched: Matched, cut: CutPlan | None) -> str:
    at = f", all to {inches(cut.expected_in)}" if cut is not None else ""
    rows = [[clean(p.name)[:24], "?" if p.mass_gr is None else f"{p.mass_gr:.1f}",
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


def two_text(answer: TwoAnswer) -> str:
    """One arrow for two, as text.

    Parameters
    ----------
    answer : TwoAnswer
        The answer.

    Returns
    -------
    str
        Text in 80 columns.
    """
    lines = [f"Windows at {inches(answer.window_at[0])}, {answer.window_at[1]:.0f} gr up front "
             "(a low number is stiff):"]  # fmt: skip
    for asked, window in zip(answer.asked, answer.windows, strict=True):
        lines.append(f"  {clean(asked.rig.name)}, {asked.purpose_rule.label}: stiffest {window[0]:.0f}, "
                     f"weakest {window[1]:.0f}")  # fmt: skip
    if answer.window is None:
        lines.append("  they do not meet")
    else:
        lines.append(f"  both: stiffest {answer.window[0]:.0f}, weakest {answer.window[1]:.0f}")
    lines.append(f"  chance that some spine suits both here: {percent(answer.chance_overlap)}")
    parts = [wrap(first_line_two(answer)), "\n".join(lines)]
    for final in [answer.one_final] if answer.one_final else list(answer.pair or ()):
        b, want = final.build, final.want
        front = " + ".join(clean(i.item) for i in (want.head, want.insert, want.collar) if i)
        told = f"{clean(want.shaft.first.item)} at {inches(float(b.length_in[0]))} with {front}"
        parts.append(
            wrap(
                f"{told}: {final.gr_per_lb:.1f} gr/lb, chance of a match {percent(final.chance_match)}"
            )
        )
    parts.append(_table([list_row(line) for line in answer.lines]))
    parts.append(f"Total: {answer.total_price:.2f}")
    parts.append(_cautions(answer.cautions))
    return "\n\n".join(parts)


def _cautions(cautions: Iterable[Caution]) -> str:
    several = list(cautions)
    grave = [c.text for c in several if c.severity == "danger"]
    others = [c.text for c in several if c.severity != "danger"]
    return "Cautions:\n" + bullets(grave, "! ") + ("\n" + bullets(others) if others else "")
