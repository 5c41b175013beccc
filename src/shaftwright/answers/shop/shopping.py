"""What exactly goes on the list: the test kit, then the dozen of its best arrow or of the straight one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from shaftwright.answers.arrows.makeable import rows_like
from shaftwright.answers.arrows.shot import build_key
from shaftwright.answers.choose.candidates import Candidates, enumerate_builds, no_shafts
from shaftwright.answers.choose.rank import rank
from shaftwright.answers.plan.prove import made_dozen
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.answers.shop.dozen import Matched, dozen_for, pieces_of, tightest_set, wrap_of
from shaftwright.answers.shop.kit import Kit, kit_for
from shaftwright.answers.shop.lines import SAME_IN, ListLine, cheapest_packs, twin_head
from shaftwright.answers.shop.musts import Must, biting, within
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import chance_match
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.limits import ARROWS, BREAKAGE, BUDGET, KIT_CHANCE, number, refuse
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BareShaft, Broadhead, BuildSpec
from shaftwright.records.stock import Stock
from shaftwright.result import Result, kept
from shaftwright.rules.sections import Caution, cautions_for
from shaftwright.units import series

PROVING = ("prove", "dozen", "done")


@dataclass(frozen=True)
class Wishes:
    """What the archer asks of a list."""

    #: 0 for the test kit alone
    arrows: int = 12
    #: that the kit holds a shaft that can be tuned; None takes the usual one
    chance: float | None = None
    #: broken or lost [%]
    breakage_pct: float | None = None
    #: most that kit and list may cost together
    budget: float | None = None
    musts: tuple[Must, ...] = ()
    any_line: bool = False
    wraps: bool = False

    def __post_init__(self) -> None:
        """Refuse what no list can be for."""
        refuse(
            number("arrows", self.arrows, ARROWS), number("chance", self.chance, KIT_CHANCE),
            number("breakage", self.breakage_pct, BREAKAGE), number("budget", self.budget, BUDGET),
        )  # fmt: skip


@dataclass(frozen=True)
class DozenBuild(Result):
    """The arrow that the list is for."""

    shaft: str
    spine_mils: float = field(metadata=kept(digits=1))
    length_in: float
    head: str
    insert: str
    front_gr: float = field(metadata=kept(digits=1))
    total_gr: float = field(metadata=kept(digits=1))
    gr_per_lb: float = field(metadata=kept(digits=2))
    #: that it suits as it stands; None for an arrow that was shot
    chance_match: float | None
    spec: BuildSpec = field(metadata=kept(json=False))


@dataclass(frozen=True)
class CutPlan(Result):
    """From the first shot to the final length."""

    full_length_in: float
    first_shot_in: float
    expected_length_in: float
    shortest_safe_in: float


@dataclass(frozen=True)
class Shopping(Answer):
    """Everything the list says."""

    wishes: Wishes = field(metadata=kept(json=False))
    #: None once something flies straight
    kit: Kit | None
    build: DozenBuild | None
    #: arrows of the dozen that are made and still there; the list is for those beyond them
    made: int
    lines: tuple[ListLine, ...] = field(metadata=kept(json="list"))
    cut_plan: CutPlan | None
    #: the tightest set of the weighed or measured shafts
    cut_table: Matched | None
    cautions: tuple[Caution, ...]
    #: what is missing from the shop, and what was bent to give an answer
    notes: tuple[str, ...] = field(metadata=kept(json=False))

    @property
    def test_kit(self) -> tuple[ListLine, ...]:
        """The kit's lines."""
        return () if self.kit is None else (*self.kit.shafts, *self.kit.parts)

    @property
    def kit_price(self) -> float:
        """Stated prices of the kit."""
        return _total(self.test_kit)

    @property
    def list_price(self) -> float:
        """Stated prices of the list."""
        return _total(self.lines)

    @property
    def total_price(self) -> float:
        """Kit and list together."""
        return round(self.kit_price + self.list_price, 2)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Lines to buy that have no price."""
        lines = (*self.test_kit, *self.lines)
        return tuple(dict.fromkeys(line.item for line in lines if line.price is None))

    def to_dict(self) -> dict[str, Any]:
        """With the kit's lines and the sums."""
        kit = self.kit
        return super().to_dict() | {
            "test_kit": [line.to_dict() for line in self.test_kit],
            "chance_of_success": None if kit is None else round(kit.chance, 4),
            "test_kit_price": self.kit_price, "list_price": self.list_price,
            "total_price": self.total_price, "without_price": list(self.unpriced),
            "warnings": [*self.notes, *self.question.warnings],
        }  # fmt: skip


