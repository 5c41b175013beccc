"""The shopping answer as text of 80 columns and as CSV: what to do, the kit, then the dozen."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from shaftwright.answers.shop.dozen import Matched
from shaftwright.answers.shop.kit import Kit, KitShaft
from shaftwright.answers.shop.lines import NOT_HERE, ListLine
from shaftwright.answers.shop.shopping import Shopping
from shaftwright.answers.shop.two import TwoShopping
from shaftwright.files.atomic import MARKS
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.render.words import bullets, closing, eighths, fives, opening, short, table, wrap
from shaftwright.units import cap, in_100, inches

HEADER = MARKS["list"].decode() + "\r\n"
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
_SMALL = ("sundry", "string")
_WIDE = 34


def shop_text(answer: Shopping, full: bool = False) -> str:
    """What to do, what the kit costs and holds, the dozen, in 80 columns."""
    parts = [opening(answer.question), *_body(answer, full)]
    if full:
        parts += _everything(answer)
    parts.append(closing(answer.question, full=full))
    return "\n\n".join(parts)


def two_text(answer: TwoShopping, full: bool = False) -> str:
    """Both bows: each one's next thing, then one list for both, or one for each."""
    parts = [wrap(f"{_label(one)}: {one.question.now.do}", "  ", "") for one in answer.both]
    if answer.shared:
        parts.append("One kit and one dozen serve both; what stands above would serve one alone.")
    for one in answer.both[: 1 if answer.shared else 2]:
        if not answer.shared:
            parts.append(f"For {_label(one)}")
        parts += _body(one, full)
        if full:
            parts += _everything(one)
    total = sum(one.total_price for one in answer.both)
    parts.append(f"All together {total:.2f}.\n{closing(answer.first.question, full=full)}")
    return "\n\n".join(parts)


def _label(one: Shopping) -> str:
    return f"{one.question.rig.name}, {one.question.purpose_rule.label}"


def _body(answer: Shopping, full: bool) -> list[str]:
    parts = []
    if answer.kit is not None:
        parts.append(_kit(answer, answer.kit))
    if answer.build is not None and answer.lines:
        parts.append(_dozen(answer))
    away = [line.item for line in answer.lines if NOT_HERE in line.why]
    if away:
        parts.append(wrap(f"Not in this shop: {', '.join(away)}.", "  ", ""))
    if answer.notes:
        parts.append(bullets(answer.notes if full else answer.notes[:2]))
    return parts


def _kit(answer: Shopping, kit: Kit) -> str:
    """Now: what the kit holds, and how it is shot."""
    shafts = f"{kit.pieces} shafts of one line" if kit.pieces > 1 else "one shaft"
    bought, chance = any(s.packs for s in answer.test_kit), in_100(kit.chance)
    cost = f"costs {answer.kit_price:.2f}" if bought else "is in hand"
    if kit.price is None and kit.to_buy:
        cost = "has no price here"
    lead = wrap(f"The test kit {cost}: {shafts}. {cap(chance)} that one of them tunes.")
    text = f"{lead}\n{_table('now', answer.test_kit)}"
    if answer.question.plan.next.stage == "tune":
        return text
    first = kit.shafts[0]
    cuts = (f"{s.item} {'cut to ' * s.cut_first}{eighths(s.length_in)} in" for s in kit.shafts)
    parts = f"{first.point} + {first.insert}" if first.insert else first.point
    how = f"Shoot them bare in this order with {parts}: {', '.join(cuts)}; beside {kit.companions}."
    return f"{text}\n{wrap(how, '  ', '')}"


def _dozen(answer: Shopping) -> str:
    """Once one is proven: the list, what is all in hand in one line."""
    build, arrows = answer.build, answer.wishes.arrows
    assert build is not None
    parts = " + ".join(part for part in (build.head, build.insert) if part)
    front = f"with {parts}" if parts else f"with {fives(build.front_gr)} gr up front"
    when = "" if answer.kit is None else ", as it looks now"
    many = f"{arrows}{' more' * bool(answer.made)} arrow{'s' * (arrows != 1)}"
    spare = sum(x.quantity for x in answer.lines if x.kind == "shaft") - arrows
    if spare > 0:
        many += f" and {spare} spare{'s' * (spare != 1)}"
    lead = wrap(f"{many} like the {build.shaft} at {eighths(build.length_in)} in {front} "
                f"({fives(build.total_gr)} gr, {build.gr_per_lb:.1f} gr/lb){when}:")  # fmt: skip
    there = [x for x in answer.lines if x.kind in _SMALL and not x.packs and NOT_HERE not in x.why]
    shown = [x for x in answer.lines if x not in there and NOT_HERE not in x.why]
    proven = answer.question.plan.next.stage in ("dozen", "done")
    name = "to buy" if proven else "once one is proven"
    text = f"{lead}\n{_table(name, shown)}"
    if there:
        text += "\n" + wrap(f"In hand already: {', '.join(x.item for x in there)}.", "  ", "")
    return text


