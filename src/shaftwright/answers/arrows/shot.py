"""One arrow as it was shot, all its ends together: how it reads, and where it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shaftwright.answers.plan.result import Shot, Standing
from shaftwright.arrays import Array
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.evidence.learn import BareBuild, Learned
from shaftwright.inference.evidence.summary import Reading
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BareShaft, Broadhead, BuildSpec
from shaftwright.units import REFERENCE_YD

Key = tuple[object, ...]


@dataclass(frozen=True)
class End:
    """One end of bare shafts, at 20 yd in the bow's own frame (stiffward and up)."""

    reading: Reading
    side_in: float | None
    up_in: float | None
    #: long enough a distance, enough shots, no marks, and it says something
    fair: bool
    #: too wide, impact against nock, or too few shots to have a centre
    void: bool
    too_few: bool
    piece: int

    @property
    def entry(self) -> BareShaft:
        """As noted."""
        assert isinstance(self.reading.entry, BareShaft)
        return self.reading.entry

    @property
    def tail(self) -> str | None:
        """Which side the tails spoke for."""
        return self.reading.look.tail

    @property
    def shots(self) -> int:
        """Bare hits noted; 0 where only words tell it."""
        return len(self.reading.look.bare)

    @property
    def seen_right_in(self) -> float | None:
        """The bare centre at 20 yd in the archer's view, + right; None where only words tell."""
        look = self.reading.look
        if not self.shots:
            return None
        origin = look.fletched_in[:, 0].mean() if len(look.fletched_in) else 0.0
        return float(look.bare_in[look.kept, 0].mean() - origin) * REFERENCE_YD / look.distance_yd

    @property
    def fliers(self) -> int:
        """Bare hits that were left out of its centre."""
        return int((~self.reading.look.kept).sum())


def pooled(seen: Iterable[tuple[float | None, int]]) -> float | None:
    """One value of many, each with its shots; None where nothing was seen."""
    pairs = [(value, shots) for value, shots in seen if value is not None]
    return sum(v * n for v, n in pairs) / sum(n for _, n in pairs) if pairs else None


class Sized:
    """What an arrow is by itself, from its one build."""

    spec: BuildSpec
    build: Builds

    @property
    def length_in(self) -> float:
        """Shaft length [in]."""
        return float(self.build.length_in[0])

    @property
    def front_gr(self) -> float:
        """Everything up front [gr]."""
        return float(self.build.front_gr[0])

    @property
    def spine_mils(self) -> float:
        """Spine of the shaft."""
        return float(self.build.spine_mils[0])

    @cached_property
    def key(self) -> Key:
        """What makes two arrows one, however the bow was set."""
        return build_key(self.spec, self.build)


