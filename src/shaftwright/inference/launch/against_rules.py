"""The rules against the launch model: sign and size of each, over random plausible rigs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.errors import InputError
from shaftwright.inference.band import Spread
from shaftwright.physics.launch.changes import Change, Rig, standard_changes
from shaftwright.physics.launch.trial import Sign, launch_signs, random_rigs
from shaftwright.resources import table
from shaftwright.rules.evaluate import interpolate
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Range, Rule, Table
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N

Array = NDArray[np.float64]

SEED: Final = 20
#: shares of pairs with the trade's sign above which model and trade agree, or contradict each other
_AGREE: Final = 0.75
_AGAINST: Final = 0.25
#: sizes within this factor of each other agree even where the rule's own range is narrower
_NEAR: Final = 1.25
#: SI in one unit of the facts that the tables of rules are read at
_UNIT: Final = {"front_gr": GRAIN_KG, "shaft_length_in": INCH_M}
_FIELD: Final = {"front_gr": "front_kg", "shaft_length_in": "length_m"}


@dataclass(frozen=True)
class RuleAgainst:
    """One rule beside the model.

    Attributes
    ----------
    code, name, case : str
        The rule; code "-" is the draw weight itself.
    kind, change : str
        The change tried: key of tables/launch_changes.csv, and its words.
    trade : Spread
        What the rule says the change asks for, in stiffness [%].
    physics : Spread
        What the model says, over rigs and settings [%].
    share : float
        Share of rigs and settings with the rule's sign; nan where the rule has none.
    pairs : int
        Rigs times settings in which the model had an answer.
    verdict : str
        agrees, size_differs, sign_unsure, contradicts, or no_trade_sign.
    note : str
        What was taken for what.
    per_unit_pct : float
        Stiffness for one unit of the rule's coefficient in this change [%].
    """

    code: str
    name: str
    case: str
    kind: str
    change: str
    trade: Spread
    physics: Spread
    share: float
    pairs: int
    verdict: str
    note: str
    per_unit_pct: float

    def as_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            **self.__dict__,
            "trade_pct": dict(self.trade.__dict__),
            "physics_pct": dict(self.physics.__dict__),
            "fitted_pct": None,
            "trade": None,
            "physics": None,
        }


@dataclass(frozen=True)
class Untried:
    """A rule that the model has no say in, and why."""

    code: str
    name: str
    why: str


@dataclass(frozen=True)
class Against:
    """The whole comparison.

    Attributes
    ----------
    rigs, draws : int
        Random rigs, and draws of the settings for each.
    rules : tuple of RuleAgainst
    untried : tuple of Untried
    """

    rigs: int
    draws: int
    rules: tuple[RuleAgainst, ...]
    untried: tuple[Untried, ...]

    def as_dict(self) -> dict[str, Any]:
        """As the JSON of `rules check --physics`."""
        kept = ("code", "name", "case", "kind", "change", "trade_pct", "physics_pct", "fitted_pct",
                "share", "pairs", "verdict", "note")  # fmt: skip
        return {
            "rigs": self.rigs,
            "draws": self.draws,
            "rules": [{k: rule.as_dict()[k] for k in kept} for rule in self.rules],
            "untried": [dict(u.__dict__) for u in self.untried],
        }


def rules_against_physics(
    book: RuleBook, rigs: int, draws: int = 2, *, seed: int = SEED
) -> Against:  # fmt: skip
    """Compare the rules with the launch model over random plausible rigs.

    Parameters
    ----------
    book : RuleBook
        The rules.
    rigs, draws : int
        Random rigs, and draws of the unmeasured settings for each.
    seed : int
        The same seed gives the same rigs.

    Returns
    -------
    Against

    Raises
    ------
    InputError
        A rule of the book that tables/physics_rules.csv says nothing of.

    Notes
    -----
    Each pair of rig and settings is its own control. Nothing in the model was fitted to the rules.
    """
    rows = table("physics_rules")
    known = {row["code"] for row in rows}
    missing = [rule.code for rule in book.rules if rule.code not in known]
    if missing:
        from shaftwright.errors import Fault

        problem = f"says nothing of {', '.join(missing)}"
        raise InputError([Fault("physics_rules.csv", problem)])
    by_kind = {change.change: change for change in standard_changes()}
    tried = [row for row in rows if row["change"]]
    kinds = list(dict.fromkeys(row["change"] for row in tried))
    signs = launch_signs(rigs, draws, changes=[by_kind[kind] for kind in kinds], seed=seed)
    found = dict(zip(kinds, signs, strict=True))
    rig = random_rigs(rigs, draws, seed=seed)
    rules = {rule.code: rule for rule in book.rules}
    return Against(
        rigs, draws,
        tuple(
            _compared(row, rules.get(row["code"]), book, found[row["change"]], rig)
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
    row: dict[str, str], rule: Rule | None, book: RuleBook, sign: Sign, rig: Rig
) -> RuleAgainst:
    per_unit = _per_unit(row, rule, book, sign.change, rig)
    one = Range(value=1, low=1, high=1)
    span = one if rule is None else rule.range_for(row["case"] or None)
    assert span is not None
    trade = _scaled(span, per_unit)
    physics = Spread(sign.mid_pct, sign.low_pct, sign.high_pct)
    share = float("nan")
    if trade.mid != 0:
        share = sign.stiffer if trade.mid > 0 else 1 - sign.stiffer
    name = "draw weight itself" if rule is None else rule.name
    return RuleAgainst(
        row["code"], name, row["case"], row["change"], sign.change.label, trade, physics, share,
        sign.pairs, _verdict(trade, physics, share), row["note"], per_unit,
    )  # fmt: skip


def _verdict(trade: Spread, physics: Spread, share: float) -> str:
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
    return float(np.median(coefficients(row["counts"], rule, book, change, rig)))


def coefficients(counts: str, rule: Rule, book: RuleBook, change: Change, rig: Rig) -> Array:
    """How many per cent of stiffness one unit of the rule's coefficient is, on every rig.

    Parameters
    ----------
    counts : str
        How the change counts in the rule's unit: a number, `table` or `fps`.
    rule : Rule
        The rule.
    book : RuleBook
        For its tables.
    change : Change
        The change tried.
    rig : tuple of LaunchArrow, LaunchBow, LaunchSettings
        n rigs.

    Returns
    -------
    array (n,)
        [%].
    """
    amount = _amount(counts, rule, book, change, rig)
    if rule.shift_unit == "lb":
        amount = amount * 100 / (np.ravel(np.asarray(rig[1].draw_force_n, float)) / POUND_FORCE_N)
    return amount


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


def _scaled(span: Range, by: float) -> Spread:
    ends = (span.low * by, span.high * by)
    return Spread(span.value * by, min(ends), max(ends))
