"""The lines of a shopping answer as plain rows, and the whole answer as JSON."""

from __future__ import annotations

from typing import Any, TypedDict

from shaftwright.answers.shop import ShopAnswer
from shaftwright.answers.shop_chosen import ChosenKit, KitLine, TrialShaft
from shaftwright.answers.shop_cut import CutPlan, Matched
from shaftwright.answers.shop_final import FinalBuild
from shaftwright.answers.shop_list import ListLine
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_two import TwoAnswer
from shaftwright.render.shop_words import first_line, first_line_two
from shaftwright.rules.cautions import Caution


class Row(TypedDict):
    """One line to buy or to bring."""

    item: str
    kind: str
    quantity: int
    packs: int
    pack: int
    unit_price: float | None
    price: float | None
    in_hand: int
    why: str


def rows_of(answer: ShopAnswer | TwoAnswer) -> list[tuple[str, list[Row]]]:
    """Every part of the list with its rows, test kits first."""
    if isinstance(answer, TwoAnswer):
        parts = [
            (name, kit_rows(kit)) for name, kit in zip(_kit_names(answer), answer.kits, strict=True)
        ]
        return [*parts, ("final list", [list_row(line) for line in answer.lines])]
    parts = [("test kit", kit_rows(answer.kit))]
    if answer.final is not None:
        parts.append(("final list", [list_row(line) for line in answer.final.lines]))
    return parts


def _kit_names(answer: TwoAnswer) -> list[str]:
    if len(answer.kits) < 2:
        return ["test kit"] * len(answer.kits)
    return [f"test kit {q.rig.name} {q.purpose}" for q in answer.asked]


def kit_rows(kit: ChosenKit) -> list[Row]:
    """The lines of a test kit as plain rows."""
    return [_kit_row(line) for line in kit.lines]


def list_row(line: ListLine) -> Row:
    """A line of the final list as a plain row."""
    return Row(item=line.item, kind=line.kind, quantity=line.quantity, packs=line.packs, pack=line.pack,
               unit_price=line.unit_price, price=_money(line.price), in_hand=line.in_hand,
               why=line.why)  # fmt: skip


def _kit_row(line: KitLine) -> Row:
    return Row(item=line.item.item, kind=line.kind, quantity=line.quantity, packs=line.packs,
               pack=line.item.pack, unit_price=line.unit_price, price=_money(line.price),
               in_hand=line.in_hand, why=line.why)  # fmt: skip


def _money(price: float | None) -> float | None:
    return None if price is None else round(price, 2)


def trial_dict(order: int, trial: TrialShaft) -> dict[str, Any]:
    """One test shaft with the build it is first shot as."""
    return {
        "order": order, "shaft": trial.shaft, "spine_mils": trial.spine_mils, "length_in": trial.length_in,
        "point": trial.point, "insert": trial.insert, "collar": trial.collar, "nock": trial.nock,
        "front_gr": trial.front_gr, "bare_gr": trial.bare_gr, "distance_yd": shop_setting("test_distance_yd"),
        "expect": trial.expected, "expect_elsewhere": list(trial.elsewhere),
        "chance_weak": trial.chance_weak, "chance_straight": trial.chance_match,
        "chance_stiff": trial.chance_stiff, "stiffness_share": trial.stiffness_share,
        "chance_far_too_weak": trial.chance_far_too_weak, "safer_length_in": trial.safer_length_in,
        "chance_tunable_alone": trial.alone, "ladder": list(trial.ladder),
        "ladder_gr": list(trial.ladder_gr),
    }  # fmt: skip


def shop_dict(answer: ShopAnswer) -> dict[str, Any]:
    """The answer as one JSON document.

    Parameters
    ----------
    answer : ShopAnswer
        The answer.

    Returns
    -------
    dict
        Plain data, `format: 1`. `total_price` is the sum of the prices of `test_kit` and `list`.
    """
    kit = answer.kit
    return {
        "format": 1,
        "rig": answer.asked.rig.name,
        "purpose": answer.asked.purpose,
        "advice": first_line(answer),
        "test_kit": kit_rows(kit),
        **kit_dict(kit),
        "build": None if answer.final is None else build_dict(answer.final),
        "list_advised": answer.final is not None and not answer.freed_by,
        "what_would_free_it": list(answer.freed_by),
        "unlike_choose": answer.unlike_choose,
        "list": [] if answer.final is None else [list_row(line) for line in answer.final.lines],
        "list_price": round(answer.list_price, 2),
        "total_price": round(answer.total_price, 2),
        "without_price": list(answer.unpriced),
        "left_over_from_kit": [{"item": i, "pieces": n} for i, n in answer.leftovers],
        "cut_plan": None if answer.cut is None else cut_dict(answer.cut),
        "cut_table": None if answer.matched is None else _matched_dict(answer.matched, answer.cut),
        "own": [{**o.__dict__, "to_buy": list(o.to_buy)} for o in answer.own],
        "cautions": caution_dicts(answer.cautions),
        "warnings": list(answer.notes),
    }  # fmt: skip


