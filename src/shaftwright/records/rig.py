"""The rig: archer, bow, string and purpose, as written in one YAML file."""

import re
from collections.abc import Sequence
from functools import reduce
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, Field, model_validator

from shaftwright.limits import Purpose
from shaftwright.records import fields
from shaftwright.records.fields import Name, Record, optional, plain_number, reader, whole_number
from shaftwright.resources import usual

Hand = Literal["right", "left", "unknown"]
Release = Literal["split", "three_under", "mechanical", "unknown"]
BowKind = Literal["selfbow", "longbow", "hybrid", "recurve", "unknown"]
Limbs = Literal["standard", "high_performance", "deep_curve", "unknown"]
Cut = Literal["past_centre", "to_centre", "short_of_centre", "none", "unknown"]
Rest = Literal["shelf", "elevated", "plunger", "unknown"]
PlateMaterial = Literal["leather", "fur", "hard", "unknown"]
StringMaterial = Literal["low_stretch", "polyester", "unknown"]


class Archer(Record):
    """Who shoots: the hand that draws, the release, the draw length."""

    written = "{hand: right, release: split, draw_length: 28 in}"

    hand: Hand
    release: Release
    draw_length_in: fields.DrawLength = Field(alias="draw_length")
    shelf_mark_in: fields.DrawLength | None = optional("shelf_mark")


CurvePoint = tuple[Annotated[float, reader("in", 3, 36)], Annotated[float, reader("lb", 0, 200)]]


def weight_in_words(said: str) -> dict[str, str | None]:
    """A draw weight as it is said and marked: `45 lb at 28 in`, `45# @ 28`, `47 lb at own draw`."""
    weight, at = (*re.split(r"\s+at\s+|\s*@\s*", said, maxsplit=1), "")[:2]
    own = at.strip().replace(" ", "_") == "own_draw"
    return {"lb": weight, "at": "own_draw" if own else at or None}


class DrawWeight(Record):
    """Draw weight: at the own draw, as marked at a stated draw, or as a measured curve."""

    written = "{lb: 47, at: own_draw}"

    lb: fields.BowWeight | None = None
    at: Literal["own_draw"] | fields.DrawLength | None = None
    curve: tuple[CurvePoint, ...] | None = None
    #: the archer has no scale, so is not asked to weigh the bow
    no_scale: bool = False

    @model_validator(mode="before")
    @classmethod
    def _in_words(cls, value: Any) -> Any:
        return weight_in_words(value) if isinstance(value, str) else value

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        ways = (
            "write {lb: 47, at: own_draw}, {lb: 45, at: 28 in} or {curve: [[draw length, lb], ...]}"
        )
        if self.curve is None:
            if self.lb is None or self.at is None:
                raise ValueError(f"needs both lb and at; {ways}")
            return self
        if self.lb is not None or self.at is not None:
            raise ValueError(f"takes a curve or lb and at, not both; {ways}")
        if not 3 <= len(self.curve) <= 500:
            raise ValueError("needs 3 to 500 points in the curve, each [draw length in, lb]")
        steps = zip(self.curve, self.curve[1:], strict=False)
        if any(later[0] <= earlier[0] or later[1] < earlier[1] for earlier, later in steps):
            raise ValueError("needs a curve whose draw length and force rise from point to point")
        return self


class Window(Record):
    """How far the riser is cut, before any plate."""

    written = "{cut: past_centre, by: 1/8 in}"

    cut: Cut
    by_in: fields.SideDistance | fields.Unknown | None = optional("by")


class Plate(Record):
    """The strike plate."""

    written = "{thickness: 1/16 in, material: leather}"

    thickness_in: fields.Thickness = Field(alias="thickness")
    material: PlateMaterial = "unknown"


class Plunger(Record):
    """A spring plunger, with `rest: plunger`."""

    written = "{spring: medium, turns: 2}"

    spring: Literal["soft", "medium", "stiff", "unknown"] = "unknown"
    turns: Annotated[float, plain_number(-20, 20)] | None = None
    #: how far the arrow's middle lies outside the string's line [in]
    out_in: fields.SideDistance | None = optional("out")
    #: how far that place was moved out since, or from the usual one where `out` is not measured [in]
    moved_in: fields.SmallLength | None = optional("moved")


class NockingPoint(Record):
    """Where the nock sits on the string."""

    written = "{above_square: 3/8 in, locators: 2}"

    above_square_in: fields.SmallLength = Field(alias="above_square")
    locators: Annotated[int, whole_number(0, 2)] | None = None


