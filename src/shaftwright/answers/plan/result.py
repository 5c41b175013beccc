"""The plan as data: stage, the one next thing, and every arrow shot from the bow as it stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from shaftwright.inference.belief import SEED
from shaftwright.result import Result, kept

if TYPE_CHECKING:
    from shaftwright.rules.own import OwnRule

Stage = Literal["set_up", "measure", "test_shafts", "tune", "prove", "dozen", "done"]
Kind = Literal[
    "describe", "set_up", "measure", "buy", "shoot", "cut", "point", "insert", "collar", "wrap", "shaft",
    "nocking_point", "plunger", "plate", "brace", "look_for_marks", "make_second", "broadheads",
    "make_dozen", "finish", "none",
]  # fmt: skip
Standing = Literal[
    "straight so far", "flies straight", "proven", "not clear yet", "outside", "contact", "dangerous"
]  # fmt: skip


@dataclass(frozen=True)
class Expect(Result):
    """Where the next bare centre should lie from the fletched one, archer's view, right and up positive."""

    axis: Literal["sideways", "vertical"]
    low_in: float = field(metadata=kept(digits=2))
    high_in: float = field(metadata=kept(digits=2))
    chance: float


@dataclass(frozen=True)
class Buy(Result):
    """One line to buy; so many pieces, however they are packed."""

    item: str
    quantity: int


@dataclass(frozen=True)
class Next(Result):
    """The one thing to do now."""

    stage: Stage
    kind: Kind
    #: one sentence, with shaft, length and point
    do: str
    why: str
    #: the arrow to shoot or to make next
    shaft: str | None = None
    piece: int | None = None
    length_in: float | None = None
    point: str | None = None
    insert: str | None = None
    #: in the archer's words, such as `nocking point 7/16 in above square`; None as it stands
    setting: str | None = None
    buy: tuple[Buy, ...] = ()
    bare: int | None = None
    fletched: int | None = None
    distance_yd: float | None = None
    #: the line to type once it is done
    note: str | None = None
    expect: Expect | None = None
    #: what it means when it comes as expected, and what when it does not
    then: str = ""
    if_not: str = ""
    #: of this very step, three at most
    cautions: tuple[str, ...] = ()
    #: what that line notes of the bow or of what came, as entries; an end is noted as it was shot
    noted: tuple[dict[str, Any], ...] = field(default=(), metadata=kept(json=False))


@dataclass(frozen=True)
class Shot(Result):
    """One arrow as it was shot, all its ends together."""

    shaft: str
    length_in: float
    point: str | None
    insert: str | None
    front_gr: float = field(metadata=kept(digits=1))
    #: `now`, or what stood otherwise
    setting: str
    #: 0 is the bow as it stands
    period: int
    groups: int
    shots: int
    #: straight, slightly stiff, stiff, slightly weak, weak, far too weak, not clear
    reads: str
    #: pooled centre of its ends at 20 yd, archer's view, + right; None where only words tell
    offset_in: float | None = field(metadata=kept(digits=2))
    #: that its true sideways offset lies within what the archer's groups can tell
    chance_inside: float = field(metadata=kept(digits=3))
    standing: Standing
    lines: tuple[int, ...]


@dataclass(frozen=True)
class Plan(Result):
    """The one next thing, and every arrow shot, best first."""

    next: Next
    shot: tuple[Shot, ...]
    #: rules and sizes of the archer's own that it rests on
    own_rules: tuple[OwnRule, ...] | None = field(default=None, metadata=kept(optional=True))

    def keys(self) -> dict[str, Any]:
        """What every document of a bow carries."""
        return self.to_dict() | {"seed": SEED}


def set_as(what: str, **state: Any) -> dict[str, Any]:
    """What is noted once the bow is set so, of the plunger its parts, and the line to type for it."""
    line = f"shaftwright note change {what}"
    for name, value in state.items():
        parts = value.items() if isinstance(value, dict) else [("", value)]
        for part, size in parts:
            option = f"{name}-{part}".replace("_", "-").strip("-")
            line += f' --{option} "{size}"' if " " in size else f" --{option} {size}"
    entry = {"kind": "change", "what": what} | ({"rig_state": state} if state else {})
    return {"note": line, "noted": (entry,)}