def shopping(scenario: Scenario, wishes: Wishes | None = None) -> Shopping:
    """The test kit, then the dozen; once something flies straight, the dozen like it and no kit."""
    wishes = wishes or Wishes()
    stage = scenario.plan.next.stage
    proven = _proven(scenario) if stage in PROVING else None
    if proven is not None:
        made = left_of_dozen(scenario, proven)
        rows, more = rows_like(scenario.shop, proven), max(wishes.arrows - made, 0)
        name = proven.shaft or (rows[0].item if rows else f"spine {proven.spine_mils or 0:g}")
        shot = resolve_build(proven, scenario.stock, "notebook")
        build = _told(scenario, shot, proven, name)
        lines = dozen(scenario, proven, replace(wishes, arrows=more), made)
        cost = _reckoned(lines)
        if wishes.budget is not None and cost > wishes.budget + 1e-9:
            raise NoAnswer(
                f"the budget of {wishes.budget:.2f} binds: the list for the arrow that flies straight is "
                f"{cost:.2f}; that would do, or fewer --arrows"
            )
        told = [f"{made} of them are made"] if made and lines else []
        if made and not more:
            told += [f"{made} of them are made: nothing to buy; for 12 more, --arrows {made + 12}"]
        if wishes.musts:
            told += ["the list is for the arrow that flies straight, whatever --must says"]
        wishes = replace(wishes, arrows=more)
        return finished(scenario, wishes, None, build, lines, told, made)
    least = scenario.purpose_rule.gr_per_lb.low
    wishes = replace(wishes, musts=biting(wishes.musts, scenario.shop, least))
    now, kit = _bought_now(scenario), kit_of(scenario, wishes)
    if kit is None:
        wait = now or ("nothing to buy while one is being tuned",)
        notes = (f"{wait[0]}; the list comes with a straight one",) if stage == "tune" else ()
        return finished(scenario, wishes, None, None, (), notes)
    now = (*now, *_beside_plan(scenario, wishes, kit))
    if wishes.arrows <= 0:
        return finished(scenario, wishes, kit, None, (), (*now, *kit.notes))
    build, lines, bent = _pick(scenario, kit, wishes)
    return finished(scenario, wishes, kit, build, lines, (*now, *kit.notes, *bent))


def _beside_plan(scenario: Scenario, wishes: Wishes, kit: Kit) -> tuple[str, ...]:
    """That the kit for these wishes is another than the plan's."""
    then = scenario.plan.next
    free = Wishes(wishes.arrows, breakage_pct=wishes.breakage_pct, wraps=wishes.wraps)
    nothing = then.stage in ("set_up", "measure") or (then.stage == "tune" and not kit.to_buy)
    if nothing or wishes == free:
        return ()
    same = {(b.item, b.quantity) for b in then.buy} == set(kit.to_buy)
    return () if same else ("what to do now goes by the whole stock; this kit keeps your limits",)


def _bought_now(scenario: Scenario) -> tuple[str, ...]:
    """What the plan asks for while one is being tuned."""
    then, shelf = scenario.plan.next, scenario.shop.by_name
    if then.stage != "tune" or not then.buy:
        return ()
    rows = [shelf.get(b.item) for b in then.buy]
    prices = [
        cheapest_packs([row], b.quantity)[0]
        for row, b in zip(rows, then.buy, strict=True) if row is not None and row.price is not None
    ]  # fmt: skip
    cost = f" for {math.fsum(prices):.2f}" if len(prices) == len(then.buy) else ""
    return (
        f"to buy now, as next says: {series([f'{b.quantity} {b.item}' for b in then.buy])}{cost}",
    )


def finished(
    scenario: Scenario, wishes: Wishes, kit: Kit | None, build: DozenBuild | None,
    lines: tuple[ListLine, ...], notes: Sequence[str], made: int = 0,
) -> Shopping:  # fmt: skip
    """An answer from its parts."""
    stock = scenario.shop
    names = [item.item for item in stock.of_kind("shaft")]
    shafts = [s.item for s in kit.shafts] if kit is not None else []
    shafts += [build.shaft] if build is not None else []
    materials = {str(stock.by_name[s].material) for s in shafts if s in stock.by_name}
    batch = pieces_of(scenario.entries, names)
    return Shopping(
        scenario, wishes, kit, build, made, lines,
        _cut_plan(scenario, kit, build if lines else None),
        tightest_set(batch, wishes.arrows or Wishes.arrows),
        tuple(cautions_for(scenario.rig, scenario.purpose, materials or {"carbon"})),
        tuple(dict.fromkeys(filter(None, (no_shafts(stock), *notes)))),
    )  # fmt: skip


