"""A bow, an archer and a shop as they truly are; nothing here asks the product.

The world differs from the engine on purpose: front mass saturates, length acts as a power of it,
offsets bend over at a foot, the weak side swings wider, the slope and every size are drawn anew for
each archer, some releases pluck, and one archer in twenty has a bow on which weak shafts slap the
plate and read stiff. The middle of what bows want is a formula of its own (`MIDDLE`), so that the
truth stays where it is when the product's rules move. This file imports nothing of the product: two
versions of it can be tried on the same archers.

Every draw comes from a stream of its own (truth, shaft, end), so that what one archer's bow is does
not depend on what was done with it.
"""

from __future__ import annotations

import csv
import zlib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.random import Generator

SHOP = Path(__file__).with_name("shop.csv")
SEED = 20_261_201
TRUTH, END, SHAFT, BROADHEAD = range(4)
#: what a 28 in shaft with 125 gr up front should be, as shares of the draw weight: the trade's, about
MIDDLE = {
    "all": 1.09, "hybrid": 0.013, "longbow": -0.07, "high_performance": 0.045, "past_centre": 0.04,
    "polyester": -0.09, "polyester on high_performance": 0.06, "plate per inch": -0.6,
    "draw beyond 28 in": 0.0095,
}  # fmt: skip
#: the narrowest and the widest that an archer's groups are taken for [in at 20 yd]
T_LEAST, T_MOST = 2.0, 3.0
SPRINGS = {"soft": -1.0, "medium": 0.0, "stiff": 1.0}


@cache
def shop_rows() -> tuple[dict[str, str], ...]:
    """Two lines of carbon shafts sold singly, points and broadheads of the same masses, inserts."""
    with SHOP.open(newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(file))


@cache
def row(item: str) -> dict[str, str]:
    """One row of the shop."""
    return next(r for r in shop_rows() if r["item"] == item)


def number(item: str | None, column: str) -> float:
    """A figure of a row; 0 where there is none."""
    return float(row(item)[column] or 0) if item else 0.0


def stream(seed: int, *keys: int) -> Generator:
    """A stream of its own."""
    return np.random.default_rng([SEED, seed, *keys])


@dataclass(frozen=True)
class Arrow:
    """One arrow as it is shot."""

    shaft: str
    piece: int
    length_in: float
    point: str
    insert: str | None = None
    collar: str | None = None
    wrap: str | None = None
    nock: str = "N246"
    fletching: str = "F3x4"

    @property
    def front_gr(self) -> float:
        """Everything up front [gr]."""
        return sum(number(part, "mass_gr") for part in (self.point, self.insert, self.collar))

    @property
    def tail_gr(self) -> float:
        """Everything at the tail [gr]."""
        return sum(number(part, "mass_gr") for part in (self.nock, self.fletching, self.wrap))

    @property
    def total_gr(self) -> float:
        """The whole arrow [gr]."""
        return self.length_in * number(self.shaft, "gr_per_in") + self.front_gr + self.tail_gr

    def build(self, broadhead: str | None = None) -> dict[str, Any]:
        """As a notebook writes it."""
        head = {"broadhead": broadhead} if broadhead else {"point": self.point}
        parts = {"insert": self.insert, "collar": self.collar, "wrap": self.wrap}
        told = {k: v for k, v in parts.items() if v}
        return {"shaft": self.shaft, "length": self.length_in, **head, **told, "nock": self.nock,
                "fletching": self.fletching}  # fmt: skip


@dataclass
class Setting:
    """What of the bow can be set, as it truly stands."""

    plate_in: float
    nocking_in: float
    brace_in: float
    spring: str | None = None
    turns: float = 0.0
    out_in: float = 0.0


