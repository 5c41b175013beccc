"""The tuning notebook: one reading an entry, appended, never rewritten."""

import hashlib
import json
import re
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    StringConstraints,
    TypeAdapter,
    model_validator,
)

from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records import fields
from shaftwright.records.fields import Label, Record, optional, plain_number, reader, whole_number
from shaftwright.records.rig import DrawWeight, Plunger, Release, StringMaterial

Reads = Literal["straight", "slightly_stiff", "stiff", "slightly_weak", "weak"]
NockSide = Literal["right", "left", "high", "low", "straight"]
Marks = Literal["none", "plate", "shelf", "not_looked"]
Point = tuple[fields.Offset, fields.Offset]


class BuildSpec(Record):
    """A build by the names of a stock, or by numbers."""

    written = "{shaft: MARSH-500, length: 29 in, point: P175}"

    shaft: Label | None = None
    length_in: fields.ShaftLength | None = optional("length")
    point: Label | None = None
    broadhead: Label | None = None
    insert: Label | None = None
    collar: Label | None = None
    nock: Label | None = None
    fletching: Label | None = None
    wrap: Label | None = None
    spine_mils: fields.Spine | None = optional("spine")
    gr_per_in: fields.MassPerInch | None = None
    diameter_in: fields.Diameter | None = optional("diameter")
    front_gr: fields.PartMass | None = optional("front")
    tail_gr: fields.PartMass | None = optional("tail")

    @property
    def by_numbers(self) -> bool:
        """Whether the build is given by numbers rather than by a stock's names."""
        return self.spine_mils is not None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        named = [
            self.point, self.broadhead, self.insert, self.collar, self.nock, self.fletching, self.wrap,
        ]  # fmt: skip
        if self.spine_mils is not None and self.shaft is not None:
            raise ValueError("takes a shaft by name or a spine by number, not both")
        if self.spine_mils is not None and any(part is not None for part in named):
            raise ValueError("by numbers takes front and tail masses, not named parts")
        if self.shaft is not None and (self.front_gr is not None or self.tail_gr is not None):
            raise ValueError("with a named shaft takes named parts, not front and tail masses")
        if self.point is not None and self.broadhead is not None:
            raise ValueError("takes a point or a broadhead, not both")
        if self.spine_mils is not None and (self.length_in is None or self.front_gr is None):
            raise ValueError("by numbers needs spine, length and front")
        return self


def _weight(value: Any) -> Any:
    """A weight alone was weighed at the own draw; one marked at another says so: `42 lb at 28 in`."""
    if isinstance(value, str):
        return value if re.search(r"\bat\b|@", value) else f"{value} at own draw"
    return {"lb": value, "at": "own_draw"} if isinstance(value, int | float) else value


def _weight_written(weight: DrawWeight) -> float | dict[str, Any] | None:
    """As `_weight` reads it."""
    return weight.lb if weight.at == "own_draw" else {"lb": weight.lb, "at": weight.at}


StateWeight = Annotated[DrawWeight, BeforeValidator(_weight), PlainSerializer(_weight_written)]


class RigState(Record):
    """What of the rig stood otherwise; a draw weight that is a number alone is the one at the own draw."""

    written = "{brace: 7 1/2 in, string: A}"

    draw_weight: StateWeight | None = None
    brace_height_in: fields.Brace | None = optional("brace")
    string: Label | None = None
    plate_in: fields.Thickness | None = optional("plate")
    nocking_point_in: fields.SmallLength | None = optional("nocking_point")
    limbs_id: Label | None = None
    plunger: Plunger | None = None
    tiller_in: fields.SmallLength | None = optional("tiller")
    release: Release | None = None
    crawl_in: fields.SmallLength | None = optional("crawl")
    draw_length_in: fields.DrawLength | None = optional("draw_length")
    string_material: StringMaterial | None = None

    def stated(self) -> dict[str, Any]:
        """What it says, by the fields' names."""
        return {n: v for n in RigState.model_fields if (v := getattr(self, n)) is not None}


class Entry(Record):
    """What every entry may carry."""

    date: fields.Day | None = None
    remark: fields.Text | None = None
    rig_state: RigState | None = None


class Tail(Record):
    """Where the tail of a bare shaft pointed."""

    written = "{side: right, how: slight}"

    side: Literal["right", "left", "straight"] | None = None
    up: Literal["high", "low", "straight"] | None = None
    how: Literal["slight", "clear"] | None = None
    seen: Literal["in_flight", "in_butt"] = "in_flight"


class Shot(Record):
    """One shot: where it struck, and where its tail pointed."""

    written = "{at: [-3.0, 0.5]}"

    at: Point
    tail: Tail | None = None


#: which of several shafts of one row was shot: 1 is the first
Piece = Annotated[int, whole_number(1, 999)]


def _shot(value: Any) -> Any:
    return {"at": value} if isinstance(value, list | tuple) else value


