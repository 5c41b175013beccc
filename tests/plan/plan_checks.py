"""What must hold of every plan, worked out from the folder alone: pieces, limits, what was shot.

Nothing here asks the plan's own modules. Limits of length and weight are those of the contract and of
rules/purposes.yaml; "far too weak on paper" asks the product's own rules, as the contract does.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

import yaml
from random_notebooks import Bow, Entry, Row, stretches

from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.errors import InputError
from shaftwright.files.notebook import parse_notebook
from shaftwright.files.strict_yaml import StrictDumper
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.resolve import resolve_build
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import ENTRY, BuildSpec, content_hash
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.sections import purposes
from shaftwright.units import distance_told

Plan = Mapping[str, Any]
STAGES = {"set_up", "measure", "test_shafts", "tune", "prove", "dozen", "done"}
SHOOTS = {"shoot", "cut", "point", "insert", "collar", "wrap", "shaft", "look_for_marks", "make_second",
          "nocking_point", "plunger", "plate", "brace"}  # fmt: skip
KINDS = SHOOTS | {
    "describe",
    "set_up",
    "measure",
    "buy",
    "broadheads",
    "make_dozen",
    "finish",
    "none",
}
NEAR = 1e-6
#: broken with less (rules/purposes.yaml, never-under), whatever the maker says
LEAST_GR_PER_LB = 5.0


def faults_of(bow: Bow, plan: Plan, asked: Scenario) -> list[str]:
    """Everything that is wrong with a plan."""
    return [*_form(plan), *_from_where(plan, asked), *_Folder(bow, asked).faults(plan)]


def _from_where(plan: Plan, asked: Scenario) -> list[str]:
    """What is shot is shot from a distance that the sentence names, for it is noted as shot from there."""
    then = plan["next"]
    if then["distance_yd"] is None or then["kind"] in ("make_dozen", "finish"):
        return []
    told = distance_told(then["distance_yd"], asked.rig.units)
    return [] if told in then["do"] else [f"does not name {told}: {then['do']}"]


def _form(plan: Plan) -> list[str]:
    """Words and figures that no archer could follow."""
    then, found = plan["next"], []
    if then["stage"] not in STAGES or then["kind"] not in KINDS:
        found.append(f"no stage or kind of the plan: {then['stage']} {then['kind']}")
    if not then["do"].strip() or not then["do"].rstrip().endswith((".", "?", "!", '"')):
        found.append(f"no sentence: {then['do']!r}")
    # what is to be written into the rig file may look as it does there
    said = " ".join(t for t in (then[k] for k in ("do", "why", "then", "if_not")) if t)
    slip = re.search(
        r"\bNone\b(?! of)|\b(nan|inf)\b|\{|\}|  |\.\.|::",
        re.sub(r"\{lb: [^{}]*\}", "", said),
    )
    if slip:
        found.append(f"not for archers: {slip[0]!r} in: {said}")
    if len(then["cautions"]) > 3:
        found.append("more than three cautions")
    figures = [then["length_in"], then["distance_yd"], *(then["expect"] or {}).values()]
    if any(isinstance(x, float) and not math.isfinite(x) for x in figures):
        found.append("a figure that is none")
    if then["expect"] and not then["expect"]["low_in"] < then["expect"]["high_in"]:
        found.append("a range without width")
    if then["kind"] in SHOOTS - {"brace"} and then["distance_yd"] is None:
        found.append(f"{then['kind']} from nowhere")
    if then["kind"] in SHOOTS and then["distance_yd"] is not None and not (then["bare"] or 0) > 0:
        found.append(f"{then['kind']} without bare shots")
    if then["kind"] == "buy" and not then["buy"] and then["stage"] != "tune":
        found.append("buys nothing")
    if any(line["quantity"] < 1 for line in then["buy"]):
        found.append("buys less than one")
    return found


class _Folder:
    def __init__(self, bow: Bow, asked: Scenario) -> None:
        self.bow, self.asked = bow, asked
        struck = [(e["of"], e.get("nth", 1)) for e in bow.entries if e["kind"] == "withdrawn"]
        seen: dict[str, int] = {}
        self.entries: list[Entry] = []
        self.index: list[int] = []
        for place, entry in enumerate(bow.entries):
            if entry["kind"] == "withdrawn":
                continue
            name = content_hash(ENTRY.validate_python(entry))
            seen[name] = seen.get(name, 0) + 1
            if (name, seen[name]) not in struck:
                self.entries.append(entry)
                self.index.append(place)
        self.builds = [
            e["build"] for e in self.entries if e["kind"] in ("bareshaft", "broadhead", "dozen")
        ]

    def faults(self, plan: Plan) -> list[str]:
        then = plan["next"]
        if then["shaft"] is None or then["kind"] in (
            "describe",
            "none",
            "finish",
            "set_up",
            "measure",
        ):
            return []
        row = self.bow.row(then["shaft"])
        if row is None:
            numbers = any("spine" in b for b in self.builds) and "spine" in then["shaft"]
            return [] if numbers else [f"names a shaft nobody has: {then['shaft']}"]
        if row["kind"] != "shaft":
            return [f"shoots no shaft: {then['shaft']}"]
        found = self._pieces(then, row) + self._parts(then)
        if then["kind"] != "buy":
            found += self._limits(then, row) + self._proof(then, plan)
        return found

    # ------------------------------------------------------------ what is there

    def longest_in(self, row: Row) -> float:
        """The longest shaft of a row that could be in hand, however the notebook is read; 0 for none."""
        item, full = row["item"], float(row["full_length_in"])
        usual = float(row["in_hand_length_in"] or full)
        shortest: dict[int, float] = {}
        for entry in self.entries:
            if entry["kind"] in ("bareshaft", "broadhead") and entry["build"].get("shaft") == item:
                length = float(entry["build"].get("length", full))
                number = entry.get("piece", 1)
                shortest[number] = min(length, shortest.get(number, length))
        have = [e for e in self.entries if e["kind"] == "have" and e["item"] == item]
        count = max([int(row["in_hand"]), *(e["count"] for e in have)])
        lengths = list(shortest.values())
        if count > len(shortest):
            lengths += [usual, *(e["length"] for e in have if "length" in e)]
        for e in have:
            # bought after the last shot, or before: both readings are allowed
            if e["count"]:
                lengths += [e.get("length", usual)]
        lengths += [
            float(e["build"].get("length", full)) for e in self.entries
            if e["kind"] == "dozen" and e["build"].get("shaft") == item
        ]  # fmt: skip
        return max(lengths, default=0.0)

    def owned(self, item: str) -> bool:
        """Whether a part could be in hand."""
        row = self.bow.row(item)
        have = [e["count"] for e in self.entries if e["kind"] == "have" and e["item"] == item]
        used = any(item in build.values() for build in self.builds)
        return row is not None and (int(row["in_hand"]) > 0 or any(have) or used)

    def _pieces(self, then: Mapping[str, Any], row: Row) -> list[str]:
        """From a piece in hand, or told to be bought, and never longer than it."""
        bought = {line["item"] for line in then["buy"]}
        length, full = then["length_in"], float(row["full_length_in"])
        if length is None:
            return [f"{then['kind']} {row['item']} of no length"]
        if length > full + NEAR:
            return [f"{row['item']} of {length:g} in is sold {full:g} in long"]
        if _same_row(row, bought, self.bow):
            return []
        longest = self.longest_in(row)
        if longest == 0.0:
            return [f"{then['kind']} {row['item']}: not in hand and not told to be bought"]
        if length > longest + NEAR:
            return [f"{then['kind']} {row['item']} grows from {longest:g} to {length:g} in"]
        return []

    def _parts(self, then: Mapping[str, Any]) -> list[str]:
        bought = {line["item"] for line in then["buy"]}
        found = []
        for part in (then["point"], then["insert"]):
            if part is None:
                continue
            row = self.bow.row(part)
            if row is None:
                found.append(f"names a part nobody sells: {part}")
            elif row["kind"] == "broadhead" and (then["bare"] or 0) > 0:
                found.append(f"{then['kind']}: a bare shaft with a broadhead, {part}")
            elif part not in bought and not self.owned(part):
                found.append(f"{then['kind']}: {part} is not in hand and not told to be bought")
        return found

    # ------------------------------------------------------------ limits

    def own_lb(self) -> float | None:
        """Draw weight at the own draw, where the rig tells it, or the last change of it."""
        told = self.bow.rig["bow"]["draw_weight"]
        changes = [e.get("rig_state") or {} for e in self.entries if e["kind"] == "change"]
        for state in changes:
            told = state.get("draw_weight", told)
        if self.bow.rig["bow"]["draw_weight"].get("at") != "own_draw":
            return None
        return float(told["lb"] if isinstance(told, dict) else told)

    def shortest_in(self) -> float:
        """Draw length and half an inch, one inch for broadheads (design.md, section 6)."""
        draw = float(str(self.bow.rig["archer"]["draw_length"]).removesuffix(" in"))
        return draw + float(
            purposes().purposes[self.bow.rig["purpose"]].shortest_shaft_beyond_draw_in
        )

    def _limits(self, then: Mapping[str, Any], row: Row) -> list[str]:
        found = []
        shot = self.was_shot(then)
        if then["length_in"] < self.shortest_in() - NEAR:
            found.append(
                f"{then['kind']} {row['item']} at {then['length_in']:g} in, the shortest safe is "
                f"{self.shortest_in():g} in"
            )
        lb, build = self.own_lb(), self._build(then)
        if build is None:
            return [
                *found,
                f"cannot be put together: {then['shaft']} {then['point']} {then['insert']}",
            ]
        if lb is not None:
            bare, whole = float(build.bare_gr[0]), float(build.total_gr[0])
            maker = float(self.bow.rig["bow"].get("maker_minimum_gr_per_lb", 0))
            if bare / lb < max(LEAST_GR_PER_LB, maker) - 0.02:
                found.append(f"{then['kind']} {row['item']} too light: {bare / lb:.2f} gr/lb")
            rig = self.bow.rig
            limits = (
                purposes().asked(rig["purpose"], rig["bow"]["kind"]).span(row["material"] == "wood")
            )
            # what was shot before a change is not new: the old limbs' arrow is tried first
            old = any(e["kind"] == "bareshaft" and self._is(e["build"], then) for e in self.entries)
            new = not (shot or old) and then["kind"] not in ("make_second", "broadheads")
            outside = max(limits.low - whole / lb, whole / lb - limits.high, 0.0)
            if new and outside > max(
                0.1, *self._outside(lb, limits.low, limits.high, whole / lb < limits.low)
            ):
                found.append(
                    f"{then['kind']} {row['item']} {then['length_in']:g} in {then['point']} newly at "
                    f"{whole / lb:.2f} gr/lb, its purpose wants {limits.low:g} to {limits.high:g}"
                )
        if not (shot or then["kind"] == "broadheads" or self.weaker_was_shot(then, row)) and (
            self.far_too_weak(build)
        ):
            found.append(f"{then['kind']} {row['item']}: far too weak on paper and never shot")
        return found

    def _outside(self, lb: float, low: float, high: float, light: bool) -> list[float]:
        """How far outside the purpose's weights, on the same side, the arrows already shot are [gr/lb]."""
        found = [0.0]
        for entry in self.this_period():
            shot = self._as_shot(entry["build"]) if entry["kind"] == "bareshaft" else None
            if shot is not None:
                per_lb = float(shot.total_gr[0]) / lb
                if (per_lb < low) == light:
                    found.append(max(low - per_lb, per_lb - high) + 0.05)
        return found

    def _as_shot(self, build: Mapping[str, Any]) -> Builds | None:
        """The arrow of an entry, by numbers or by the stock's rows."""
        if "spine" in build:
            return resolve_build(BuildSpec.model_validate(build), self.asked.stock)
        row = self.bow.row(build.get("shaft"))
        if row is None:
            return None
        return self._build({
            "shaft": build["shaft"], "length_in": build.get("length", float(row["full_length_in"])),
            "point": build.get("point") or build.get("broadhead"), "insert": build.get("insert"),
        })  # fmt: skip

    def _build(self, then: Mapping[str, Any]) -> Builds | None:
        """The arrow by the stock's rows; nock and fletching the cheapest that fit."""
        row = self.bow.row(then["point"])
        head = "broadhead" if row is not None and row["kind"] == "broadhead" else "point"
        parts = {"shaft": then["shaft"], "length": then["length_in"], head: then["point"],
                 "insert": then["insert"]}  # fmt: skip
        try:
            spec = BuildSpec.model_validate({k: v for k, v in parts.items() if v is not None})
            return resolve_build(spec, self.asked.stock)
        except InputError:
            return None

    def far_too_weak(self, build: Builds) -> bool:
        """On paper, by the rules and all that was shot: under the shoot gate at the middle."""
        mean = float(self.asked.demand(build).draws(self.asked.belief)[0].mean())
        return float(stiffness_lb(build)[0]) / mean < setting("matching.shoot_gate")

    # ------------------------------------------------------------ what was shot

    def this_period(self) -> list[Entry]:
        """Entries after the last change that can begin a period, as generously as it can be read."""
        last, weight = 0, None
        for entry, place in zip(self.entries, self.index, strict=True):
            new_limbs = entry["kind"] == "change" and entry["what"] == "limbs"
            # a pound of draw weight is none; what it was before is not always told
            now = (entry.get("rig_state") or {}).get("draw_weight")
            if new_limbs or (entry["kind"] == "change" and now not in (None, weight)):
                if new_limbs or abs(now - (weight or 0.0)) > 1.0:
                    last = place
                weight = now if now is not None else weight
        return [e for e, place in zip(self.entries, self.index, strict=True) if place >= last]

    def was_shot(self, then: Mapping[str, Any]) -> bool:
        """Whether this arrow was noted with bare shafts from the bow as it stands."""
        return any(
            e["kind"] == "bareshaft" and self._is(e["build"], then) for e in self.this_period()
        )

    def weaker_was_shot(self, then: Mapping[str, Any], row: Row) -> bool:
        """Whether the same shaft was shot as long or longer and as heavy in front or heavier."""
        full = float(row["full_length_in"])
        return any(
            e["kind"] == "bareshaft" and e["build"].get("shaft") == then["shaft"]
            and float(e["build"].get("length", full)) >= then["length_in"] - NEAR
            and self._front(e["build"]) >= self._front(then) - 2
            for e in self.this_period()
        )  # fmt: skip

    def _is(self, build: Mapping[str, Any], then: Mapping[str, Any]) -> bool:
        if build.get("shaft") != then["shaft"]:
            return False
        row = self.bow.row(then["shaft"])
        full = float(row["full_length_in"]) if row else 0.0
        if abs(float(build.get("length", full)) - then["length_in"]) > 1 / 16:
            return False
        return abs(self._front(build) - self._front(then)) <= 2

    def _front(self, build: Mapping[str, Any]) -> float:
        total = 0.0
        for part in ("point", "broadhead", "insert"):
            row = self.bow.row(build.get(part))
            total += float(row["mass_gr"]) if row else 0.0
        return total

    def _proof(self, then: Mapping[str, Any], plan: Plan) -> list[str]:
        """In prove and dozen nothing that was never shot; the plan's first row is its arrow."""
        if then["stage"] not in ("prove", "dozen", "done"):
            return []
        found = []
        if not self._shot_with_any_head(then):
            found.append(
                f"{then['stage']}: {then['shaft']} {then['length_in']:g} in {then['point']} never shot"
            )
        straight = [
            s for s in plan["shot"]
            if s["period"] == 0 and s["standing"] in ("straight so far", "flies straight", "proven")
        ]  # fmt: skip
        # the very arrow that a dozen was made of is proved anew, however its last ends read
        made = any(e["kind"] == "dozen" and self._is(e["build"], then) for e in self.this_period())
        known = made or then["shaft"] in {s["shaft"] for s in straight}
        if then["stage"] == "prove" and not known:
            found.append(f"{then['stage']} of {then['shaft']}, which is not straight: {straight}")
        return found

    def _shot_with_any_head(self, then: Mapping[str, Any]) -> bool:
        """A dozen may be of another row of the same shaft; a broadhead stands for its point."""
        rows = [
            r
            for r in self.bow.rows
            if r["kind"] == "shaft" and _alike(r, self.bow.row(then["shaft"]))
        ]
        return any(
            self.was_shot({**then, "shaft": row["item"]})
            for row in rows
            if abs(float(row["full_length_in"])) >= then["length_in"] - NEAR
        )


