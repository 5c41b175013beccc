"""An archer who does exactly what `next` says, from nothing owned to the dozen.

A bow folder in memory: rig, a stock with nothing in hand, and entries. What is bought is noted with
`have`, what is set with `change`, what is shot with `bareshaft` or `broadhead`; every trip to the shop
is a day of its own. Nothing else is known to the archer, and nothing else is done.
"""

from __future__ import annotations

import datetime as dt
import re
import time
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import Any

from archers.hand import NEAR, Hand
from archers.world import SHOP, Arrow, World, number, row, world_of
from shaftwright.answers.plan.result import Next, Plan
from shaftwright.answers.plan.result import Shot as Row
from shaftwright.answers.scenario import scenario
from shaftwright.errors import ShaftwrightError
from shaftwright.files.stock import load_stock
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY, AnyEntry, plain_entry
from shaftwright.records.rig import Rig

MOST_CHANGES, MOST_ENDS, MOST_STEPS = 12, 60, 160
STRAIGHT = ("flies straight", "proven")
_SHOOTS = (
    "shoot",
    "cut",
    "point",
    "insert",
    "collar",
    "wrap",
    "shaft",
    "look_for_marks",
    "make_second",
)
_SETS = ("nocking_point", "plunger", "plate", "brace")
_NUMBER = r"-?(?:\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
#: of a range its lower end
_INCHES = rf"({_NUMBER})(?: to {_NUMBER})? in"


@dataclass
class Step:
    """One thing told, and how the bow and the arrow truly stood when it was done."""

    stage: str
    kind: str
    do: str
    arrow: tuple[Any, ...] | None
    off_in: float | None
    up_in: float


@dataclass
class Straight:
    """The moment an arrow was first called so."""

    changes: int
    ends: int
    shafts: int
    off_in: float
    up_in: float
    arrow: tuple[Any, ...]


@dataclass
class Run:
    """How one archer fared."""

    seed: int
    ended: str
    purpose: str
    rest: str
    slaps: bool
    t_in: float
    old_measure_in: float
    so_far: Straight | None
    straight: Straight | None
    dozen: Straight | None
    changes: int
    ends: int
    broadhead_ends: int
    shafts: int
    spent: float
    needless: int
    beyond_proof: int
    third_time: int
    far_too_weak: int
    under_floor: int
    ranges: list[tuple[float, float, float, float]]
    faults: list[str]
    cpu_s: float
    steps: list[Step] = field(repr=False)