@dataclass
class World:
    """One archer and bow as they truly are."""

    seed: int
    rig: dict[str, Any]
    setting: Setting
    start: Setting
    own_lb: float
    base_lb: float
    slope: float
    weak_side: float
    per_gr: float
    power: float
    per_tail_gr: float
    per_plate_in: float
    per_spring_lb: float
    per_turn_lb: float
    per_out_in: float
    nocking_right_in: float
    height_per_step: float
    fletched_sd: float
    bare_sd: float
    slaps: bool
    head_share: float
    cant_deg: float
    ends: int = 0
    _errors: dict[tuple[str, int], float] = field(default_factory=dict)

    @property
    def left(self) -> bool:
        """Whether the left hand draws."""
        return bool(self.rig["archer"]["hand"] == "left")

    @property
    def old_measure(self) -> float:
        """Half the sum of the archer's two spreads [in at 20 yd]."""
        return (self.fletched_sd + self.bare_sd) / 2

    @property
    def t_in(self) -> float:
        """The same between its narrowest and its widest [in at 20 yd]."""
        return min(max(self.old_measure, T_LEAST), T_MOST)

    def supply_lb(self, arrow: Arrow) -> float:
        """True stiffness of a shaft: the sort's own error and the piece's."""
        key = (arrow.shaft, arrow.piece)
        if key not in self._errors:
            name = zlib.crc32(arrow.shaft.encode())
            sort = stream(self.seed, SHAFT, name).normal(0, 0.02)
            piece = stream(self.seed, SHAFT, name, arrow.piece).normal(0, 0.01)
            self._errors[key] = float(sort + piece)
        return 31_499.2 / number(arrow.shaft, "spine_mils") * (1 + self._errors[key])

    def wanted_lb(self, arrow: Arrow) -> float:
        """The stiffness that this bow wants of an arrow, as it is set."""
        front = arrow.front_gr - 125
        wanted = self.base_lb + self.per_gr * 180 * float(np.tanh(front / 180))
        wanted *= (arrow.length_in / 28) ** self.power
        wanted += self.per_tail_gr * (arrow.tail_gr - 25)
        now, first = self.setting, self.start
        wanted += self.per_plate_in * (now.plate_in - first.plate_in)
        wanted += self.per_out_in * (now.out_in - first.out_in)
        if now.spring is not None and first.spring is not None:
            harder = self.per_spring_lb * (SPRINGS[now.spring] - SPRINGS[first.spring])
            harder += self.per_turn_lb * (now.turns - first.turns)
            # a spring gives way or does not: what it can do ends
            wanted -= 6 * float(np.tanh(harder / 6))
        return wanted

    def mismatch_lb(self, arrow: Arrow) -> float:
        """True mismatch, + stiff [lb]."""
        return self.supply_lb(arrow) - self.wanted_lb(arrow)

    def stiffward_in(self, arrow: Arrow) -> float:
        """True offset of the bare centre toward the stiff side [in at 20 yd]."""
        z = self.mismatch_lb(arrow)
        y = 14 * float(np.tanh(self.slope * z * (self.weak_side if z < 0 else 1) / 14))
        return 0.6 * abs(y) if self.touches(arrow) else y

    def touches(self, arrow: Arrow) -> bool:
        """Whether the shaft slaps the plate."""
        return self.slaps and self.mismatch_lb(arrow) < -0.17 * self.base_lb

    def up_in(self) -> float:
        """True offset of the bare centre in height [in at 20 yd]."""
        steps = 16 * (self.setting.nocking_in - self.nocking_right_in)
        return -10 * float(np.tanh(self.height_per_step * steps / 10))

    def share_of_wanted(self, arrow: Arrow) -> float:
        """Stiffness over what is wanted."""
        return self.supply_lb(arrow) / max(self.wanted_lb(arrow), 1.0)

    def gr_per_lb(self, arrow: Arrow) -> float:
        """Whole arrow over the draw weight."""
        return arrow.total_gr / self.own_lb

    def rig_state(self) -> dict[str, Any]:
        """What a notebook keeps of the setting, as far as the archer knows it."""
        told: dict[str, Any] = {}
        bow = self.rig["bow"]
        if "plate" in bow:
            told["plate"] = self.setting.plate_in
        if "nocking_point" in bow:
            told["nocking_point"] = self.setting.nocking_in
        if bow["brace_height"] != "unknown":
            told["brace"] = self.setting.brace_in
        return told

    def shoot(
        self, arrow: Arrow, fletched: int = 3, bare: int = 3, distance_yd: float = 20.0,
        looked: bool = False,
    ) -> dict[str, Any]:  # fmt: skip
        """An end of fletched and bare shots, as it is written down."""
        random = stream(self.seed, END, self.ends)
        self.ends += 1
        scale = distance_yd / 20
        hand = 1 if self.left else -1
        stiffward, up = self.stiffward_in(arrow), self.up_in()
        centre = np.array([hand * stiffward, up + random.normal(0, 0.5)])
        angle = np.radians(self.cant_deg)
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        aim, shift = random.normal(0, 1.0, 2), random.normal(0, 0.8, 2)
        feathered = aim + self.fletched_sd * random.normal(size=(fletched, 2))
        naked = aim + shift + centre @ turn.T + self.bare_sd * random.normal(size=(bare, 2))
        for shots, size in ((feathered, 0.4), (naked, 1.0)):
            many = len(shots)
            plucked = random.random(many) < 1 / 8
            away = random.choice([-1, 1], many) * random.uniform(5, 11, many)
            shots[:, 0] += plucked * size * away
        told = [
            {"at": _rounded(point * scale), **self._tail(random, arrow, hand * stiffward, up)}
            for point in naked
        ]
        marks = "not_looked"
        if looked:
            marks = "plate" if random.random() < (0.8 if self.touches(arrow) else 0.03) else "none"
        entry = {"kind": "bareshaft", "build": arrow.build(), "distance": distance_yd, "bare": told,
                 "taped": True, "marks": marks,
                 "fletched": [_rounded(point * scale) for point in feathered]}  # fmt: skip
        state = self.rig_state()
        return {**entry, "rig_state": state} if state else entry

    def _tail(self, random: Generator, arrow: Arrow, right: float, up: float) -> dict[str, Any]:
        """Which way a tail was seen to point: noted for 6 shots of 10, 15 of them in 100 at random."""
        if random.random() >= 0.6:
            return {}
        sign = -np.sign(right) if abs(self.mismatch_lb(arrow)) > 3 else 0
        if random.random() < 0.15:
            sign = random.choice([-1, 0, 1])
        tail: dict[str, Any] = {"side": {0: "straight", 1: "right", -1: "left"}[int(sign)]}
        tall = -np.sign(up) if abs(up) > 2 else 0
        if random.random() < 0.08:
            tall = random.choice([-1, 0, 1])
        if tall:
            tail["up"] = "high" if tall > 0 else "low"
        return {"tail": {**tail, "seen": "in_flight"}}

    def broadheads(
        self, arrow: Arrow, head: str, distance_yd: float = 20.0, each: int = 3
    ) -> dict[str, Any]:
        """Broadheads against field points.

        They lie off by a share of what the bare shaft does, as a small vane at the front would
        steer, and by what the head itself does (0.8 in), both fletched.
        """
        random = stream(self.seed, END, self.ends)
        self.ends += 1
        scale = distance_yd / 20
        hand = 1 if self.left else -1
        off = self.head_share * np.array([hand * self.stiffward_in(arrow), self.up_in()])
        own = stream(self.seed, BROADHEAD, zlib.crc32(head.encode())).normal(0, 0.8, 2)
        aim = random.normal(0, 1.0, 2)
        plain = aim + self.fletched_sd * random.normal(size=(each, 2))
        bladed = aim + off + own + 1.1 * self.fletched_sd * random.normal(size=(each, 2))
        entry = {"kind": "broadhead", "build": arrow.build(head), "distance": distance_yd,
                 "fletched": [_rounded(point * scale) for point in plain],
                 "broadhead": [_rounded(point * scale) for point in bladed]}  # fmt: skip
        state = self.rig_state()
        return {**entry, "rig_state": state} if state else entry