def kit_of(scenario: Scenario, wishes: Wishes) -> Kit | None:
    """The kit to buy; while something in hand is being tuned, what is there of one, and nothing to buy."""
    then = scenario.plan.next

    def kit(**more: Any) -> Kit:
        return kit_for(scenario, wishes.chance, wishes.any_line, wishes.musts, **more)

    try:
        if then.stage != "tune":
            return kit(budget=wishes.budget)
        return None if then.shaft is None else kit(own=then.shaft)
    except NoAnswer:
        if then.stage == "tune":
            return kit(budget=wishes.budget) if wishes.musts else None
        # the plan itself says what to look for, where nothing of this shop can be right
        if wishes != Wishes(wishes.arrows):
            raise
        return None


def _reckoned(lines: Sequence[ListLine]) -> float:
    """What a list costs, to weigh it by."""
    return math.fsum(line.reckoned for line in lines)


def _total(lines: Sequence[ListLine]) -> float:
    return round(math.fsum(line.price or 0.0 for line in lines), 2)


def dozen(
    scenario: Scenario, spec: BuildSpec, wishes: Wishes, made: int = 0, kit: Kit | None = None
) -> tuple[ListLine, ...]:
    """The list for so many arrows like one, as the archer wishes it, beside those made and the kit."""
    return dozen_for(scenario, spec, wishes.arrows, wishes.breakage_pct, wishes.wraps, made, kit)


def left_of_dozen(scenario: Scenario, spec: BuildSpec) -> int:
    """How many arrows of the dozen that was noted as made are still there, where it is of this arrow."""
    found = made_dozen(scenario.where)
    if found is None or build_key(spec, resolve_build(spec, scenario.stock)) != found[1].key:
        return 0
    least = (spec.length_in or 0.0) - SAME_IN
    names = {row.item for row in rows_like(scenario.shop, spec)} | {spec.shaft}
    there = sum(p.shaft in names and p.length_in >= least for p in scenario.held.pieces)
    return min(found[0].made, there) if spec.shaft else found[0].made


def _proven(scenario: Scenario) -> BuildSpec | None:
    """The arrow that leads, as it was noted."""
    shot = next((s for s in scenario.plan.shot if s.period == 0), None)
    if shot is None:
        return None
    for entry, line in zip(scenario.entries, scenario.lines, strict=False):
        if isinstance(entry, BareShaft | Broadhead) and line in shot.lines:
            length = entry.build.length_in or shot.length_in
            return entry.build.model_copy(update={"length_in": length})
    return None


def _told(
    scenario: Scenario, build: Builds, spec: BuildSpec, shaft: str, chance: float | None = None
) -> DozenBuild:
    total_gr = float(build.total_gr[0])
    return DozenBuild(
        shaft, float(build.spine_mils[0]), float(build.length_in[0]), spec.point or spec.broadhead or "",
        spec.insert or "", float(build.front_gr[0]), total_gr, total_gr / scenario.own_lb, chance, spec,
    )  # fmt: skip


def _pick(
    scenario: Scenario, kit: Kit, wishes: Wishes
) -> tuple[DozenBuild, tuple[ListLine, ...], tuple[str, ...]]:
    """The best arrow of the kit's shafts, points and insert; under a budget the best it pays for."""
    paid, budget = kit.price or 0.0, wishes.budget
    prices = list[float]()
    for build in best_builds((scenario,), kit, wishes):
        lines = dozen(scenario, build.spec, wishes, kit=kit)
        price = _reckoned(lines)
        if budget is None or price <= budget - paid + 1e-9:
            binds = f"the budget of {budget or 0:.2f} binds: an arrow that suits better costs more"
            return build, lines, (binds,) if prices else ()
        prices.append(price)
    if budget is None or not prices:
        musts = [f"--must {must}" for must in wishes.musts]
        limits = series(musts) if musts else "the limits of weight and length"
        raise NoAnswer(f"no arrow of the test kit's shafts keeps {limits}")
    usual = scenario.plan.next.stage != "tune" and kit_of(scenario, replace(wishes, budget=None))
    if usual and usual.to_buy != kit.to_buy:
        # the one that next names: with as much money as its list costs it is taken
        return _pick(scenario, usual, wishes)
    whole = math.ceil((paid + min(prices)) * 100 - 1e-6) / 100
    told = (
        f"the budget of {budget:.2f} binds: the test kit is {paid:.2f} and the cheapest list "
        f"{min(prices):.2f}; a budget of {whole:.2f} would do, or fewer --arrows"
    )
    if paid <= budget:
        told += "; --arrows 0, the test kit alone, fits: the dozen can wait for the shots"
    raise NoAnswer(told)