class Obeys:
    """One archer."""

    def __init__(self, seed: int, world: World | None = None) -> None:
        self.world = world_of(seed) if world is None else world
        self.hand = Hand(self.world)
        self.stock = load_stock(SHOP)
        self.entries: list[AnyEntry] = []
        self.day = dt.date(2026, 1, 3)
        self.looked = False
        #: which piece a number of the notebook means
        self.labels: dict[tuple[str, int], int] = {}
        self.arrow: Arrow | None = None
        self.shot: list[Arrow] = []
        self.steps: list[Step] = []
        self.faults: list[str] = []
        self.ranges: list[tuple[float, float, float, float]] = []
        self.so_far: Straight | None = None
        self.straight: Straight | None = None
        self.dozen: Straight | None = None
        self.needless = self.beyond = self.far_too_weak = self.under_floor = 0
        #: whether one of the dozen was made and shot
        self.one_of_them = False
        self.of_arrow: Counter[tuple[Any, ...]] = Counter()

    def folder(self) -> dict[str, str]:
        """The bow folder as it stands, to see a step again."""
        import yaml

        entries = [plain_entry(e) for e in self.entries]
        return {"rig.yaml": yaml.safe_dump(self.world.rig, sort_keys=False),
                "stock.csv": SHOP.read_text(encoding="utf-8"),
                "notebook.yaml": yaml.safe_dump(entries, sort_keys=False)}  # fmt: skip

    # ------------------------------------------------------------ asking

    def rig(self) -> Rig:
        """The rig file as it stands."""
        return Rig.model_validate(self.world.rig)

    def plan(self) -> Plan:
        """What the folder's plan says."""
        lines = range(1, len(self.entries) + 1)
        self.asked = scenario(self.rig(), None, self.stock, self.entries, tuple(lines))
        return self.asked.plan

    def proven_by_ends(self, arrow: Arrow) -> bool:
        """Whether the plan itself counts three fair ends of the first piece, and chance enough."""
        return any(
            a.now and a.spec.shaft == arrow.shaft
            and abs(float(a.build.length_in[0]) - arrow.length_in) < 1 / 16
            and abs(float(a.build.front_gr[0]) - arrow.front_gr) < 2
            and len(a.fair) >= setting("plan.proof_ends")
            and a.chance_inside >= setting("plan.proof_chance")
            for a in self.asked.where.here
        )  # fmt: skip

    def fault(self, told: str) -> None:
        """Something that must not be."""
        self.faults.append(f"step {len(self.steps)}: {told}")

    # ------------------------------------------------------------ the loop

    def run(self) -> str:
        """From nothing owned to the dozen, and on until nothing is left to do."""
        before = ""
        for _ in range(MOST_STEPS):
            plan = self.plan()
            then = plan.next
            self.watch(plan)
            self.steps.append(self.step(then))
            if then.kind in ("finish", "none"):
                return then.kind
            now = f"{then.kind} {then.do} {len(self.entries)} {self.world.rig}"
            if now == before:
                self.fault(f"told the same again and nothing changes: {then.kind}: {then.do}")
                return "stuck"
            before = now
            self.do(plan)
            if self.hand.changes > MOST_CHANGES and self.dozen is None:
                return "changes"
            if self.hand.ends > MOST_ENDS:
                return "ends"
        return "steps"

    def step(self, then: Next) -> Step:
        """For the record."""
        arrow = (then.shaft, then.piece, then.length_in, then.point, then.insert, then.setting)
        off = self.world.stiffward_in(self.arrow) if self.arrow else None
        told = arrow if then.shaft else None
        return Step(then.stage, then.kind, then.do, told, off, self.world.up_in())

    def watch(self, plan: Plan) -> None:
        """When an arrow is first called straight so far, straight, proven."""
        for found in plan.shot:
            if found.period or found.setting != "now":
                continue
            if found.standing in ("straight so far", *STRAIGHT) and self.so_far is None:
                self.so_far = self.called(found)
            if found.standing in STRAIGHT and self.straight is None:
                self.straight = self.called(found)
        if plan.next.stage in ("dozen", "done") and self.dozen is None:
            best = next((r for r in plan.shot if r.standing == "proven"), None)
            if best is None:
                self.fault(f"{plan.next.stage} although nothing is proven")
            else:
                self.dozen = self.called(best)
                self.beyond = self.beyond_proof()

    def beyond_proof(self) -> int:
        """Fair ends of the proven arrow as set beyond three, one of a second and one of broadheads."""
        if self.dozen is None:
            return 0
        own = {
            second: self.of_arrow[(*self.dozen.arrow, self._setting(), second, True)]
            for second in (False, True)
        }
        return max(own[False] - 3, 0) + max(own[True] - 1, 0) + max(self.hand.broadhead_ends - 1, 0)

    def called(self, found: Row) -> Straight | None:
        """How the arrow of a row truly flies."""
        for arrow in reversed(self.shot):
            if self._is(found, arrow):
                key = (arrow.shaft, arrow.length_in, arrow.point, arrow.insert, arrow.wrap)
                return Straight(
                    self.hand.changes, self.hand.ends, self.hand.shafts_bought,
                    round(self.world.stiffward_in(arrow), 3), round(self.world.up_in(), 3), key,
                )  # fmt: skip
        self.fault(f"an arrow that was never shot is called {found.standing}: {found.shaft}")
        return None

    @staticmethod
    def _is(found: Row, arrow: Arrow) -> bool:
        return (
            found.shaft == arrow.shaft
            and abs(found.length_in - arrow.length_in) < 1 / 16
            and abs(found.front_gr - arrow.front_gr) < 2
        )

    # ------------------------------------------------------------ doing

    def do(self, plan: Plan) -> None:
        """Exactly what it says."""
        then = plan.next
        if then.buy:
            self.go_shopping(then)
        if then.kind == "set_up":
            self.set_up(then)
        elif then.kind == "measure":
            self.world.rig["bow"]["draw_weight"] = {"lb": self.world.own_lb, "at": "own_draw"}
        elif then.kind in _SETS and then.setting:
            self.set(then)
        elif then.kind in _SHOOTS or then.kind in _SETS:
            self.shoot(plan)
        elif then.kind == "broadheads":
            self.shoot_broadheads(then)
        elif then.kind == "make_dozen":
            self.make_dozen(plan)
        elif then.kind == "describe":
            self.describe(str(then.shaft))
        elif then.kind != "buy":
            self.fault(f"a kind nobody knows: {then.kind}")

    def note(self, entry: dict[str, Any]) -> None:
        """Into the notebook."""
        self.entries.append(ENTRY.validate_python({**entry, "date": self.day.isoformat()}))

    def describe(self, shaft: str) -> None:
        """How long the pieces of a shaft are that were never noted."""
        if shaft not in self.hand.pieces:
            self.fault(f"asked to describe what is all in the stock: {shaft}")
            return
        lengths = Counter(self.hand.pieces[shaft])
        for length, count in sorted(lengths.items()):
            self.note({"kind": "have", "item": shaft, "count": count, "length": length})

    def go_shopping(self, then: Next) -> None:
        """Everything on the list, and how many there are now."""
        self.day += dt.timedelta(days=1)
        for line in then.buy:
            if line.item not in self.stock.by_name:
                self.fault(f"told to buy {line.item}, which the shop has not")
                continue
            self.hand.buy(line.item, line.quantity)
            self.note({"kind": "have", "item": line.item, "count": self.hand.in_hand(line.item)})

    def set_up(self, then: Next) -> None:
        """Brace height as it is, nocking point where it is told, both into the rig file."""
        told = f"{then.setting or ''} {then.do}"
        bow = self.world.rig["bow"]
        if bow["brace_height"] == "unknown":
            bow["brace_height"] = self.world.setting.brace_in
        if "nocking_point" not in bow:
            place = _inches_after("nocking point", told)
            if place is None:
                self.fault(f"no nocking point to set up: {told}")
                place = self.world.setting.nocking_in
            self.world.setting.nocking_in = place
            bow["nocking_point"] = {"above_square": place, "locators": 2}

    def set(self, then: Next) -> None:
        """One setting, into the rig file and the notebook: as the line to type says, else the words."""
        now, bow = self.world.setting, self.world.rig["bow"]
        told = {
            k: v.strip('"') for k, v in re.findall(r'--([a-z-]+) ("[^"]*"|\S+)', then.note or "")
        }
        words = f"{then.setting or ''} {then.do}"
        state: dict[str, Any] = {}
        if then.kind == "nocking_point":
            value = _told_inches(told.get("nocking-point"), "nocking point", words)
            if value is not None:
                now.nocking_in = state["nocking_point"] = value
                bow["nocking_point"] = {"above_square": value, "locators": 2}
        elif then.kind == "plate":
            value = _told_inches(told.get("plate"), "plate", then.setting or "")
            if value is not None:
                now.plate_in = state["plate"] = value
                bow["plate"] = {"thickness": value, "material": "leather"}
        elif then.kind == "brace":
            value = _told_inches(told.get("brace"), "brace height", words)
            if value is not None:
                now.brace_in = state["brace"] = bow["brace_height"] = value
        elif then.kind == "plunger":
            plunger = dict(bow.get("plunger", {}))
            if "plunger-turns" in told:
                now.turns = plunger["turns"] = float(told["plunger-turns"])
            if "plunger-spring" in told:
                now.spring = plunger["spring"] = told["plunger-spring"]
            if "plunger-out" in told:
                # what was measured anew is where it stands; only a step moves it
                step = _inches_after("plunger", then.setting or "") or 0.0
                now.out_in += step if "out" in (then.setting or "") else -step
                plunger["out"] = _fraction(told["plunger-out"].removesuffix(" in"))
            if "plunger-moved" in told:
                step = _fraction(told["plunger-moved"].removesuffix(" in"))
                now.out_in += step - _fraction(str(plunger.get("moved", "0")).removesuffix(" in"))
                plunger["moved"] = step
            if len(told):
                state["plunger"] = bow["plunger"] = plunger
        if not state:
            self.fault(
                f"cannot tell what to set: {then.kind}: {then.setting!r}, {then.note!r}, {then.do}"
            )
            return
        self.note({"kind": "change", "what": then.kind, "rig_state": state})

    def arrow_of(self, then: Next) -> Arrow | None:
        """The arrow named, made from a piece in hand."""
        if then.shaft is None or then.length_in is None or then.point is None:
            self.fault(f"{then.kind} names no arrow: {then.do}")
            return None
        for part in (then.shaft, then.point, then.insert):
            if part is not None and part not in self.stock.by_name:
                self.fault(f"names {part}, which nobody sells")
                return None
        wanted = then.piece or 1
        key = (then.shaft, wanted)
        lengths = self.hand.pieces.get(then.shaft, [])
        if key not in self.labels or lengths[self.labels[key] - 1] < then.length_in - NEAR:
            if key in self.labels:
                if then.piece is not None:
                    self.fault(f"{then.shaft} piece {wanted} is shorter than {then.length_in:g} in")
                wanted = max(n for s, n in self.labels if s == then.shaft) + 1
            taken = {p for (s, _), p in self.labels.items() if s == then.shaft}
            free = [
                (length, piece) for piece, length in enumerate(lengths, 1)
                if piece not in taken and length >= then.length_in - NEAR
            ]  # fmt: skip
            if free:
                self.labels[then.shaft, wanted] = min(free)[1]
            else:
                self.fault(
                    f"{then.kind} {then.shaft} {then.length_in:g} in: no piece for it in hand "
                    f"({lengths}) and not told to buy"
                )
                self.hand.buy(then.shaft, 1)
                self.labels[then.shaft, wanted] = len(self.hand.pieces[then.shaft])
        for part in (then.point, then.insert):
            if part is not None and not self.hand.parts[part]:
                self.fault(f"{then.kind}: {part} is not in hand and not told to buy")
                self.hand.buy(part, 1)
        place = self.labels[then.shaft, wanted]
        self.piece = wanted
        return Arrow(
            then.shaft, place, then.length_in, then.point, then.insert,
            wrap=_wrap(then) or self._wrap_now(then),
        )  # fmt: skip

    def _wrap_now(self, then: Next) -> str | None:
        """The wrap stays on unless told to take it off."""
        if then.kind == "wrap" or self.arrow is None:
            return None
        return self.arrow.wrap if self.arrow.shaft == then.shaft else None

    def shoot(self, plan: Plan) -> None:
        """Make it, shoot it, note it."""
        then = plan.next
        arrow = self.arrow_of(then)
        if arrow is None:
            return
        self.hand.pieces[arrow.shaft][arrow.piece - 1] = arrow.length_in
        self.hand.note_made(arrow)
        self.arrow = arrow
        self.looked = self.looked or then.kind == "look_for_marks" or "powder" in then.do
        new = all(not _same(arrow, other) for other in self.shot)
        if new:
            if self.world.share_of_wanted(arrow) < 0.75:
                self.far_too_weak += 1
            if self.world.gr_per_lb(arrow) < 7:
                self.under_floor += 1
        if then.stage in ("prove", "dozen") and new and then.kind == "shoot":
            self.fault(f"an arrow never shot in {then.stage}: {then.do}")
        known = next((r for r in plan.shot if self._is(r, arrow) and r.setting == "now"), None)
        if (
            then.kind == "shoot" and self.piece == 1 and known is not None and known.period == 0
            and known.standing in STRAIGHT and self.proven_by_ends(arrow)
        ):  # fmt: skip
            self.needless += 1
        if then.kind != "make_dozen" and (then.bare is None or then.distance_yd is None):
            self.fault(f"{then.kind} does not say how many to shoot, or from where: {then.do}")
        fletched = 3 if then.fletched is None else then.fletched
        distance = then.distance_yd or 20.0
        entry = self.world.shoot(arrow, fletched, then.bare or 3, distance, self.looked)
        if self.piece != 1:
            entry["piece"] = self.piece
        self.hand.ends += 1
        self.shot.append(arrow)
        fair = distance >= setting("plan.fair_yd")
        self.of_arrow[(*_key(arrow), self._setting(), self.piece > 1, fair)] += 1
        self.note(entry)
        if then.expect is not None and fletched and entry["bare"]:
            axis = 0 if then.expect.axis == "sideways" else 1
            bare = sum(s["at"][axis] for s in entry["bare"]) / len(entry["bare"])
            feathered = sum(f[axis] for f in entry["fletched"]) / len(entry["fletched"])
            seen = bare - feathered
            self.ranges.append((then.expect.low_in, then.expect.high_in, then.expect.chance, seen))

    def _setting(self) -> tuple[Any, ...]:
        now = self.world.setting
        return (now.plate_in, now.nocking_in, now.spring, now.turns, now.out_in)

    def shoot_broadheads(self, then: Next) -> None:
        """Broadheads of the field point's mass beside it."""
        head = self._head(then)
        if head is None or not self.hand.parts[head]:
            self.fault(f"broadheads: none of that mass in hand: {then.do}")
            return
        point = next(
            (i.item for i in self.stock.of_kind("point") if i.mass_gr == number(head, "mass_gr")),
            self.arrow.point,
        )
        place = self.labels.get((then.shaft, then.piece or 1), self.arrow.piece)
        arrow = Arrow(then.shaft, place, then.length_in, point, then.insert, wrap=self.arrow.wrap)
        if abs(arrow.length_in - self.hand.pieces[then.shaft][place - 1]) > 1 / 16:
            self.fault(f"broadheads on an arrow of another length than its piece: {then.do}")
        self.hand.note_made(arrow)
        self.arrow = arrow
        self.hand.ends += 1
        self.hand.broadhead_ends += 1
        self.note(self.world.broadheads(arrow, head, then.distance_yd or 20.0))

    def _head(self, then: Next) -> str | None:
        """The broadhead told: by name, as just bought, or by its grains."""
        heads = {i.item: i.mass_gr for i in self.stock.of_kind("broadhead")}
        named = [then.point, *(line.item for line in then.buy)]
        told = re.search(r"(\d+) gr broadheads?", then.do)
        grains = float(told[1]) if told else number(then.point, "mass_gr")
        named += [h for h, mass in heads.items() if mass == grains and self.hand.parts[h]]
        # told only to shoot them again: those that are there
        named += sorted(h for h in heads if self.hand.parts[h])
        return next((h for h in named if h in heads), None)

    def make_dozen(self, plan: Plan) -> None:
        """One of them is made and shot first; once it was, all of them are noted."""
        then, arrow = plan.next, self.arrow
        if arrow is None or then.shaft is None or then.length_in is None:
            self.fault(f"a dozen of no arrow: {then.do}")
            return
        if all(
            (a.shaft, round(a.length_in * 16)) != (then.shaft, round(then.length_in * 16))
            for a in self.shot
        ):
            self.fault(f"a dozen of an arrow never shot: {then.do}")
        if "shoot" in then.do and not self.one_of_them:
            numbers = [n for s, n in self.labels if s == then.shaft]
            self.one_of_them = True
            self.shoot(Plan(replace(then, piece=max(numbers, default=0) + 1), plan.shot))
            return
        long_enough = [
            length for length in self.hand.pieces.get(then.shaft, [])
            if length >= then.length_in - NEAR
        ]  # fmt: skip
        made = len(long_enough)
        if made < 12:
            self.fault(f"a dozen with shafts for {made} in hand and no more told to buy")
        head = then.point if then.point and row(then.point)["kind"] == "point" else arrow.point
        told = Arrow(then.shaft, 1, then.length_in, head, then.insert, wrap=arrow.wrap)
        self.note({"kind": "dozen", "build": told.build(), "made": max(made, 1)})


