"""The rules against the launch model: sign and size of each, over random plausible rigs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import InputError
from shaftwright.parameters import Range
from shaftwright.physics.launch.match import Change, moves_pct, standard_changes
from shaftwright.physics.launch.parts import Rig
from shaftwright.physics.launch.settings import LAWS, random_rigs
from shaftwright.resources import table
from shaftwright.result import Result, kept
from shaftwright.rules.evaluate import interpolate
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Rule, Table
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N, Interval

SEED: Final = 20
#: shares of pairs with the trade's sign above which model and trade agree, or contradict each other
_AGREE: Final = 0.75
_AGAINST: Final = 0.25
#: sizes within this factor of each other agree even where the rule's own range is narrower
_NEAR: Final = 1.25
#: share of pairs that must have an answer under a law for its middle to count
_LEAST: Final = 0.3
#: places in a law's answers that stand for all of them
_EVENLY: Final = (np.arange(200) + 0.5) / 200
#: SI in one unit of the facts that the tables of rules are read at
_UNIT: Final = {"front_gr": GRAIN_KG, "shaft_length_in": INCH_M}
_FIELD: Final = {"front_gr": "front_kg", "shaft_length_in": "length_m"}


@dataclass(frozen=True)
class RuleAgainst(Result):
    """One rule beside the model; code "-" is the draw weight itself."""

    code: str
    name: str
    case: str
    #: the change tried: key of tables/launch_changes.csv, and its words
    kind: str
    change: str
    #: what the rule says the change asks for, and the model over rigs and settings, in stiffness [%]
    trade: Interval = field(metadata=kept(json="trade_pct"))
    physics: Interval = field(metadata=kept(json="physics_pct"))
    #: no set of tuned rigs is fitted here
    fitted_pct: None = field(default=None, kw_only=True)
    #: of rigs and settings with the rule's sign; nan where the rule has none
    share: float
    #: rigs times settings in which the model had an answer
    pairs: int
    #: agrees, size_differs, sign_unsure, contradicts, or no_trade_sign
    verdict: str
    #: what was taken for what
    note: str
    #: law of the string -> the model's middle [%]; None where too few pairs have an answer
    by_law: dict[str, float | None] = field(metadata=kept(json="physics_pct_by_law"))
    #: stiffness for one unit of the rule's coefficient in this change [%]
    per_unit_pct: float = field(metadata=kept(json=False))


@dataclass(frozen=True)
class Untried:
    """A rule that the model has no say in, and why."""

    code: str
    name: str
    why: str


@dataclass(frozen=True)
class Against(Result):
    """The whole comparison, over random rigs and draws of the settings for each."""

    rigs: int
    draws: int
    seed: int
    rules: tuple[RuleAgainst, ...]
    untried: tuple[Untried, ...]


def rules_against_physics(
    book: RuleBook, rigs: int, draws: int = 2, *, seed: int = SEED
) -> Against:  # fmt: skip
    """Compare the rules with the launch model over random plausible rigs.

    Each pair of rig and settings is its own control, under each law of the string; the laws count
    alike. Nothing in the model was fitted to the rules.
    A rule of the book that tables/physics_rules.csv says nothing of is a fault.
    """
    rows = table("physics_rules")
    known = {row["code"] for row in rows}
    missing = [rule.code for rule in book.rules if rule.code not in known]
    if missing:
        raise InputError.of("physics_rules.csv", f"says nothing of {', '.join(missing)}")
    by_kind = {change.change: change for change in standard_changes()}
    rules = {rule.code: rule for rule in book.rules}
    tried = [row for row in rows if row["change"]]
    kinds = list(dict.fromkeys(row["change"] for row in tried))
    rig = random_rigs(rigs, draws, seed=seed)
    changes = [by_kind[kind] for kind in kinds]
    under = {
        law: moves_pct((rig[0], rig[1], rig[2].changed(**held)), changes)
        for law, held in LAWS.items()
    }
    moved = {kind: {law: one[i] for law, one in under.items()} for i, kind in enumerate(kinds)}
    return Against(
        rigs, draws, seed,
        tuple(
            _compared(
                row, rules.get(row["code"]), book, by_kind[row["change"]], moved[row["change"]], rig
            )
            for row in tried
            if row["code"] == "-" or row["code"] in rules
        ),
        tuple(
            Untried(row["code"], rules[row["code"]].name, row["note"])
            for row in rows
            if not row["change"] and row["code"] in rules
        ),
    )  # fmt: skip


def _compared(
    row: dict[str, str], rule: Rule | None, book: RuleBook, change: Change,
    moved: dict[str, Array], rig: Rig,
) -> RuleAgainst:  # fmt: skip
    per_unit = _per_unit(row, rule, book, change, rig)
    one = Range(value=1, low=1, high=1)
    span = one if rule is None else rule.range_for(row["case"] or None)
    assert span is not None
    trade, found = (
        Interval(span.value, span.low, span.high).scaled(per_unit),
        {k: v[np.isfinite(v)] for k, v in moved.items()},
    )
    told = {k: v for k, v in found.items() if v.size > _LEAST * moved[k].size}
    # each law counts alike, whatever the number of its answers
    pct = np.ravel([np.quantile(v, _EVENLY) for v in told.values()])
    low, mid, high = np.percentile(pct, (2.5, 50, 97.5)) if pct.size else (np.nan,) * 3
    physics, share = Interval(float(mid), float(low), float(high)), float("nan")
    if trade.mid != 0 and pct.size:
        stiffer = float((pct > 0).mean())
        share = stiffer if trade.mid > 0 else 1 - stiffer
    name = "draw weight itself" if rule is None else rule.name
    return RuleAgainst(
        row["code"], name, row["case"], row["change"], change.label, trade, physics, share,
        sum(v.size for v in told.values()), _verdict(trade, physics, share), row["note"],
        {k: float(np.median(told[k])) if k in told else None for k in found}, per_unit,
    )  # fmt: skip


def _verdict(trade: Interval, physics: Interval, share: float) -> str:
    if np.isnan(share):
        return "no_trade_sign"
    if share < _AGAINST:
        return "contradicts"
    if share < _AGREE:
        return "sign_unsure"
    near = 1 / _NEAR <= physics.mid / trade.mid <= _NEAR
    return "agrees" if near or trade.low <= physics.mid <= trade.high else "size_differs"


def _per_unit(
    row: dict[str, str], rule: Rule | None, book: RuleBook, change: Change, rig: Rig
) -> float:
    """What one unit of the rule's coefficient is in this change, its middle over the rigs [%]."""
    force_lb = np.ravel(np.asarray(rig[1].draw_force_n, float)) / POUND_FORCE_N
    if rule is None:
        return float(np.median(100 * change.amount / force_lb))
    amount = _amount(row["counts"], rule, book, change, rig)
    return float(np.median(amount * 100 / force_lb if rule.shift_unit == "lb" else amount))


