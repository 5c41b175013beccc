"""A shop's stock and what the archer already owns: one CSV row an item."""

import re
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, model_validator

from shaftwright.physics.arrow.spine import mils_from_pounds, tube_from_size_code
from shaftwright.records.fields import (
    Bore,
    Diameter,
    MassPerInch,
    Name,
    PartMass,
    Record,
    ShaftLength,
    Spine,
    Text,
    WoodSpine,
    plain_number,
    whole_number,
)
from shaftwright.resources import table

ItemKind = Literal["shaft", "point", "broadhead", "adapter", "insert", "outsert", "bushing", "collar", "nock",
                   "fletching", "wrap", "string", "sundry"]  # fmt: skip
Material = Literal["carbon", "aluminium", "wood", "fibreglass"]

COLUMNS = ("item", "kind", "material", "spine_mils", "wood_spine_lb", "gr_per_in", "outside_diameter_in",
           "inside_diameter_in", "full_length_in", "mass_gr", "price", "pack", "in_hand",
           "spine_tolerance_mils", "mass_tolerance_gr", "straightness_in", "note")  # fmt: skip
OPTIONAL_COLUMNS = ("size_code", "rear_taper_in", "line", "in_hand_length_in")

#: kinds whose mass rides on the arrow
WEIGHED_KINDS = frozenset(
    {
        "point",
        "broadhead",
        "adapter",
        "insert",
        "outsert",
        "bushing",
        "collar",
        "nock",
        "fletching",
        "wrap",
    }
)


def _text(value: Any) -> Any:
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


class StockItem(Record):
    """One row of a stock: a shaft, a part, a string or a sundry."""

    item: Annotated[Name, BeforeValidator(_text)]
    kind: ItemKind
    material: Material | None = None
    spine_mils: Spine | None = None
    wood_spine_lb: WoodSpine | None = None
    gr_per_in: MassPerInch | None = None
    outside_diameter_in: Diameter | None = None
    inside_diameter_in: Bore | None = None
    full_length_in: ShaftLength | None = None
    mass_gr: PartMass | None = None
    price: Annotated[float, plain_number(0, 100_000)] | None = None
    pack: Annotated[int, whole_number(1, 10_000)] = 1
    in_hand: Annotated[int, whole_number(0, 100_000)] = 0
    spine_tolerance_mils: Annotated[float, plain_number(0, 300)] | None = None
    mass_tolerance_gr: Annotated[float, plain_number(0, 300)] | None = None
    straightness_in: Annotated[float, plain_number(0, 1)] | None = None
    note: Text = ""
    size_code: Annotated[Name, BeforeValidator(_text)] | None = None
    rear_taper_in: Annotated[float, plain_number(0, 20)] = 0.0
    #: shafts of one make
    line: Annotated[Name, BeforeValidator(_text)] | None = None
    #: how long those in hand are, where they were cut
    in_hand_length_in: ShaftLength | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.kind == "shaft":
            self._shaft_complete()
        elif self.kind in WEIGHED_KINDS and self.mass_gr is None:
            raise ValueError(f"a {self.kind} needs mass_gr")
        inside, outside = self.inside_diameter_in, self.outside_diameter_in
        if self.kind == "shaft" and inside and outside and inside >= outside:
            raise ValueError("inside_diameter_in must be smaller than outside_diameter_in")
        return self

    def _shaft_complete(self) -> None:
        if self.material is None:
            raise ValueError("a shaft needs material: carbon | aluminium | wood | fibreglass")
        ways = [self.spine_mils, self.wood_spine_lb, self.size_code]
        if sum(way is not None for way in ways) != 1:
            raise ValueError(
                "a shaft needs one of spine_mils, wood_spine_lb or size_code, and only one"
            )
        if self.size_code is not None:
            if self.material != "aluminium":
                raise ValueError("size_code is for aluminium tubes only")
            tube_from_size_code(self.size_code, *_metal())
        elif self.gr_per_in is None and self.mass_gr is None:
            raise ValueError("a shaft needs gr_per_in, or mass_gr with full_length_in")
        if self.full_length_in is None:
            raise ValueError("a shaft needs full_length_in")


def _metal() -> tuple[float, float]:
    row = next(r for r in table("materials") if r["material"] == "aluminium")
    return float(row["youngs_modulus_gpa"]) * 1e9, float(row["density_kg_m3"])


@dataclass(frozen=True)
class ShaftFacts:
    """What a shaft's row comes to.

    Attributes
    ----------
    spine_mils, spine_sd_pct : float
        Static spine [mils] and its own doubt, one standard deviation [%].
    gr_per_in : float
        Mass per inch [gr/in].
    outside_in, inside_in : float or None
        Diameters [in].
    """

    spine_mils: float
    spine_sd_pct: float
    gr_per_in: float
    outside_in: float | None
    inside_in: float | None


def shaft_facts(item: StockItem) -> ShaftFacts:
    """Static spine, mass per inch and diameters of a shaft, from whichever way its row tells them.

    Parameters
    ----------
    item : StockItem
        A row of kind shaft.

    Returns
    -------
    ShaftFacts
        With the shaft's own doubt: a stated tolerance is a 95 % range; otherwise the material's usual
        tolerance from tables/shaft_doubt.csv; a computed aluminium tube has the doubt of
        tables/materials.csv.
    """
    usual = {row["material"]: float(row["spine_doubt_pct"]) for row in table("shaft_doubt")}
    outside, inside = item.outside_diameter_in, item.inside_diameter_in
    per_inch = item.gr_per_in
    assert item.material is not None
    doubt = usual[item.material]
    if item.size_code is not None:
        row = next(r for r in table("materials") if r["material"] == "aluminium")
        spine, tube_mass, tube_outside, tube_inside = tube_from_size_code(item.size_code, *_metal())
        per_inch = per_inch if per_inch is not None else tube_mass
        outside, inside, doubt = (
            outside or tube_outside,
            inside or tube_inside,
            float(row["spine_doubt_pct"]),
        )
    elif item.wood_spine_lb is not None:
        spine = mils_from_pounds(item.wood_spine_lb)
    else:
        assert item.spine_mils is not None
        spine = item.spine_mils
    if item.spine_tolerance_mils is not None:
        doubt = 100 * item.spine_tolerance_mils / spine
    if per_inch is None:
        assert item.mass_gr is not None
        assert item.full_length_in is not None
        per_inch = item.mass_gr / item.full_length_in
    return ShaftFacts(spine, doubt / 1.96, per_inch, outside, inside)


@dataclass(frozen=True)
class Stock:
    """All items of one or more stock files, unique by name."""

    items: tuple[StockItem, ...] = ()
    name: str = ""
    by_name: dict[str, StockItem] = field(init=False, repr=False, compare=False)
    _by_kinds: dict[tuple[str, ...], list[StockItem]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {item.item: item for item in self.items})

    def of_kind(self, *kinds: str) -> list[StockItem]:
        """The items of these kinds, in file order."""
        if kinds not in self._by_kinds:
            self._by_kinds[kinds] = [item for item in self.items if item.kind in kinds]
        return list(self._by_kinds[kinds])


def beginning(name: str) -> str:
    """A name up to its first digit."""
    return re.split(r"\d", name, maxsplit=1)[0]


def line_of(shaft: StockItem) -> str:
    """The line a shaft belongs to: as the stock names it, else what its name begins with."""
    return shaft.line or beginning(shaft.item)
