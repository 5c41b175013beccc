"""Every single change that could be made to the build in question, with the parts at hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

from shaftwright.answers.diagnose_signs import InQuestion
from shaftwright.errors import InputError
from shaftwright.inference.evidence import bare_of
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.records.builds import Builds
from shaftwright.records.fit import cheapest, fit
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.rig import Plate, Rig
from shaftwright.records.stock import Stock, StockItem, shaft_facts
from shaftwright.resources import table
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.fits import fit_limits
from shaftwright.rules.purposes import purposes, setting
from shaftwright.units import inches

Kind = Literal["owned_part", "plate", "bought_part", "owned_shaft", "cut", "bought_shaft"]


@dataclass(frozen=True)
class Option:
    """One change.

    Attributes
    ----------
    kind : str
        What sort of trouble it is; the costs of rules/diagnosis.yaml.
    what : str
        An order to the archer.
    amount : float
        How much.
    unit : str
        gr, in or mils.
    build, bare : Builds
        The arrow after it, fletched and as it is shot bare.
    rig : Rig
        The rig after it.
    spec : BuildSpec
        The build after it.
    same_shaft : bool
        Whether it is still the same shaft, with its own stiffness.
    glued : bool
        Whether something glued in must come out for it.
    """

    kind: Kind
    what: str
    amount: float
    unit: str
    build: Builds
    bare: Builds
    rig: Rig
    spec: BuildSpec
    same_shaft: bool = True
    glued: bool = False

    @property
    def reversible(self) -> bool:
        """Whether it can be undone."""
        return self.kind != "cut"


def options_for(
    asked: InQuestion, rig: Rig, stock: Stock | None, gated: bool = False
) -> list[Option]:
    """All changes of one thing.

    Parameters
    ----------
    asked : InQuestion
        The build as it stands.
    rig : Rig
        For the purpose and the shortest safe length.
    stock : Stock or None
        What is in hand or could be bought.
    gated : bool
        While the build may be far too weak: another shaft is offered no longer than this one.

    Returns
    -------
    list of Option
        Point, insert, wrap, plate, cut, shaft.
    """
    return list(_Maker(asked, rig, stock, gated).all())


class _Maker:
    def __init__(
        self, asked: InQuestion, rig: Rig, stock: Stock | None, gated: bool = False
    ) -> None:
        self.gated = gated
        self.spec, self.stood, self.taped = asked.build.spec, asked.build.rig, asked.build.taped
        self.rig, self.stock = rig, stock
        self.now = asked.build.build
        self.named = stock is not None and self.spec.shaft is not None

    def all(self) -> Iterator[Option]:
        yield from self.parts() if self.named else self.numbers()
        yield from self.plates()
        yield from self.cuts()

    def make(
        self, kind: Kind, what: str, amount: float, unit: str, rig: Rig | None = None,
        same_shaft: bool = True, **change: Any,
    ) -> Iterator[Option]:  # fmt: skip
        spec = self.spec.model_copy(update=change)
        try:
            build = resolve_build(spec, self.stock)
        except InputError:
            return
        if same_shaft:
            # a shaft that was put on a tester keeps its measured stiffness
            build = replace(
                build, spine_mils=self.now.spine_mils, spine_sd_pct=self.now.spine_sd_pct
            )
        bare = bare_of(build, self.taped)
        yield Option(kind, what, amount, unit, build, bare, rig or self.stood, spec, same_shaft)

    def item(self, name: str | None) -> StockItem | None:
        return self.stock.by_name.get(name) if self.stock is not None and name else None

    def parts(self) -> Iterator[Option]:
        assert self.stock is not None
        shaft = self.item(self.spec.shaft)
        assert shaft is not None
        facts, limits = shaft_facts(shaft), fit_limits()
        for role in ("point", "broadhead", "insert"):
            now = self.item(getattr(self.spec, role))
            if now is None:
                continue
            for part in self.stock.of_kind(now.kind):
                gain = (part.mass_gr or 0.0) - (now.mass_gr or 0.0)
                if gain and fit(part, shaft, facts, limits).fits:
                    what = f"change the {role} from {now.item} ({now.mass_gr or 0:.0f} gr) to {_told(part)}"
                    kind: Kind = "owned_part" if part.in_hand else "bought_part"
                    change: dict[str, Any] = {role: part.item}
                    for option in self.make(kind, what, gain, "gr", **change):
                        yield replace(option, glued=role == "insert")
        if self.taped:
            yield from self.wraps(shaft)
        yield from self.shafts(shaft)

    def wraps(self, shaft: StockItem) -> Iterator[Option]:
        assert self.stock is not None
        now = self.item(self.spec.wrap)
        if now is not None:
            what = f"leave the wrap {now.item} off (tape that much less)"
            yield from self.make("owned_part", what, -(now.mass_gr or 0.0), "gr", wrap=None)
            return
        for part in self.stock.of_kind("wrap"):
            if fit(part, shaft, shaft_facts(shaft), fit_limits()).fits:
                kind: Kind = "owned_part" if part.in_hand else "bought_part"
                what = (
                    f"put a wrap on the tail: {_told(part)} (on the bare shaft, its mass in tape)"
                )
                yield from self.make(kind, what, part.mass_gr or 0.0, "gr", wrap=part.item)

    def shafts(self, now: StockItem) -> Iterator[Option]:
        """Other shafts with the same point or one in hand; the insert is the one that fits.

        Uncut, unless the gate is shut: a longer shaft asks for still more stiffness. A new one of the
        same kind too, where this one was cut.
        """
        assert self.stock is not None
        length = float(self.now.length_in[0])
        head = self.item(self.spec.point or self.spec.broadhead)
        insert = self.item(self.spec.insert)
        single = {(i.spine_mils, i.gr_per_in) for i in self.stock.of_kind("shaft") if i.pack == 1}
        rules = diagnosis_rules()
        same_one, farthest = rules.value("same_spine_share"), rules.value("farthest_spine_share")
        for shaft in self.stock.of_kind("shaft"):
            again = shaft.item == now.item
            full = shaft.full_length_in or 0.0
            if full < length or (again and (self.gated or full < length + setting("cut_step_in"))):
                continue
            same = (shaft.spine_mils, shaft.gr_per_in)
            if not again and not shaft.in_hand and shaft.pack > 1 and same in single:
                continue
            facts, limits = shaft_facts(shaft), fit_limits()
            apart = abs(facts.spine_mils / float(self.now.spine_mils[0]) - 1)
            if head is None or (apart < same_one and not again) or apart > farthest:
                continue
            change: dict[str, Any] = {
                "shaft": shaft.item,
                "length_in": length if self.gated else None,
                "nock": None,
                "collar": None,
            }
            if insert is not None and not fit(insert, shaft, facts, limits).fits:
                found = cheapest(self.stock, insert.kind, shaft, facts, limits)
                if found is None:
                    continue
                change["insert"] = found.item
            kind: Kind = "owned_shaft" if shaft.in_hand else "bought_shaft"
            gap, unit = facts.spine_mils - float(self.now.spine_mils[0]), "mils"
            if again:
                gap, unit = full - length, "in"
            role = "point" if self.spec.point else "broadhead"
            for part in self.stock.of_kind(head.kind):
                if (part is not head and not part.in_hand) or not fit(
                    part, shaft, facts, limits
                ).fits:
                    continue
                cut = self.gated and (shaft.full_length_in or 0.0) > length
                at = f"cut to {inches(length)}" if cut else "uncut"
                what = f"try a {'weaker' if gap > 0 else 'stiffer'} shaft, {at}: {shaft.item}"
                if again:
                    what = f"start again with a full-length {shaft.item}, {inches(full)}"
                what += "" if shaft.in_hand else " (to buy)"
                what += "" if part is head else f", with {_told(part)} up front"
                yield from self.make(
                    kind, what, gap, unit, None, False, **{**change, role: part.item}
                )

    def numbers(self) -> Iterator[Option]:
        """A build by numbers: steps of front mass, and usual shafts."""
        rules = diagnosis_rules()
        step, most = rules.value("front_step_gr"), int(rules.value("most_front_steps"))
        least = rules.value("least_front_gr")
        front = float(self.now.front_gr[0])
        for many in (*range(1, most + 1), *range(-1, -most - 1, -1)):
            gain = many * step
            if front + gain < least or not self.spec.by_numbers:
                continue
            what = f"{'add' if gain > 0 else 'take off'} {abs(gain):.0f} gr up front"
            yield from self.make("owned_part", what, gain, "gr", front_gr=front + gain)
        now = float(self.now.spine_mils[0])
        usual = {float(r["spine_mils"]) for r in table("usual_shafts")}
        same_one, farthest = rules.value("same_spine_share"), rules.value("farthest_spine_share")
        for spine in sorted(usual):
            if self.spec.by_numbers and same_one < abs(spine / now - 1) < farthest:
                what = f"try a {'weaker' if spine > now else 'stiffer'} shaft: spine {spine:.0f}"
                yield from self.make("bought_shaft", what, spine - now, "mils", None, False,
                                     spine_mils=spine)  # fmt: skip

    def plates(self) -> Iterator[Option]:
        bow = self.stood.bow
        if bow.rest != "shelf":
            return
        step = diagnosis_rules().value("plate_step_in")
        thickness = bow.plate.thickness_in if bow.plate else 0.0
        material = bow.plate.material if bow.plate else "unknown"
        for many in (-2, -1, 1, 2):
            new = thickness + many * step
            if new < -1e-9 or bow.plate is None:
                continue
            way = "thicker: the shaft moves out" if many > 0 else "thinner: the shaft moves in"
            what = f"make the strike plate {inches(abs(many) * step, 32)} {way}"
            plate = Plate(thickness_in=max(new, 0.0), material=material)
            rig = self.stood.model_copy(update={"bow": bow.model_copy(update={"plate": plate})})
            yield from self.make("plate", what, many * step, "in", rig)

    def cuts(self) -> Iterator[Option]:
        step = setting("cut_step_in")
        length = float(self.now.length_in[0])
        least = shortest_safe_length_in(self.rig, purposes().purposes[self.rig.purpose])
        cut, most = step, diagnosis_rules().value("most_cut_in")
        while length - cut >= least - 1e-9 and cut <= most + 1e-9:
            what = f"cut {inches(step)} from the point end, to {inches(length - step)}"
            yield from self.make("cut", what, -cut, "in", length_in=length - cut)
            cut += step


def _told(item: StockItem) -> str:
    return f"{item.item} ({item.mass_gr or 0:.0f} gr{'' if item.in_hand else ', to buy'})"