def _amount(counts: str, rule: Rule, book: RuleBook, change: Change, rig: Rig) -> Array:
    """How many of the rule's coefficients the change is, on every rig."""
    arrow, bow, _ = rig
    if counts == "table":
        form = rule.form
        assert isinstance(form, Table)
        x, y = book.tables[form.table, form.x, form.y]
        now = np.ravel(np.asarray(getattr(arrow, _FIELD[form.of]), float)) / _UNIT[form.of]
        after = np.asarray(interpolate(x, y, now + change.amount), float)
        more: Array = after - np.asarray(interpolate(x, y, now), float)
        return more
    if counts == "fps":
        mass = np.asarray(arrow.front_kg) + np.asarray(arrow.tail_kg)
        mass = mass + np.asarray(arrow.fletching_kg)
        mass = mass + np.asarray(arrow.mass_per_length_kg_m) * np.asarray(arrow.length_m)
        used = np.asarray(bow.stored_energy_j) * (1 - np.asarray(bow.hysteresis))
        speed = np.sqrt(2 * used / (mass + np.asarray(bow.virtual_mass_kg)))
        gained = speed * (np.sqrt(1 + change.amount / 100) - 1)
        fps: Array = np.asarray(gained / FPS_M_S, float).ravel()
        return fps
    return np.full(np.size(bow.draw_force_n), float(counts))
