"""The answer of `shop` as text in 80 columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tabulate import tabulate

from shaftwright.answers.shop import ShopAnswer
from shaftwright.answers.shop_chosen import ChosenKit
from shaftwright.answers.shop_final import FinalBuild
from shaftwright.answers.shop_own import OwnShaft
from shaftwright.answers.shop_two import TwoAnswer
from shaftwright.render.shop_rows import Row, kit_rows, list_row, rows_of
from shaftwright.render.shop_tests import cut_text, matched_text, trials_text
from shaftwright.render.shop_words import first_line, first_line_two, money, promise
from shaftwright.render.words import bullets, clean, short, tame, wrap
from shaftwright.rules.cautions import Caution
from shaftwright.units import inches, percent


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
        wrap(tame(first_line(answer))),
        wrap(tame(f"{rig.name}: {rig.bow.kind}, draw {inches(rig.archer.draw_length_in)}, "
                  f"for {answer.asked.purpose_rule.label}")),
    ]  # fmt: skip
    if answer.notes:
        parts.append("Mind:\n" + bullets(map(tame, answer.notes), "! "))
    if answer.own:
        parts.append(_own(answer.own))
    parts += [trials_text(answer.kit, rig.archer.hand), _kit_money(answer.kit, rows["test kit"])]
    if answer.final is not None:
        parts.append(_final(answer, answer.final, rows["final list"]))
    if answer.cut is not None:
        parts.append(cut_text(answer.cut))
    if answer.matched is not None:
        parts.append(matched_text(answer.matched, answer.cut))
    parts.append(_cautions(answer.cautions))
    return "\n\n".join(parts)


def _own(own: Iterable[OwnShaft]) -> str:
    lines = []
    for o in own:
        front = " + ".join(clean(p) for p in (o.point, o.insert, o.collar) if p)
        told = (f"{clean(o.shaft)} (you have {o.in_hand}): best at {inches(o.length_in)} with {front}, "
                f"chance {percent(o.chance_match)}; some cut of it matches with {percent(o.chance_owned)} "
                f"with parts you own, with {percent(o.chance_any)} with any of the stock")  # fmt: skip
        if o.to_buy:
            told += f"; to buy: {', '.join(clean(p) for p in o.to_buy)}"
        lines.append(tame(told))
    return "What you own already:\n" + bullets(lines)


def _kit_money(kit: ChosenKit, rows: list[Row], name: str = "Test kit") -> str:
    lines = [wrap(tame(f"{name}, {money(kit)}: {promise(kit)}")), _table(rows)]
    lines += _whys([row for row in rows if row["kind"] != "shaft"])
    if len(kit.curve) > 1:
        lines.append("Chance against money, the cheapest kit for each:")
        curve = [[percent(p.chance), f"{p.price:.2f}", tame(clean(", ".join((*p.shafts, *p.parts))))
                  or "what you own"] for p in kit.curve]  # fmt: skip
        lines.append(tabulate(curve, headers=["chance", "price", "to buy"], tablefmt="plain",
                              disable_numparse=True, colalign=("right", "right", "left"),
                              maxcolwidths=[None, None, 58]))  # fmt: skip
    for m in kit.marginals:
        told = tame(f"{m.change} {clean(m.shaft)}: {m.price:.2f}, chance {percent(m.chance)}")
        lines.append(wrap(told, "    ", "  "))
    return "\n".join(lines)


def _table(rows: list[Row]) -> str:
    cells = [
        [short(r["item"], 22), str(r["quantity"]), str(r["in_hand"]), _packs(r), _money(r["unit_price"]),
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


def _whys(rows: Sequence[Row]) -> list[str]:
    """Why each line is there, lines with the same reason together."""
    reasons: dict[str, list[str]] = {}
    for row in rows:
        names = reasons.setdefault(row["why"], [])
        if clean(row["item"]) not in names:
            names.append(clean(row["item"]))
    return [
        wrap(tame(f"{', '.join(names)}: {why}"), "    ", "  ") for why, names in reasons.items()
    ]


def _built(final: FinalBuild) -> str:
    b, want = final.build, final.want
    front = " + ".join(
        clean(i.item) for i in (want.head, want.insert, want.collar) if i is not None
    )
    return (
        f"{clean(want.shaft.first.item)} at {inches(float(b.length_in[0]))} with {front} "
        f"({b.total_gr[0]:.0f} gr, {final.gr_per_lb:.1f} gr/lb, {final.foc_pct:.0f} % front of centre)"
    )


def _final(answer: ShopAnswer, final: FinalBuild, rows: list[Row]) -> str:
    arrows = answer.wishes.arrows
    name = "Not advised, but what the limits leave" if answer.freed_by else "Final list"
    chance = percent(final.chance_match)
    lines = [wrap(tame(f"{name}, {answer.list_price:.2f}: {arrows} arrows of {_built(final)}"))]
    if answer.freed_by:
        told = f"This build matches with a chance of {chance}: do not buy it. What would free the list:"
        lines += [wrap(told, "  ", "  "), bullets(map(tame, answer.freed_by))]
    else:
        told = (f"As things stand this very build matches with a chance of {chance}: buy it only when "
                "the tests agree, and let them change length and point.")  # fmt: skip
        lines.append(wrap(told, "  ", "  "))
    if answer.unlike_choose:
        lines.append(wrap(tame(f"{answer.unlike_choose}."), "  ", "  "))
    lines += [_table(rows), *_whys(rows), f"Total with the test kit: {answer.total_price:.2f}"]
    lines += _unpriced(answer.unpriced)
    if answer.leftovers:
        left = ", ".join(f"{n} {clean(i)}" for i, n in answer.leftovers)
        lines.append(wrap(tame(f"Not counted: what the kit brings and the dozen can use ({left}). Enter it "
                               "as in hand once bought, and ask again."), "  ", "  "))  # fmt: skip
    return "\n".join(lines)


def _unpriced(names: Sequence[str]) -> list[str]:
    if not names:
        return []
    told = f"Without a price in this stock, and so not in the total: {clean(', '.join(names))}"
    return [wrap(tame(told), "  ", "  ")]


def two_text(answer: TwoAnswer) -> str:
    """One arrow for two, or a pair, as text.

    Parameters
    ----------
    answer : TwoAnswer
        The answer.

    Returns
    -------
    str
        Text in 80 columns.
    """
    parts = [wrap(tame(first_line_two(answer))), _windows(answer)]
    if answer.notes:
        parts.append("Mind:\n" + bullets(map(tame, answer.notes), "! "))
    labels = [f"{clean(q.rig.name)}, {q.purpose_rule.label}" for q in answer.asked]
    reads = labels if answer.longer is answer.asked[0] else labels[::-1]
    for i, kit in enumerate(answer.kits):
        where = labels[i] if len(answer.kits) > 1 else ""
        hand = answer.asked[i].rig.archer.hand
        parts.append(trials_text(kit, hand, where, [] if where else reads, i > 0))
        name = f"Test kit for {where}" if where else "Test kit for both"
        parts.append(_kit_money(kit, kit_rows(kit), name))
    if answer.finals:
        parts.append(_two_lists(answer, labels))
    for label, cut in zip(labels, answer.cuts, strict=False):
        parts.append(cut_text(cut, label))
    if answer.matched is not None:
        parts.append(matched_text(answer.matched, None))
    parts.append(_cautions(answer.cautions))
    return "\n\n".join(parts)


def _windows(answer: TwoAnswer) -> str:
    lines = [f"Windows at {inches(answer.window_at[0])}, {answer.window_at[1]:.0f} gr up front "
             "(a low number is stiff):"]  # fmt: skip
    for asked, window in zip(answer.asked, answer.windows, strict=True):
        told = (f"{asked.rig.name}, {asked.purpose_rule.label}: stiffest {window[0]:.0f}, "
                f"weakest {window[1]:.0f}")  # fmt: skip
        lines.append(wrap(tame(told), "    ", "  "))
    if answer.window is None:
        lines.append("  they do not meet")
    else:
        lines.append(f"  both: stiffest {answer.window[0]:.0f}, weakest {answer.window[1]:.0f}")
    lines.append(f"  chance that some spine suits both here: {percent(answer.chance_overlap)}")
    return "\n".join(lines)


def _two_lists(answer: TwoAnswer, labels: Sequence[str]) -> str:
    arrows = answer.wishes.arrows
    kind = f"{arrows} arrows for both" if answer.shared else f"{arrows} arrows of each"
    name = "Not advised, but what the limits leave" if answer.poor else "Final list"
    lines = [f"{name}, {answer.list_price:.2f}: {kind}"]
    for i, final in enumerate(answer.finals):
        if answer.shared and answer.one is not None:
            each = " and ".join(
                f"{percent(c)} {label}" for c, label in zip(answer.one.chances, labels, strict=True)
            )
            told = f"chance of a match {each}, both at once {percent(final.chance_match)}"
        else:
            told = f"{labels[i]}, chance of a match {percent(final.chance_match)}"
        lines.append(wrap(tame(f"{_built(final)}: {told}"), "    ", "  "))
    if answer.freed_by:
        lines.append(wrap(tame(f"The budget binds: {answer.freed_by}."), "  ", "  "))
    rows = [list_row(line) for line in answer.lines]
    lines += [_table(rows), *_whys(rows), f"Total with the test shafts: {answer.total_price:.2f}"]
    return "\n".join([*lines, *_unpriced(answer.unpriced)])


def _cautions(cautions: Iterable[Caution]) -> str:
    several = list(cautions)
    grave = [c.text for c in several if c.severity == "danger"]
    others = [c.name.replace("-", " ") for c in several if c.severity != "danger"]
    also = f"also {', '.join(others)}: read them with shaftwright explain RIG --cautions"
    return "Cautions:\n" + bullets(grave, "! ") + ("\n" + bullets([also]) if others else "")