def _same_row(row: Row, bought: set[str], bow: Bow) -> bool:
    return any(_alike(row, bow.row(item)) for item in bought)


def _alike(one: Row, other: Row | None) -> bool:
    """Two rows of one shaft, however it is packed."""
    same = ("kind", "material", "spine_mils", "wood_spine_lb", "gr_per_in", "outside_diameter_in",
            "inside_diameter_in", "full_length_in", "size_code")  # fmt: skip
    return other is not None and all(one.get(k) == other.get(k) for k in same)


# ---------------------------------------------------------------- the product's side


def scenario_of(bow: Bow, entries: Sequence[Entry] | None = None) -> Scenario:
    """The bow's scenario, read from text as the files would be, but never written."""
    told = list(bow.entries if entries is None else entries)
    text = yaml.dump(told, Dumper=StrictDumper) if told else ""
    book = parse_notebook(text, "notebook.yaml")
    assert not book.faults, book.faults
    before = Rig.model_validate(bow.before) if bow.before else None
    cells = ({k: v for k, v in row.items() if v} for row in bow.rows)
    stock = Stock(tuple(StockItem.model_validate(row) for row in cells), "stock.csv")
    return scenario(Rig.model_validate(bow.rig), None, stock, book.entries, book.lines, before)


def without_lines(plan: Plan) -> dict[str, Any]:
    """A plan without what the order of entries may change."""
    return {**plan, "shot": [{k: v for k, v in s.items() if k != "lines"} for s in plan["shot"]]}


def is_mixed(entries: Sequence[Entry]) -> bool:
    """Whether some stretch has two entries that could change places."""
    return any(len(places) > 1 for places in stretches(entries))