def kit_dict(kit: ChosenKit) -> dict[str, Any]:
    """What a test kit promises and costs, and how it is shot."""
    return {
        "test_order": [trial_dict(i, t) for i, t in enumerate(kit.shafts, 1)],
        "chance_of_success": kit.chance,
        "chance_asked": kit.asked_chance,
        "chance_were_doubts_larger": kit.chance_were_wider,
        "test_kit_price": round(kit.price, 2),
        "test_kit_reckoned": round(kit.reckoned, 2),
        "proven_cheapest": kit.proven,
        "least_price_proven": kit.least_price,
        "chance_of_whole_stock": kit.reachable,
        "curve": [{"chance": p.chance, "price": round(p.price, 2), "shafts_bought": list(p.shafts),
                   "parts_bought": list(p.parts)} for p in kit.curve],
        "one_shaft_more_or_less": [{"change": m.change, "shaft": m.shaft, "price": round(m.price, 2),
                                    "chance": m.chance} for m in kit.marginals],
    }  # fmt: skip


def build_dict(final: FinalBuild) -> dict[str, Any]:
    """The build of a list."""
    b, want = final.build, final.want
    return {
        "shaft": want.shaft.first.item, "spine_mils": want.shaft.facts.spine_mils,
        "length_in": float(b.length_in[0]), "head": want.head.item,
        "insert": want.insert.item if want.insert else "", "collar": want.collar.item if want.collar else "",
        "front_gr": float(b.front_gr[0]), "total_gr": float(b.total_gr[0]), "gr_per_lb": final.gr_per_lb,
        "foc_pct": final.foc_pct, "chance_match": final.chance_match, "merit": final.merit,
    }  # fmt: skip


def cut_dict(cut: CutPlan) -> dict[str, Any]:
    """The cut plan."""
    return {
        "full_length_in": cut.full_in, "expected_length_in": cut.expected_in,
        "shortest_safe_in": cut.shortest_safe_in, "steps": [step.__dict__ for step in cut.steps],
    }  # fmt: skip


def _matched_dict(matched: Matched, cut: CutPlan | None) -> dict[str, Any]:
    length = None if cut is None else cut.expected_in
    rows = [{"item": p.name, "mass_gr": p.mass_gr, "spine_mils": p.spine_mils, "in_set": True,
             "length_in": length} for p in matched.inside]  # fmt: skip
    rows += [{"item": p.name, "mass_gr": p.mass_gr, "spine_mils": p.spine_mils, "in_set": False,
              "length_in": None} for p in matched.outside]  # fmt: skip
    return {"rows": rows, "mass_range_gr": matched.mass_range_gr,
            "spine_range_mils": matched.spine_range_mils, "tight": matched.tight}  # fmt: skip


def two_dict(answer: TwoAnswer) -> dict[str, Any]:
    """One arrow for two, or a pair, as one JSON document.

    Parameters
    ----------
    answer : TwoAnswer
        The answer.

    Returns
    -------
    dict
        Plain data, `format: 1`. Of two kits `chance_of_success` is the lower promise; `test_kit` holds
        the rows of both, and `total_price` is the sum of the prices of `test_kit` and `list`.
    """
    one = answer.one
    cuts = [cut_dict(cut) for cut in answer.cuts]
    return {
        "format": 1,
        "rigs": [q.rig.name for q in answer.asked],
        "purposes": [q.purpose for q in answer.asked],
        "advice": first_line_two(answer),
        "windows": [{"low": w[0], "high": w[1]} for w in answer.windows],
        "window_at": {"length_in": answer.window_at[0], "front_gr": answer.window_at[1]},
        "overlap": None if answer.window is None else {"low": answer.window[0], "high": answer.window[1]},
        "chance_overlap": answer.chance_overlap,
        "one_arrow_advised": answer.shared,
        "one_arrow": None if one is None else {
            "shaft": one.build.name(int(one.build.shaft[0])), "length_in": float(one.build.length_in[0]),
            "front_gr": float(one.build.front_gr[0]), "chance_both": one.chance_both,
            "chances": list(one.chances)},
        "builds": [build_dict(f) for f in answer.finals],
        "same_shaft": answer.same_shaft,
        "test_kit": [row for kit in answer.kits for row in kit_rows(kit)],
        "test_kits": [{"for": name, "test_kit": kit_rows(kit), **kit_dict(kit)}
                      for name, kit in zip(_kit_names(answer), answer.kits, strict=True)],
        "chance_of_success": min((kit.chance for kit in answer.kits), default=None),
        "list_advised": bool(answer.finals) and not answer.poor,
        "what_would_free_it": [answer.freed_by] if answer.freed_by else [],
        "list": [list_row(line) for line in answer.lines],
        "list_price": round(answer.list_price, 2),
        "total_price": round(answer.total_price, 2),
        "without_price": list(answer.unpriced),
        "cut_plan": cuts[0] if cuts else None,
        "cut_plans": cuts,
        "cut_table": None if answer.matched is None else _matched_dict(answer.matched, None),
        "cautions": caution_dicts(answer.cautions),
        "warnings": list(answer.notes),
    }  # fmt: skip


def caution_dicts(cautions: tuple[Caution, ...]) -> list[dict[str, Any]]:
    """Cautions as plain data."""
    return [{"name": c.name, "severity": c.severity, "text": c.text, "why": c.why, "do": c.do,
             "basis": c.basis, "source": list(c.source)} for c in cautions]  # fmt: skip