@dataclass(frozen=True, eq=False)
class Arrow(Sized):
    """One arrow as it was shot: shaft, length, front, tail and setting, with all its ends."""

    spec: BuildSpec
    #: fletched, of size 1
    build: Builds
    known: BareBuild
    period: int
    setting: tuple[tuple[str, str], ...]
    ends: tuple[End, ...]
    heads: tuple[Reading, ...]
    slope: Array
    #: what counts as straight at 20 yd [in]
    within_in: float

    @property
    def now(self) -> bool:
        """Whether bow and setting are as they stand."""
        return self.period == 0 and not self.setting

    @property
    def fair(self) -> tuple[End, ...]:
        """The ends that can prove something."""
        return tuple(e for e in self.ends if e.fair)

    @cached_property
    def counting(self) -> tuple[End, ...]:
        """The fair ends, or while there are none those shot nearer."""
        return self.fair or tuple(e for e in self.ends if not e.void and e.side_in is not None)

    @property
    def nearer_left_out(self) -> bool:
        """Whether it was shot from nearer too, which does not count beside the fair ends."""
        far = min((e.entry.distance_yd for e in self.fair), default=0.0)
        return any(e.entry.distance_yd < far - 1 for e in self.ends)

    @cached_property
    def sides_in(self) -> tuple[float, ...]:
        """Where the counting ends lie, stiffward at 20 yd; those that tell nothing left out."""
        return tuple(e.side_in for e in self.counting if e.side_in is not None)

    @cached_property
    def side_in(self) -> float | None:
        """Pooled centre, stiffward at 20 yd."""
        return pooled((e.side_in, max(e.shots, 2)) for e in self.counting)

    @cached_property
    def up_in(self) -> float | None:
        """Pooled height at 20 yd."""
        return pooled((e.up_in, max(e.shots, 2)) for e in self.counting)

    @cached_property
    def offset_in(self) -> float | None:
        """Pooled centre as the archer sees it, + right; None where only words tell."""
        return pooled((e.seen_right_in, e.shots) for e in self.counting)

    @cached_property
    def chance_inside(self) -> float:
        """Chance that the true sideways offset lies within what the groups can tell."""
        z = self.known.mismatch_lb
        inside = np.abs(z * self.slope) <= self.within_in
        words = sum(not e.shots for e in self.counting)
        if words and 2 * words >= len(self.counting):
            # an archer's word speaks of the match, not of inches
            wanted = float(stiffness_lb(self.build)[0]) - z
            inside |= np.abs(z) <= setting("matching.tolerance_pct") / 100 * np.maximum(wanted, 1.0)
        return float(inside.mean())

    @cached_property
    def chance_stiff(self) -> float:
        """Chance that it is stiff rather than weak."""
        return float(np.mean(self.known.mismatch_lb > 0))

    def chance_nearer(self, other: Arrow) -> float:
        """Chance that it is less far off than another one, or than itself as it was set otherwise."""
        own, others = self.known.mismatch_lb * self.slope, other.known.mismatch_lb * other.slope
        return float(np.mean(np.abs(own) < np.abs(others)))

    @cached_property
    def off_in(self) -> float:
        """How far off it most likely is, stiffward at 20 yd, all that is known taken together."""
        return float(np.mean(self.known.mismatch_lb * self.slope))

    @cached_property
    def marks(self) -> str:
        """marked, clean, or unknown where nobody looked often enough; `shelf` where it is only the shelf."""
        looks = [e.entry.marks for e in self.ends if e.entry.marks != "not_looked"]
        bad = [m for m in looks if m != "none"]
        clean = len(looks) - len(bad)
        if bad and clean < setting("diagnosis.clean_looks") * len(bad):
            return "plate" if "plate" in bad else "shelf"
        return "clean" if looks else "unknown"

    @property
    def never_marked(self) -> bool:
        """Whether somebody looked, and no end left a mark."""
        return {e.entry.marks for e in self.ends} - {"not_looked"} == {"none"}

    @property
    def tails_aside(self) -> bool:
        """Whether the tails of most ends point to one side; of many straight ends the impact tells."""
        sides = [e.tail for e in self.counting if e.tail is not None]
        aside = any(2 * sides.count(side) > len(sides) for side in ("stiff", "weak"))
        many = len(self.fair) >= setting("plan.patient_ends")
        return aside and not (many and self._sure_inside)

    @property
    def _sure_inside(self) -> bool:
        """Whether it lies inside in enough ends, with the chance of a proof."""
        enough = len(self.fair) >= setting("plan.proof_ends")
        return enough and self.chance_inside >= setting("plan.proof_chance")

    @property
    def inside(self) -> bool:
        """Whether the pooled centre lies inside sideways."""
        return self.side_in is not None and abs(self.side_in) <= self.within_in

    @property
    def seen_off_in(self) -> float:
        """How far off its ends lie, stiffward; what is believed where they tell nothing."""
        return self.off_in if self.side_in is None else self.side_in

    @property
    def ends_inside(self) -> float:
        """Share of the counting ends that lie inside by themselves."""
        own = self.sides_in
        return sum(abs(x) <= self.within_in for x in own) / len(own) if own else 0.0

    @property
    def contradicted(self) -> bool:
        """Whether two ends, and a good share of them, lie far out on one side, whatever the others say."""
        far = [x for e in self.fair if abs(x := e.side_in or 0.0) > 2 * self.within_in]
        most = max(sum(x > 0 for x in far), sum(x < 0 for x in far))
        share = setting("plan.far_ends_share")
        return most >= max(setting("plan.straight_ends"), share * len(self.fair))

    @property
    def level(self) -> bool:
        """Whether it lies inside in height, as far as anything tells."""
        return self.up_in is None or abs(self.up_in) <= self.within_in

    @property
    def heads_together(self) -> bool | None:
        """Whether broadheads land with the field points; None where none were shot."""
        if not self.heads:
            return None
        off = self.heads_off()
        if off is None:
            last = self.heads[-1].entry
            return isinstance(last, Broadhead) and bool(last.together)
        many = len(self.heads) >= setting("plan.heads_accept_ends")
        near = self.within_in * (setting("plan.heads_accept_share") if many else 1.0)
        return max(abs(off[0]), abs(off[1])) <= near

    def heads_off(self) -> tuple[float, float] | None:
        """Where broadheads land from the field points, stiffward and up; None where only words tell."""
        centres = [r.look.centre for r in self.heads if r.look.centre is not None]
        if not centres:
            return None
        side, up = np.mean(centres, axis=0)
        return float(side), float(up)

    @property
    def first_piece(self) -> int:
        """The number of the shaft that was shot first."""
        return min((e.piece for e in self.ends), default=1)

    @property
    def second_inside(self) -> bool:
        """Whether a second arrow made alike had its fair ends inside."""
        others = [e for e in self.fair if e.piece != self.first_piece]
        pieces = {e.piece for e in others}
        centres = (pooled((e.side_in, 1) for e in others if e.piece == p) for p in pieces)
        return any(x is not None and abs(x) <= self.within_in for x in centres)

    @cached_property
    def reads(self) -> str:
        """In an archer's word."""
        side = self.side_in
        if side is None:
            return "not clear"
        if abs(side) <= self.within_in:
            return "straight" if self.ends_inside and not self.contradicted else "not clear"
        word = "stiff" if side > 0 else "weak"
        if side < 0 and self.known.far_too_weak > 0.5:
            return "far too weak"
        return word if abs(side) >= setting("plan.plain_from_in") else f"slightly {word}"

    def standing(self, needs_second: bool, needs_heads: bool, danger: bool = False) -> Standing:
        """Where it stands, as plan and rules define it."""
        if danger:
            return "dangerous"
        if self.marks in ("plate", "shelf"):
            return "contact"
        if self.inside and not self.tails_aside and self.ends_inside and not self.contradicted:
            ends = len(self.fair)
            # of many ends the pooled centre tells, however wide they lie
            share = setting("plan.ends_inside_share")
            alike = self.ends_inside >= share or ends >= setting("plan.patient_ends")
            if ends < setting("plan.straight_ends") or not self.level or not alike:
                return "straight so far"
            if self.chance_inside < setting("plan.straight_chance"):
                return "straight so far"
            proof = self._sure_inside and (not needs_second or self.second_inside)
            if proof and (not needs_heads or self.heads_together):
                return "proven"
            return "flies straight"
        return "outside" if self.sure_outside else "not clear yet"

    @property
    def sure_outside(self) -> bool:
        """Whether it is sure on which side it is off."""
        if self.side_in is None or self.inside:
            return False
        stiff = self.side_in > 0
        alike = sum((x > 0) == stiff for x in self.sides_in)
        chance = self.chance_stiff if stiff else 1 - self.chance_stiff
        sure = chance >= setting("diagnosis.sure_side_chance")
        return alike >= setting("plan.agree_share") * len(self.sides_in) and (
            sure or self.agreeing >= setting("plan.straight_ends")
        )

    @property
    def agreeing(self) -> int:
        """How many ends lie outside on the side of the pooled centre."""
        stiff = (self.side_in or 0.0) > 0
        return sum((x > 0) == stiff and abs(x) > self.within_in for x in self.sides_in)

    def as_shot(self, standing: Standing) -> Shot:
        """For the documents."""
        return Shot(
            self.spec.shaft or f"spine {self.spec.spine_mils:g}", self.length_in,
            self.spec.point or self.spec.broadhead, self.spec.insert, self.front_gr,
            ", ".join(f"{name} {value}" for name, value in self.setting) or "now",
            self.period, len(self.ends), sum(e.shots for e in self.ends), self.reads,
            self.offset_in, self.chance_inside, standing,
            tuple(sorted(r.line for r in (*(e.reading for e in self.ends), *self.heads) if r.line)),
        )  # fmt: skip


def within_in(learned: Learned) -> float:
    """What counts as straight at 20 yd: half the sum of the archer's spreads, within the rules' limits."""
    spread = float(np.mean(learned.bare_sd + learned.fletched_sd) / 2)
    return min(max(spread, setting("plan.least_within_in")), setting("plan.most_within_in"))


def build_key(spec: BuildSpec, build: Builds) -> Key:
    """What makes two arrows one: shaft, length to 1/16 in, front to 2 gr, tail, collar."""
    shaft: Key = (spec.shaft,)
    if spec.shaft is None:
        shaft = (round(float(build.spine_mils[0])), round(float(build.gr_per_in[0]), 2))
    return (
        *shaft, round(float(build.length_in[0]) * 16), round(float(build.front_gr[0]) / 2),
        round(float(build.tail_gr[0])), spec.collar,
    )  # fmt: skip