def best_builds(both: Sequence[Scenario], kit: Kit, wishes: Wishes) -> Iterator[DozenBuild]:
    """The arrows of a kit, best first, each shaft and front once; for two bows those that suit both."""
    scenario, stock = both[0], both[0].shop
    wrap = wrap_of(stock) if wishes.wraps else None
    found = _candidates(scenario, kit, stock, wrap.grains if wrap is not None else 0.0)
    ranking = rank(scenario, found, tunable=False)
    b, score, chance = ranking.builds, ranking.score, ranking.chance
    longest = {s.item: s.length_in for s in kit.shafts}
    good = within(wishes.musts, ranking.gr_per_lb, ranking.foc)
    good &= b.length_in <= np.array([longest.get(b.name(int(s)), 0.0) for s in b.shaft]) + 1e-9
    for q in both:
        good &= b.length_in >= shortest_safe_length_in(q.rig, q.purpose_rule) - 1e-9
        per_lb, asked = b.total_gr / q.own_lb, q.purpose_rule
        inside = good & (per_lb >= asked.gr_per_lb.low - 1e-9)
        inside &= per_lb <= asked.most(b.wood) + 1e-9
        good = inside if inside.any() else good
        if q is not scenario:
            other = chance_match(q.demand(b), b, q.belief, setting("matching.tolerance_pct") / 100)
            score, chance = score + other, np.minimum(chance, other)
    seen: set[tuple[int, int]] = set()
    for i in np.argsort(-score, kind="stable").tolist():
        if not good[i] or (int(b.shaft[i]), int(b.head[i])) in seen:
            continue
        seen.add((int(b.shaft[i]), int(b.head[i])))
        shaft, head, insert = (b.name(int(x[i])) for x in (b.shaft, b.head, b.insert))
        named = {"shaft": shaft, "length_in": float(b.length_in[i]), "insert": insert or None,
                 "broadhead" if b.is_broadhead[i] else "point": head,
                 "wrap": wrap.item if wrap is not None else None}  # fmt: skip
        spec = BuildSpec.model_construct(**{k: v for k, v in named.items() if v is not None})  # type: ignore[arg-type]
        yield _told(scenario, b.take(np.array([i])), spec, shaft, float(chance[i]))


def _candidates(scenario: Scenario, kit: Kit, stock: Stock, wrap_gr: float) -> Candidates:
    """Every arrow of the kit's shafts, insert and points or, to hunt with, broadheads of their mass."""
    names = {s.item for s in kit.shafts} | {kit.insert}
    points = [
        stock.by_name[p.item] for p in kit.parts if p.kind == "point" and p.item in stock.by_name
    ]
    blades = stock.of_kind("broadhead") if scenario.purpose_rule.broadheads else []
    twins = [t for p in points if (t := twin_head(p, blades)) is not None]
    items = [i for i in stock.items if i.item in names]
    some = Stock((*items, *points, *twins, *stock.of_kind("nock", "fletching")), stock.name)
    return enumerate_builds(scenario.rig, some, scenario.purpose_rule, wrap_gr=wrap_gr)


def _cut_plan(scenario: Scenario, kit: Kit | None, build: DozenBuild | None) -> CutPlan | None:
    if build is None:
        return None
    least = shortest_safe_length_in(scenario.rig, scenario.purpose_rule)
    tested = [s.length_in for s in kit.shafts if s.item == build.shaft] if kit is not None else []
    first = tested[0] if tested else build.length_in
    item = scenario.shop.by_name.get(build.shaft)
    full = first if item is None else item.full_length_in or first
    return CutPlan(full, first, build.length_in, least)
