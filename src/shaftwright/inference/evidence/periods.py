"""Which bow each reading was taken with: periods, settings within them, and the rig as it stood.

A period begins with other limbs, another riser, string material, draw length, release or crawl, or a
draw weight more than a pound off. Everything else that is changed is a setting. What stands on one side
of a change has no order: `in_order` sorts it by content before anything is worked out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shaftwright.records.notebook import (
    AnyEntry,
    BareShaft,
    BraceReading,
    Broadhead,
    Change,
    RigState,
    content_key,
)
from shaftwright.records.rig import DrawWeight, NockingPoint, Plate, Plunger, Rig
from shaftwright.resources import usual
from shaftwright.units import length_told, pounds_told

#: what a change may be of, in the closed list
PERIODS = ("limbs", "riser", "draw_length", "release", "crawl")
SETTINGS = ("brace", "plate", "plunger", "nocking_point", "tiller", "silencers", "string", "other")
#: words of free text, as archers write them, and what they are a change of
_WORDS = (
    # of a quiver on the bow or a string of it nobody buys other arrows
    ("limbs", ("limb", r"\bbow\b(?! (?:string|quiver|sling|strap|sight))", "riser", "draw.weight")),
    ("draw_length", ("draw length",)),
    ("release", ("release", "three under", "split")),
    ("crawl", ("crawl",)),
    ("nocking_point", ("nock",)),
    ("plunger", ("plunger",)),
    ("plate", ("plate",)),
    ("brace", ("brace", "twist")),
    ("tiller", ("tiller",)),
    ("silencers", ("silencer",)),
    ("string", ("string",)),
)  # fmt: skip
_FIELDS = {
    "brace": "brace_height_in", "plate": "plate_in", "plunger": "plunger", "tiller": "tiller_in",
    "nocking_point": "nocking_point_in", "string": "string",
}  # fmt: skip

Setting = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Taken:
    """A reading and the bow it was taken with.

    Attributes
    ----------
    entry : BareShaft or Broadhead
        The reading.
    line : int
        Its line in the notebook; 0 where it has none.
    rig : Rig
        The rig as it stood; the same object for readings of the same state.
    period : int
        0 is the present one, 1 the one before the last change, and so on.
    other_limbs : bool
        Whether the limbs were others than now.
    setting : tuple of (str, str)
        What was set otherwise than now, by name and value; empty where nothing was.
    silent : bool
        Whether nothing can be learned from it, for its draw weight is not known.
    """

    entry: BareShaft | Broadhead
    line: int
    rig: Rig
    period: int
    other_limbs: bool
    setting: Setting
    silent: bool


def in_order(
    entries: Sequence[AnyEntry], lines: Sequence[int] = ()
) -> tuple[tuple[AnyEntry, ...], tuple[int, ...]]:
    """Entries between two changes sorted by content, so that the order they were written in is no matter.

    Parameters
    ----------
    entries : sequence
        A notebook's entries in file order.
    lines : sequence of int
        The line of each.

    Returns
    -------
    tuple
        Entries and their lines; changes stay where they stand, brace readings go by shots on the string.
    """
    found: list[tuple[tuple[Any, ...], AnyEntry, int]] = []
    changes = 0
    numbers = [*lines, *[0] * (len(entries) - len(lines))]
    for entry, line in zip(entries, numbers, strict=True):
        changed = isinstance(entry, Change)
        on = (entry.shots_on or 0) if isinstance(entry, BraceReading) else 0
        key = (changes, changed, str(entry.date or ""), entry.kind, on, content_key(entry))
        found.append((key, entry, line))
        changes += changed
    found.sort(key=lambda one: one[0])
    return tuple(entry for _, entry, _ in found), tuple(line for _, _, line in found)


def arrange(
    rig: Rig, entries: Sequence[AnyEntry], lines: Sequence[int] = (), before: Rig | None = None
) -> tuple[list[Taken], list[str]]:
    """Sort readings into periods and settings, each with the rig as it stood.

    Parameters
    ----------
    rig : Rig
        The rig as it stands now.
    entries : sequence
        All entries of the notebook in file order.
    lines : sequence of int
        The line of each.
    before : Rig, optional
        The rig with the old limbs, for readings from before the last change of limbs.

    Returns
    -------
    taken : list of Taken
        In file order, those whose bow is known.
    warnings : list of str
        Readings that teach nothing, and why.
    """
    history = History(rig, entries, before)
    taken: list[Taken] = []
    warnings: list[str] = []
    stood: dict[tuple[bool, str], Rig] = {}
    for index, entry in enumerate(entries):
        if not isinstance(entry, BareShaft | Broadhead):
            continue
        line = lines[index] if index < len(lines) else 0
        period = history.period(index)
        state = history.state(index)
        other = index < history.last_limbs or _labelled_other(state, rig, before)
        if other and period == 0:
            period = 1
        base = before if other and before is not None else rig
        silent = other and before is None and state.draw_weight is None
        if silent:
            warnings.append(
                f"line {line}: shot with other limbs whose draw weight is not stated: nothing is learned "
                "from it. State rig_state: {draw_weight: ..} there, or give the old rig as before.yaml"
            )
        key = (base is rig, repr(state))
        if key not in stood:
            stood[key] = as_it_stood(base, state)
        setting = history.setting(index)
        taken.append(Taken(entry, line, stood[key], period, other, setting, silent))
    return taken, warnings


class History:
    """The changes of a notebook: what each was of, and what was known of the bow on either side."""

    def __init__(self, rig: Rig, entries: Sequence[AnyEntry], before: Rig | None = None) -> None:
        self.entries, self.before = entries, before
        self.rig, self.now = rig, of_rig(rig)
        self.changes: list[tuple[int, Change, str]] = []
        self.known: list[dict[str, Any]] = []
        known = of_rig(before) if before is not None else {}
        for index, entry in enumerate(entries):
            state = entry.rig_state
            if isinstance(entry, Change):
                kind = self._kind(entry, known)
                self.known.append(dict(known))
                self.changes.append((index, entry, kind))
            if state is not None:
                known |= state.stated()
        self.last_limbs = max(
            (i for i, _, kind in self.changes if kind in ("limbs", "draw_weight")), default=-1
        )  # fmt: skip

    def period(self, index: int) -> int:
        """How many periods began after an entry; one where it states another bow than the rig file."""
        began = sum(i > index and kind not in SETTINGS for i, _, kind in self.changes)
        return began or int(self._of_another_bow(index))

    def _of_another_bow(self, index: int) -> bool:
        """Whether weight or string were others, though no change was noted since: the file was edited."""
        state = self.state(index)
        return any(
            (value := getattr(state, name)) is not None
            and name in self.now and one_scale(value, self.now[name])
            and not alike(name, value, self.now[name])
            for name in ("draw_weight", "string_material")
        )  # fmt: skip

    def state(self, index: int) -> RigState:
        """What an entry states of the bow, and where it states nothing what an earlier change set."""
        state = self.entries[index].rig_state or RigState()
        fill: dict[str, Any] = {}
        for kind, name in _FIELDS.items():
            later = [k for k, (i, _, of) in enumerate(self.changes) if i > index and of == kind]
            known = self.known[later[0]] if later and kind != "string" else {}
            if getattr(state, name) is None and name in known:
                fill[name] = known[name]
        return state.model_copy(update=fill) if fill else state

    def setting(self, index: int) -> Setting:
        """What was set otherwise than now; entries of an old period are compared with now too."""
        state, now = self.state(index), dict(self.now)
        told = [c.rig_state.string for _, c, _ in self.changes if c.rig_state is not None]
        # the label of the string on the bow: of the last change that names one
        now["string"] = next((string for string in reversed(told) if string), None)
        found = []
        for kind in SETTINGS:
            name = _FIELDS.get(kind, kind)
            value, there = getattr(state, name, None), now.get(name)
            later = [k for k, (i, _, of) in enumerate(self.changes) if i > index and of == kind]
            if later and (value is None or self._still_unsaid(later[-1], name, there)):
                what = self.changes[later[0]][1].what if kind == "other" else kind
                found.append((what.replace("_", " "), "before its change"))
            elif value is not None and there is not None and not alike(name, value, there):
                found.append((kind.replace("_", " "), value_told(value, self.rig.units)))
        return tuple(found)

    def _still_unsaid(self, place: int, name: str, there: Any) -> bool:
        """Whether a change named no new value, and the rig file still says what stood before it."""
        state, before = self.changes[place][1].rig_state, self.known[place].get(name)
        if state is not None and getattr(state, name, None) is not None:
            return False
        return there is None or (before is not None and alike(name, before, there))

    def _kind(self, change: Change, known: dict[str, Any]) -> str:
        """What a change is of: one of `PERIODS` or `draw_weight` begins a period, one of `SETTINGS` not."""
        what = change.what.strip().lower().replace("-", "_")
        state = change.rig_state or RigState()
        weight, limbs = state.draw_weight, state.limbs_id
        if what not in (*PERIODS, *SETTINGS, "draw_weight"):  # free text
            if limbs is not None or weight is not None:
                return "limbs"
            words = change.what.lower()
            what = next(
                (kind for kind, all_of in _WORDS if any(re.search(w, words) for w in all_of)),
                "other",
            )
            new_stuff = what == "string" and state.string_material is not None
            return "material" if new_stuff and self._other_material(change, state, known) else what
        if limbs is not None and known.get("limbs_id") not in (None, limbs):
            return "limbs"
        was = known.get("draw_weight")
        was = was if one_scale(weight, was) else None
        if what == "draw_weight" or (weight is not None and was is not None):
            if weight is None or was is None or not alike("draw_weight", weight, was):
                return "draw_weight"
            return "other" if what == "draw_weight" else what
        if what == "string" and self._other_material(change, state, known):
            return "material"
        return what

    def _other_material(self, change: Change, state: RigState, known: dict[str, Any]) -> bool:
        """Whether a new string is of other stuff than the one before it."""
        if state.string_material is not None:
            return known.get("string_material") != state.string_material
        if self.before is not None:
            return self.before.string.material != self.rig.string.material
        words = f"{change.what} {change.note or ''}".lower().replace("_", " ").replace("-", " ")
        return "polyester" in words and "low stretch" in words


def of_rig(rig: Rig) -> dict[str, Any]:
    """What a rig file says of the things that a notebook may state otherwise."""
    bow = rig.bow
    weight = bow.draw_weight if bow.draw_weight.curve is None else None
    told = {
        "draw_weight": weight,
        "brace_height_in": bow.brace_height_in if isinstance(bow.brace_height_in, float) else None,
        "plate_in": bow.plate.thickness_in if bow.plate else None,
        "nocking_point_in": bow.nocking_point.above_square_in if bow.nocking_point else None,
        "limbs_id": bow.limbs_id, "plunger": bow.plunger, "tiller_in": bow.tiller_in,
        "string_material": rig.string.material,
    }  # fmt: skip
    return {name: value for name, value in told.items() if value is not None}


def one_scale(one: Any, other: Any) -> bool:
    """Whether two values can be compared: weights told at two draws cannot, all else can."""
    both = isinstance(one, DrawWeight) and isinstance(other, DrawWeight)
    return not both or alike("at", one.at, other.at)


def alike(name: str, one: Any, other: Any) -> bool:
    """Whether two values of a setting are the same to an archer.

    Parameters
    ----------
    name : str
        Field of a rig state, or of a plunger.
    one, other : float, str, DrawWeight or Plunger
        The values; of a plunger only what the first one states is compared.

    Returns
    -------
    bool
        To the tolerance of tables/rig_usual.csv.
    """
    if isinstance(one, float | int) and isinstance(other, float | int):
        apart = {"brace_height_in": "brace_setting_in", "lb": "scale_lb"}
        return abs(one - other) <= usual("reading_apart", apart.get(name, "setting_in")) + 1e-9
    if isinstance(one, DrawWeight) and isinstance(other, DrawWeight):
        return one_scale(one, other) and alike("lb", one.lb, other.lb)
    if name == "plunger":  # what is stated of it counts; the rest stays as it is
        return all(alike(n, getattr(one, n), getattr(other, n, None)) for n in one.model_fields_set)
    return bool(one == other)


def value_told(value: Any, units: str = "imperial") -> str:
    """What a rig state says of one thing, in an archer's words; of a plunger only what is stated."""
    if isinstance(value, float | int):
        return length_told(value, units)
    if isinstance(value, str):
        return value
    if isinstance(value, DrawWeight):
        at = "" if value.at == "own_draw" else f" at {value_told(value.at, units)}"
        return f"{pounds_told(value.lb or 0.0)}{at}"
    parts = {
        "spring": value.spring, "turns": f"{value.turns or 0:g} turns",
        "out_in": f"{length_told(value.out_in or 0, units)} out",
        "moved_in": f"moved {length_told(value.moved_in or 0, units)}",
    }  # fmt: skip
    return ", ".join(told for name, told in parts.items() if name in value.model_fields_set)