class Bow(Record):
    """The bow as it stands."""

    written = (
        "{kind: recurve, limbs: standard, draw_weight: {lb: 47, at: own_draw}, brace_height: 7 1/2 in, "
        "window: {cut: to_centre}, rest: shelf}"
    )

    kind: BowKind
    limbs: Limbs = "unknown"
    draw_weight: DrawWeight
    brace_height_in: fields.Brace | fields.Unknown = Field(alias="brace_height")
    window: Window
    rest: Rest
    maker_minimum_gr_per_lb: Annotated[float, plain_number(0, 30)] | None = None
    limbs_id: Name | None = None
    plate: Plate | None = None
    plunger: Plunger | None = None
    nocking_point: NockingPoint | None = None
    tiller_in: fields.SmallLength | None = optional("tiller")
    limb_bolt_turns: Annotated[float, plain_number(-20, 20)] | None = None
    cant_deg: Annotated[float, plain_number(-90, 90)] | None = None


class BowString(Record):
    """The string and what hangs on it."""

    written = "{material: polyester}"

    material: StringMaterial
    mass_gr: fields.StringMass | None = optional("mass")
    silencers_gr: fields.PartMass | None = optional("silencers")
    silencer_position: Annotated[float, plain_number(0, 1)] | None = None
    strands: Annotated[int, whole_number(2, 60)] | None = None
    twists: Annotated[float, plain_number(0, 200)] | None = None
    shots_on: Annotated[int, whole_number(0, 10_000_000)] | None = None


class LaunchSettings(Record):
    """Settings of the launch model that an archer may have measured; absent ones come from tables."""

    written = "{virtual_mass: 120}"

    side_fraction: Annotated[float, plain_number(0, 0.5)] | None = None
    side_travel_m: Annotated[float, reader("m", 0.001, 0.1)] | None = optional("side_travel")
    plate_stiffness_n_m: Annotated[float, plain_number(100, 1e6)] | None = None
    plate_damping_n_s_m: Annotated[float, plain_number(0, 1000)] | None = None
    string_stiffness_full_n_m: Annotated[float, plain_number(50, 5000)] | None = None
    string_stiffness_brace_n_m: Annotated[float, plain_number(50, 50000)] | None = None
    string_lateral_mass: Annotated[float, plain_number(0, 1)] | None = None
    virtual_mass_gr: Annotated[float, reader("gr", 10, 2000)] | None = optional("virtual_mass")
    energy_per_lb: Annotated[float, plain_number(0.2, 2)] | None = None
    hysteresis: Annotated[float, plain_number(0, 0.9)] | None = None


class Rig(Record):
    """One rig file."""

    format: fields.Format
    name: Name = Field(alias="rig")
    archer: Archer
    bow: Bow
    string: BowString
    launch: LaunchSettings | None = None
    purpose: Purpose = "hunting"
    units: Literal["imperial", "metric"] = "imperial"

    @model_validator(mode="after")
    def _draw_beyond_brace(self) -> Self:
        brace = self.bow.brace_height_in
        draw = self.archer.draw_length_in
        least = usual("shortest_stroke_in")
        if isinstance(brace, float) and draw - usual("grip_allowance_in") - brace < least:
            raise ValueError(
                f"leaves a power stroke under {least:g} in; check draw_length and brace_height"
            )
        curve, beyond = self.bow.draw_weight.curve, usual("curve_beyond_in")
        if curve is not None and not curve[0][0] < draw <= curve[-1][0] + beyond:
            raise ValueError(
                f"has a draw-force curve from {curve[0][0]:g} to {curve[-1][0]:g} in that does not "
                f"reach the draw length of {draw:g} in"
            )
        return self

    def at(self, name: str) -> Any:
        """One field by its dotted name, such as `bow.kind`; None where it is not there."""
        found: Any = self
        return reduce(lambda part, key: getattr(part, key, None), name.split("."), found)

    @classmethod
    def spellings(cls, path: Sequence[str]) -> tuple[str, ...]:
        """The names that a field may have in a file: as archers write it, or with its unit."""
        model: type[BaseModel] | None = cls
        for part in path[:-1]:
            info = model.model_fields.get(part) if model is not None else None
            options = (info.annotation, *getattr(info.annotation, "__args__", ())) if info else ()
            models = (o for o in options if isinstance(o, type) and issubclass(o, BaseModel))
            model = next(models, None)
        for name, info in model.model_fields.items() if model is not None else ():
            if path[-1] in (name, info.alias):
                return tuple(dict.fromkeys((info.alias or name, name)))
        return (path[-1],)

    def as_written(self) -> dict[str, Any]:
        """The rig as plain data, by the names archers write, without what was left out."""
        return self.model_dump(by_alias=True, exclude_none=True, mode="json")