def _rounded(point: Any) -> list[float]:
    """As archers measure: to half an inch."""
    return [round(float(v) * 2) / 2 for v in point]


def world_of(seed: int) -> World:
    """A random rig with a hidden truth, and nothing in hand."""
    random = stream(seed, TRUTH)
    kind = str(random.choice(["recurve", "recurve", "hybrid", "longbow"]))
    plunger = kind == "recurve" and random.random() < 0.25
    hand = str(random.choice(["right", "right", "right", "left"]))
    cant = float(random.choice([0, 10, 15, 20])) * (1 if hand == "right" else -1)
    cant = 0.0 if plunger else cant
    plate = float(random.choice([0, 1 / 16, 1 / 8]))
    limbs = str(random.choice(["standard", "standard", "high_performance"]))
    cut = "past_centre" if plunger else str(random.choice(["to_centre", "past_centre"]))
    string = str(random.choice(["polyester", "low_stretch"]))
    release = str(random.choice(["split", "three_under"]))
    draw = round(float(random.uniform(26.5, 29.0)) * 4) / 4
    own = float(round(random.uniform(35, 58)))
    marked = bool(random.random() < 0.3)
    purpose = str(random.choice(["practice", "three_d", "hunting"]))
    told_nocking, told_brace = bool(random.random() < 0.5), bool(random.random() < 0.85)
    wrong = 0.0 if random.random() < 0.7 else float(random.uniform(-1 / 8, 1 / 8))
    usual = 3 / 8 if release == "split" else 1 / 2
    if marked:
        # a marked bow is out by a pound or so, and gains some two and a half an inch
        label = round(own - 2.5 * (draw - 28) + float(random.normal(0, 1.2)))
        weight: dict[str, Any] = {"lb": label, "at": 28}
    else:
        weight = {"lb": own, "at": "own_draw"}
    bow: dict[str, Any] = {
        "kind": kind, "limbs": limbs, "draw_weight": weight,
        "brace_height": 7.5 if told_brace else "unknown", "window": {"cut": cut, "by": 0.125},
        "rest": "plunger" if plunger else "shelf", "cant_deg": cant,
    }  # fmt: skip
    if plunger:
        bow["plunger"] = {"spring": "medium", "turns": 2}
    else:
        bow["plate"] = {"thickness": plate, "material": "leather"}
    if told_nocking:
        bow["nocking_point"] = {"above_square": usual, "locators": 2}
    rig = {
        "format": 1, "rig": f"rig {seed}", "purpose": purpose,
        "archer": {"hand": hand, "release": release, "draw_length": draw},
        "bow": bow, "string": {"material": string, "mass": 120, "silencers": 0},
    }  # fmt: skip
    middle = own * (
        MIDDLE["all"] + MIDDLE.get(kind, 0.0) + MIDDLE.get(limbs, 0.0) + MIDDLE.get(cut, 0.0)
        + MIDDLE.get(string, 0.0) + MIDDLE.get(f"{string} on {limbs}", 0.0)
        + MIDDLE["plate per inch"] * (0.0 if plunger else plate)
        + MIDDLE["draw beyond 28 in"] * (draw - 28)
    )  # fmt: skip
    spring = "medium" if plunger else None
    first = Setting(0.0 if plunger else plate, usual, 7.5, spring, 2.0)
    return World(
        seed, rig, first, Setting(**vars(first)), own,
        base_lb=middle + 6.0 * float(random.standard_t(6)) / 1.22,
        slope=float(np.exp(random.normal(np.log(0.95), 0.35))),
        weak_side=float(random.uniform(1.0, 1.35)),
        per_gr=own / 50 * float(random.uniform(0.045, 0.14)),
        power=float(random.uniform(1.6, 3.0)),
        per_tail_gr=float(random.uniform(-0.2, 0.03)),
        per_plate_in=float(-16 * random.uniform(0.8, 4.5)),
        per_spring_lb=float(random.uniform(1.0, 4.0)),
        per_turn_lb=float(random.uniform(0.3, 2.0)),
        per_out_in=float(-16 * random.uniform(0.8, 3.0)),
        nocking_right_in=usual + wrong,
        height_per_step=float(random.uniform(0.8, 3.5)),
        fletched_sd=float(random.uniform(2, 3)), bare_sd=float(random.uniform(3, 4.5)),
        slaps=bool(random.random() < 0.05), head_share=float(random.uniform(0.2, 0.6)),
        cant_deg=cant,
    )  # fmt: skip