def _labelled_other(state: RigState, rig: Rig, before: Rig | None) -> bool:
    now, was = rig.bow.limbs_id, before.bow.limbs_id if before is not None else None
    one = state.limbs_id
    return one is not None and (one != now if now is not None else one == was)


def as_it_stood(rig: Rig, state: RigState) -> Rig:
    """The rig with what an entry states otherwise.

    Parameters
    ----------
    rig : Rig
        The rig file.
    state : RigState
        What stood otherwise.

    Returns
    -------
    Rig
        The rig of that day.
    """
    bow, weight, stated = rig.bow, rig.bow.draw_weight, state.stated()

    def told(*names: str) -> dict[str, object]:
        return {name: stated[name] for name in names if name in stated}

    change = told("brace_height_in", "tiller_in", "limbs_id")
    if state.draw_weight is not None:
        new = state.draw_weight
        change["draw_weight"] = weight.model_copy(
            update={"lb": new.lb, "at": new.at, "curve": None}
        )
    elif state.draw_length_in is not None and weight.at == "own_draw":
        # what was weighed at today's draw length is not what was held at another one
        change["draw_weight"] = DrawWeight(lb=weight.lb, at=rig.archer.draw_length_in)
    if state.plate_in is not None:
        material = bow.plate.material if bow.plate else "unknown"
        change["plate"] = Plate(thickness_in=state.plate_in, material=material)
    if state.plunger is not None:
        own = state.plunger.model_dump(exclude_unset=True)
        if "out_in" in own:
            own.setdefault("moved_in", None)
        change["plunger"] = (bow.plunger or Plunger()).model_copy(update=own)
    if state.nocking_point_in is not None:
        locators = bow.nocking_point.locators if bow.nocking_point else None
        change["nocking_point"] = NockingPoint(
            above_square_in=state.nocking_point_in, locators=locators
        )
    string = {"material": state.string_material} if state.string_material else {}
    archer = told("release", "draw_length_in")
    parts = (("bow", bow, change), ("archer", rig.archer, archer), ("string", rig.string, string))
    update = {name: part.model_copy(update=new) for name, part, new in parts if new}
    return rig.model_copy(update=update) if update else rig