def _nocks(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


class BareShaft(Entry):
    """Bare shafts against fletched ones, by coordinates or only in words."""

    kind: Literal["bareshaft"] = "bareshaft"
    build: BuildSpec
    piece: Piece | None = None
    distance_yd: fields.Distance = Field(alias="distance")
    fletched: tuple[Point, ...] = ()
    bare: tuple[Annotated[Shot, BeforeValidator(_shot)], ...] = ()
    taped: bool = False
    marks: Marks = "not_looked"
    reads: Reads | None = None
    nock: Annotated[tuple[NockSide, ...], BeforeValidator(_nocks)] = ()
    cant_deg: Annotated[float, plain_number(-90, 90)] | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.bare and self.reads is None and not self.nock:
            raise ValueError("needs bare shots, or reads, or nock")
        if len(self.nock) > 2:
            raise ValueError("nock takes one word, or a list of two")
        return self


class Broadhead(Entry):
    """Broadheads against field points of the same mass, both fletched."""

    kind: Literal["broadhead"] = "broadhead"
    build: BuildSpec
    piece: Piece | None = None
    distance_yd: fields.Distance = Field(alias="distance")
    fletched: tuple[Point, ...] = ()
    broadhead: tuple[Point, ...] = ()
    together: bool | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.broadhead and self.together is None:
            raise ValueError("needs broadhead shots, or together: true | false")
        return self


class Measured(Entry):
    """The setup a measurement belongs to; any of these can group a comparison."""

    string: Label | None = None
    stringing: Label | None = None
    silencers: Label | None = None
    shaft: Label | None = None
    brace_in: fields.Brace | None = optional("brace")
    instrument: Label | None = None


class Chrono(Measured):
    """One chronograph reading."""

    kind: Literal["chrono"] = "chrono"
    speed_fps: fields.Speed = Field(alias="speed")
    arrow_mass_gr: fields.ArrowMass | None = optional("arrow_mass")
    draw_in: fields.DrawLength | None = optional("draw")
    distance_yd: Annotated[float, plain_number(0, 120)] | fields.Distance | None = optional(
        "distance"
    )


class Sound(Measured):
    """One sound-meter reading."""

    kind: Literal["sound"] = "sound"
    level_db: fields.Level = Field(alias="level")
    weighting: Literal["A", "C", "Z"] | None = None
    response: Literal["fast", "slow", "max", "peak", "steady"] | None = None
    background_db: fields.Level | None = optional("background")
    position: Label | None = None
    arrow_mass_gr: fields.ArrowMass | None = optional("arrow_mass")


class BraceReading(Entry):
    """A brace height, after so many shots on this string."""

    kind: Literal["brace"] = "brace"
    brace_in: fields.Brace = Field(alias="brace")
    shots_on: Annotated[int, whole_number(0, 10_000_000)] | None = None
    twists: Annotated[float, plain_number(0, 200)] | None = None
    string: Label | None = None


class Weigh(Entry):
    """A thing weighed, or a shaft's measured spine."""

    kind: Literal["weigh"] = "weigh"
    item: Label
    mass_gr: Annotated[float, reader("gr", 0, 20_000)] | None = optional("mass")
    spine_mils: fields.Spine | None = None
    #: of wood: what a tester with supports 26 in apart reads [lb]
    wood_spine_lb: Annotated[float, reader("lb", 10, 150)] | None = None

    @property
    def measured_mils(self) -> float | None:
        """The measured spine, however the tester tells it."""
        return (
            self.spine_mils if self.wood_spine_lb is None else mils_from_pounds(self.wood_spine_lb)
        )

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.spine_mils is not None and self.wood_spine_lb is not None:
            raise ValueError("takes spine_mils or wood_spine_lb, not both")
        if self.mass_gr is None and self.measured_mils is None:
            raise ValueError("needs mass, spine_mils or wood_spine_lb")
        return self


class Change(Entry):
    """Something about the bow was changed: a new period or a new setting starts here."""

    kind: Literal["change"] = "change"
    what: Label
    note: fields.Text | None = None


class Dozen(Entry):
    """Arrows made like the proven one: how many, and what each weighs."""

    kind: Literal["dozen"] = "dozen"
    build: BuildSpec
    made: Annotated[int, whole_number(1, 10_000)]
    masses_gr: tuple[fields.ArrowMass, ...] = Field(default=(), alias="masses")


class Have(Entry):
    """How many of an item are in hand now: bought, made, lost or broken."""

    kind: Literal["have"] = "have"
    item: Label
    count: Annotated[int, whole_number(0, 100_000)]
    length_in: fields.ShaftLength | None = optional("length")


class Withdrawn(Entry):
    """Strikes out an earlier entry, which stays in the file."""

    kind: Literal["withdrawn"] = "withdrawn"
    #: the first eight signs of the entry's `content_hash`
    of: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{8}$")]
    #: which of several entries alike, in the order of the file
    nth: Annotated[int, whole_number(1, 1_000_000)] = 1


AnyEntry = Annotated[
    BareShaft | Broadhead | Chrono | Sound | BraceReading | Weigh | Change | Dozen | Have | Withdrawn,
    Field(discriminator="kind"),
]  # fmt: skip
ENTRY: TypeAdapter[AnyEntry] = TypeAdapter(AnyEntry, config={"defer_build": True})


def plain_entry(entry: AnyEntry) -> dict[str, Any]:
    """An entry as plain data, as it is written: what was left out stays out."""
    plain = ENTRY.dump_python(
        entry, by_alias=True, exclude_none=True, exclude_defaults=True, mode="json"
    )
    return {"kind": entry.kind, **plain}


def content_key(entry: AnyEntry) -> str:
    """An entry's content as one text, the same however it was written."""
    return json.dumps(plain_entry(entry), sort_keys=True, ensure_ascii=True)


def content_hash(entry: AnyEntry) -> str:
    """What a `withdrawn` entry names another by: eight signs of its content's SHA-256."""
    return hashlib.sha256(content_key(entry).encode()).hexdigest()[:8]
