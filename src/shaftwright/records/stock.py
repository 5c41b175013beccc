"""A shop's stock and what the archer already owns: one CSV row an item."""

import functools
import re
from dataclasses import dataclass
from typing import Annotated, Literal, Self, get_args

from pydantic import model_validator

from shaftwright.limits import MATERIALS, Material
from shaftwright.physics import normal
from shaftwright.physics.spine import mils_from_pounds, tube_from_size_code
from shaftwright.records import fields
from shaftwright.records.fields import Label, Record, plain_number, whole_number
from shaftwright.resources import constant
from shaftwright.units import Interval

ItemKind = Literal["shaft", "point", "broadhead", "adapter", "insert", "outsert", "bushing", "collar", "nock",
                   "fletching", "wrap", "string", "sundry"]  # fmt: skip

#: kinds whose mass rides on the arrow
WEIGHED_KINDS = frozenset(get_args(ItemKind)) - {"shaft", "string", "sundry"}


class StockItem(Record):
    """One row of a stock: a shaft, a part, a string or a sundry."""

    item: Label
    kind: ItemKind
    material: Material | None = None
    spine_mils: fields.Spine | None = None
    wood_spine_lb: fields.WoodSpine | None = None
    gr_per_in: fields.MassPerInch | None = None
    outside_diameter_in: fields.Diameter | None = None
    inside_diameter_in: fields.Bore | None = None
    full_length_in: fields.ShaftLength | None = None
    mass_gr: fields.PartMass | None = None
    price: Annotated[float, plain_number(0, 100_000)] | None = None
    pack: Annotated[int, whole_number(1, 10_000)] = 1
    in_hand: Annotated[int, whole_number(0, 100_000)] = 0
    spine_tolerance_mils: Annotated[float, plain_number(0, 300)] | None = None
    mass_tolerance_gr: Annotated[float, plain_number(0, 300)] | None = None
    straightness_in: Annotated[float, plain_number(0, 1)] | None = None
    note: fields.Text = ""
    size_code: Label | None = None
    rear_taper_in: Annotated[float, plain_number(0, 20)] = 0.0
    #: shafts of one make
    line: Label | None = None
    #: how long those in hand are, where they were cut
    in_hand_length_in: fields.ShaftLength | None = None

    @property
    def grains(self) -> float:
        """What a part weighs [gr]; 0 for what states none."""
        return self.mass_gr or 0.0

    @property
    def comes_in(self) -> float:
        """How long a shaft comes [in]; 0 for what states none."""
        return self.full_length_in or 0.0

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
            raise ValueError("a shaft needs material: " + " | ".join(MATERIALS))
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


NEEDED_COLUMNS = ("item", "kind")
#: what few stocks say; COLUMNS are those of the sample
OPTIONAL_COLUMNS = ("size_code", "rear_taper_in", "line", "in_hand_length_in")
COLUMNS = tuple(name for name in StockItem.model_fields if name not in OPTIONAL_COLUMNS)


def _metal() -> tuple[float, float]:
    gpa, density = (
        constant("materials", "aluminium", column=name)
        for name in ("youngs_modulus_gpa", "density_kg_m3")
    )
    return gpa * 1e9, density


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


def printed_spine(size_code: str) -> Interval | None:
    """What practice prints for a tube's size [mils]; None where nothing is known of it."""
    try:
        low, mid, high = (constant("tube_sizes", size_code, column=name)
                          for name in ("low", "spine_mils", "high"))  # fmt: skip
    except KeyError:
        return None
    return Interval(mid, low, high)


def tube_spine_words(item: StockItem) -> str | None:
    """Where a tube's spine is from and how well it is known; None for another shaft."""
    if item.size_code is None:
        return None
    facts, (by_size, *_) = shaft_facts(item), tube_from_size_code(item.size_code, *_metal())
    off = facts.spine_mils * facts.spine_sd_pct * normal.Z95 / 100
    span = f"({facts.spine_mils - off:.0f} to {facts.spine_mils + off:.0f})"
    if printed_spine(item.size_code) is None:
        return f"{by_size:.0f} by the tube's size alone {span}"
    return f"{facts.spine_mils:.0f} as usually printed {span}; the tube's size alone gives {by_size:.0f}"


@functools.lru_cache(maxsize=4096)
def shaft_facts(item: StockItem) -> ShaftFacts:
    """Static spine, mass per inch and diameters of a shaft, from whichever way its row tells them.

    A stated tolerance is a 95 % range; otherwise the doubt is the material's usual tolerance, or a
    tube's: as printed for its size, else as computed from it.
    """
    outside, inside, per_inch = item.outside_diameter_in, item.inside_diameter_in, item.gr_per_in
    doubt_of = "shaft_doubt" if item.size_code is None else "materials"
    doubt = constant(doubt_of, str(item.material), column="spine_doubt_pct")
    spine = item.spine_mils or 0.0
    if item.size_code is not None:
        spine, tube_mass, tube_outside, tube_inside = tube_from_size_code(item.size_code, *_metal())
        per_inch = tube_mass if per_inch is None else per_inch
        outside, inside = outside or tube_outside, inside or tube_inside
        printed = printed_spine(item.size_code)
        if printed is not None:
            spine, doubt = printed.mid, 50 * (printed.high - printed.low) / printed.mid
    elif item.wood_spine_lb is not None:
        spine = mils_from_pounds(item.wood_spine_lb)
    if item.spine_tolerance_mils is not None:
        doubt = 100 * item.spine_tolerance_mils / spine
    if per_inch is None:
        per_inch = (item.mass_gr or 0.0) / (item.full_length_in or 1.0)
    return ShaftFacts(spine, doubt / normal.Z95, per_inch, outside, inside)


@dataclass(frozen=True)
class Stock:
    """All items of one or more stock files, unique by name."""

    items: tuple[StockItem, ...] = ()
    name: str = ""

    @functools.cached_property
    def by_name(self) -> dict[str, StockItem]:
        """The items by their names."""
        return {item.item: item for item in self.items}

    @functools.cached_property
    def names(self) -> tuple[str, ...]:
        """The names of all items, doubles too."""
        return tuple(item.item for item in self.items)

    @functools.cached_property
    def places(self) -> dict[str, int]:
        """The place of every name."""
        return {name: place for place, name in enumerate(self.names)}

    @functools.cached_property
    def cheapest(self) -> dict[tuple[str, StockItem], StockItem | None]:
        """Of a kind the cheapest that fits a shaft, as far as it was looked for."""
        return {}

    @functools.cached_property
    def _of_kinds(self) -> dict[tuple[str, ...], list[StockItem]]:
        return {}

    def of_kind(self, *kinds: str) -> list[StockItem]:
        """The items of these kinds, in file order."""
        if kinds not in self._of_kinds:
            self._of_kinds[kinds] = [item for item in self.items if item.kind in kinds]
        return list(self._of_kinds[kinds])


def beginning(name: str) -> str:
    """A name up to its first digit."""
    return re.split(r"\d", name, maxsplit=1)[0]


def line_of(shaft: StockItem) -> str:
    """The line a shaft belongs to: as the stock names it, else what its name begins with."""
    return shaft.line or beginning(shaft.item)