def _key(arrow: Arrow) -> tuple[Any, ...]:
    return arrow.shaft, arrow.length_in, arrow.point, arrow.insert, arrow.wrap


def _same(one: Arrow, other: Arrow) -> bool:
    return (
        one.shaft == other.shaft
        and abs(one.length_in - other.length_in) < 1 / 16
        and abs(one.front_gr - other.front_gr) < 2
    )


def _wrap(then: Next) -> str | None:
    return "W5" if then.kind == "wrap" and "off" not in then.do else None


def _told_inches(typed: str | None, name: str, words: str) -> float | None:
    return _inches_after(name, words) if typed is None else _fraction(typed.removesuffix(" in"))


def _inches_after(name: str, told: str) -> float | None:
    found = re.search(rf"{name}[^\d-]{{0,20}}?{_INCHES}", told)
    return _fraction(found[1]) if found else None


def _fraction(text: str) -> float:
    sign = -1.0 if text.startswith("-") else 1.0
    whole = 0.0
    for part in text.lstrip("-").split():
        over, _, under = part.partition("/")
        whole += float(over) / float(under or 1)
    return sign * whole


def obey(seed: int) -> Run:
    """One archer from nothing owned to the end."""
    started = time.process_time()
    one = Obeys(seed)
    try:
        ended = one.run()
    except (
        ShaftwrightError,
        AssertionError,
        ArithmeticError,
        LookupError,
        TypeError,
        ValueError,
    ) as e:
        ended = "error"
        one.fault(f"{type(e).__name__}: {e}")
    world, hand = one.world, one.hand
    return Run(
        seed, ended, world.rig["purpose"], world.rig["bow"]["rest"], world.slaps,
        round(world.t_in, 3), round(world.old_measure, 3), one.so_far, one.straight, one.dozen,
        hand.changes, hand.ends, hand.broadhead_ends, hand.shafts_bought, round(hand.spent, 2),
        one.needless, one.beyond, hand.third_time, one.far_too_weak, one.under_floor, one.ranges,
        one.faults, round(time.process_time() - started, 2), one.steps,
    )  # fmt: skip
