"""One archer and bow in each of the worlds: the same rig, hands and scatter, another truth."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from archers.world import Arrow, World, number, stream, world_of
from calibrate.worlds.launched import Launched, launched
from calibrate.worlds.sizes import Bow, Numbers, drawn, ranges, trade_lb, usual_arrow

#: name -> what is true there
WORLDS = {
    "trade": "each size anywhere in the trade's own range",
    "wide": "ranges half as wide again, with fat tails (Student's t of 4)",
    "reversed": "as trade, but front and tail work the other way for a third of the archers",
    "launch": "length, front, tail and plate as launches have them, raw",
    "smooth": "the same launches, smoothed",
}
LAUNCHED = ("launch", "smooth", "launch_even", "smooth_even", "smooth_moved")
#: worlds beside these, not of the table unless asked for
TRIALS = {
    "reversed_zero": "as reversed, but turned about 125 gr up front and 25 gr at the tail",
    "launch_even": "as launch, but the string's sideways stiffness rises evenly in every bow",
    "smooth_even": "the same launches, smoothed",
    "smooth_moved": "as smooth, but practice knows an arrow up to 60 gr and 1 1/4 in away from the usual one",
}
SIZES, PIECE, TAPE, LAUNCH, MOVED = 101, 102, 103, 104, 105
#: farthest that the arrow which practice knows lies from the usual one [in], [gr]
AWAY_IN, AWAY_GR = 1.25, 60.0
REVERSED = 1 / 3
#: one end in eight with the fletching's weight forgotten, one shaft in twenty with a bent nock
FORGOTTEN, BENT = 1 / 8, 1 / 20
BENT_IN = (2.0, 4.0)
ZERO = Numbers(28.0, 125.0, 25.0, 0.147)


@dataclass
class Elsewhere(World):
    """One archer in one of these worlds; what is wanted comes from sizes of its own."""

    name: str = "trade"
    bow: Bow | None = None
    sizes: dict[str, float] = field(default_factory=dict)
    side_in: float = 0.0
    turned: bool = False
    launches: Launched | None = None

    def wanted_lb(self, arrow: Arrow) -> float:
        """The stiffness that this bow wants of an arrow, as it is set."""
        now, first = self.setting, self.start
        wanted = self.wanted_by_numbers(numbers_of(arrow))
        if now.spring is not None and first.spring is not None:
            harder = super().wanted_lb(arrow) - self._unsprung(arrow)
            wanted += harder
        return wanted

    def _unsprung(self, arrow: Arrow) -> float:
        """The wanted stiffness of the friendly world without what a spring does."""
        now = self.setting
        self.setting = replace(now, spring=self.start.spring, turns=self.start.turns)
        try:
            return super().wanted_lb(arrow)
        finally:
            self.setting = now

    def wanted_by_numbers(self, arrow: Numbers) -> float:
        """The same without a plunger's spring."""
        assert self.bow is not None
        now, first = self.setting, self.start
        side = self.side_in + now.plate_in - first.plate_in + now.out_in - first.out_in
        return self.truth_lb(arrow, side, now.brace_in)

    def truth_lb(self, arrow: Numbers, side_in: float, brace_in: float) -> float:
        """What the world says of an arrow, by its numbers."""
        bow, sizes = self.bow, self.sizes
        assert bow is not None
        usual = usual_arrow(bow)
        if self.launches is not None:
            known = self._known(usual)
            middle = trade_lb(bow, sizes, known, self.side_in, brace_in)
            middle += sizes["collar"] * arrow.collar_gr / 10
            raw = self.name.startswith("launch")
            effect, there = (
                self.launches.effect(a, s, raw)
                for a, s in ((arrow, side_in), (known, self.side_in))
            )
            return middle * float(np.exp(effect - there))
        if self.turned:
            about = ZERO if self.name == "reversed_zero" else usual
            return trade_lb(bow, sizes, arrow, side_in, brace_in, -1.0, about)
        return trade_lb(bow, sizes, arrow, side_in, brace_in)

    def _known(self, usual: Numbers) -> Numbers:
        """The arrow about which the launches start: the usual one, but where that is moved."""
        if self.name != "smooth_moved":
            return usual
        inch, grains = stream(self.seed, MOVED).uniform(-1, 1, 2)
        return replace(
            usual,
            length_in=usual.length_in + AWAY_IN * inch,
            front_gr=usual.front_gr + AWAY_GR * grains,
        )

    def shoot(
        self, arrow: Arrow, fletched: int = 3, bare: int = 3, distance_yd: float = 20.0,
        looked: bool = False,
    ) -> dict[str, Any]:  # fmt: skip
        """An end as the friendly world shoots it; sometimes without the tape, or with a bent nock."""
        forgotten = stream(self.seed, TAPE, self.ends).random() < FORGOTTEN
        flown = replace(arrow, fletching="") if forgotten else arrow
        entry = super().shoot(flown, fletched, bare, distance_yd, looked)
        entry["build"] = arrow.build()
        bent = self._bent(arrow)
        for shot in entry["bare"]:
            moved = np.array(shot["at"]) + bent * distance_yd / 20
            shot["at"] = [round(float(v) * 2) / 2 for v in moved]
        return entry

    def _bent(self, arrow: Arrow) -> Any:
        """How far a piece's own nock throws it [in at 20 yd]."""
        random = stream(self.seed, PIECE, int(number(arrow.shaft, "spine_mils")), arrow.piece)
        if random.random() >= BENT:
            return np.zeros(2)
        angle = random.random() * 2 * np.pi
        return random.uniform(*BENT_IN) * np.array([np.cos(angle), np.sin(angle)])


def numbers_of(arrow: Arrow) -> Numbers:
    """An arrow by its numbers."""
    radius = number(arrow.shaft, "outside_diameter_in") / 2
    collar = number(arrow.collar, "mass_gr")
    return Numbers(arrow.length_in, arrow.front_gr, arrow.tail_gr, radius, collar)


def elsewhere(seed: int, name: str) -> Elsewhere:
    """The archer of a seed in a world; rig, hands and scatter are the same in all of them."""
    friendly = world_of(seed)
    rig = friendly.rig
    kind, limbs = rig["bow"]["kind"], rig["bow"]["limbs"]
    random = stream(seed, SIZES)
    sizes = drawn(random, wide=name == "wide")
    place, turned = random.random(), random.random() < REVERSED
    if rig["bow"]["rest"] == "plunger":
        # the point just outside the string's line: the shaft's centre up to an eighth out
        side = -0.147 + place / 8
    else:
        side = friendly.setting.plate_in - (
            0.125 if rig["bow"]["window"]["cut"] == "past_centre" else 0.0
        )
    own = friendly.own_lb + (
        0.0 if isinstance(rig["bow"]["draw_weight"]["at"], int) else sizes["scale"]
    )
    bow = Bow(
        own, rig["archer"]["draw_length"], kind, limbs, rig["string"]["material"] == "low_stretch",
        rig["archer"]["release"] == "three_under", float(rig["string"]["mass"]),
    )  # fmt: skip
    low, high = ranges()["inches_per_lb"]
    told = vars(friendly) | {
        "slope": float(np.clip(sizes["inches_per_lb"], low, high)), "base_lb": own, "name": name,
        "bow": bow, "sizes": sizes, "side_in": side,
        "turned": turned and name.startswith("reversed"),
    }  # fmt: skip
    if name in LAUNCHED:
        told["launches"] = launched(seed, bow, side, stream(seed, LAUNCH), name.endswith("_even"))
    return Elsewhere(**told)