def _table(name: str, lines: Sequence[ListLine]) -> str:
    rows = []
    for x in lines:
        packs = f"{x.packs} x {x.pack}" if x.pack > 1 else str(x.packs)
        price = "?" if x.price is None else f"{x.price:.2f}"
        told = [packs, price] if x.packs else ["", ""]
        rows.append([short(x.item, _WIDE), str(x.in_hand or ""), *told])
    whole = sum(x.price or 0.0 for x in lines)
    rows.append(["", "", "", f"{whole:.2f}"])
    return table(rows, [name, "have", "buy", "price"], "lrrr", "  ", "  ")


def _everything(answer: Shopping) -> list[str]:
    """What the short screen keeps back."""
    parts = []
    if answer.kit is not None:
        shafts = bullets(map(_shaft, answer.kit.shafts))
        parts.append(f"Test shafts, in the order they are shot:\n{shafts}")
    plan = answer.cut_plan
    if plan is not None:
        parts.append(wrap(
            f"Where to cut: sold {inches(plan.full_length_in)}, first shot at {inches(plan.first_shot_in)}, "
            f"likely to end near {inches(plan.expected_length_in)}; never under "
            f"{inches(plan.shortest_safe_in)}. From the point end, and only while it reads weak."
        ))  # fmt: skip
    if answer.lines:
        why = bullets(f"{x.quantity} {x.item}: {x.why}" for x in answer.lines)
        parts.append(f"Why each line:\n{why}")
    if answer.cut_table is not None:
        parts.append(_matched(answer.cut_table, answer.question.only_wood))
    if answer.unpriced:
        parts.append(wrap(f"No price here: {', '.join(answer.unpriced)}.", "  ", ""))
    parts.append("Cautions:\n" + bullets((c.text for c in answer.cautions), "! "))
    return parts


def _shaft(shaft: KitShaft) -> str:
    wood = f" ({shaft.wood_spine_lb:g} lb)" if shaft.wood_spine_lb else ""
    cut = f", cut to that first: longer {shaft.longer_is}" if shaft.cut_first else ""
    return (
        f"{shaft.quantity} {shaft.item}{wood} at {inches(shaft.length_in)}{cut}; "
        f"bare {fives(shaft.bare_gr)} gr; tunes by itself: {in_100(shaft.chance)}; "
        f"far too weak: {in_100(shaft.chance_far_too_weak)}"
    )


def _spine_span(matched: Matched, wood: bool) -> str:
    """How far apart the spines of a set lie, as they are marked."""
    if not wood:
        return f"{matched.spine_range_mils:.0f} thousandths of spine"
    pounds = [pounds_from_mils(p.spine_mils) for p in matched.inside if p.spine_mils is not None]
    return f"{max(pounds) - min(pounds):.1f} lb of spine"


def _matched(matched: Matched, wood: bool) -> str:
    spans = []
    if matched.mass_range_gr is not None:
        spans.append(f"{matched.mass_range_gr:.1f} gr")
    if matched.spine_range_mils is not None:
        spans.append(_spine_span(matched, wood))
    word = "a well matched set" if matched.tight else "more than a well matched dozen differs by"
    inside = ", ".join(piece.name for piece in matched.inside)
    text = f"Of those you weighed these belong together, within {' and '.join(spans)} ({word}): {inside}."
    if matched.outside:
        text += f" For practice: {', '.join(piece.name for piece in matched.outside)}."
    return wrap(text)


def safe_cell(text: str) -> str:
    """Text that no spreadsheet takes for a formula, on one line.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("MARSH-500"), safe_cell(" -2")
    ("'=1+1", 'MARSH-500', "' -2")
    """
    clean = "".join(c if c.isprintable() else " " for c in text)
    return f"'{clean}" if clean.lstrip().startswith(_RISKY) else clean


def sections(answer: Shopping | TwoShopping) -> list[tuple[str, tuple[ListLine, ...]]]:
    """The parts of a list by name."""
    found, apart = [], isinstance(answer, TwoShopping) and not answer.shared
    for one in _each(answer):
        whose = f" {_label(one)}" if apart else ""
        found += [(f"test kit{whose}", one.test_kit), (f"list{whose}", one.lines)]
    return [(name, lines) for name, lines in found if lines]


def _each(answer: Shopping | TwoShopping) -> tuple[Shopping, ...]:
    return (answer,) if isinstance(answer, Shopping) else answer.both


def csv_text(answer: Shopping | TwoShopping) -> str:
    """Kit and list as CSV: a header, a row a line, a total; a missing price is an empty cell."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    out.write(HEADER)
    for part, lines in sections(answer):
        for x in lines:
            money = ["" if price is None else f"{price:.2f}" for price in (x.unit_price, x.price)]
            writer.writerow([safe_cell(part), safe_cell(x.item), x.kind, x.quantity, x.packs, x.pack, *money,
                             x.in_hand, safe_cell(x.why)])  # fmt: skip
    total = sum(one.total_price for one in _each(answer))
    writer.writerow(["total", "", "", "", "", "", "", f"{total:.2f}", "", ""])
    return out.getvalue()
