"""`shaftwright flight`: drop, time, wind and where the point is held."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.errors import InputError

_MOST_DISTANCES = 60
#: distances where none are given, in the unit of the rig
_USUAL = {
    "imperial": "10,15,20,25,30,40,50,60",
    "metric": "10 m,15 m,20 m,25 m,30 m,40 m,50 m,60 m",
}


@click.command("flight")
@common.build_options
@click.option("--distances", metavar="LIST",
              help="With commas; yards, or with a unit: \"18 m, 30 m\". 10 to 60 if left out.")  # fmt: skip
@click.option("--wind", default="0", metavar="SPEED",
              help="Across, toward your right; \"-10 fps\" or \"-3 m/s\" toward your left.")  # fmt: skip
@click.option(
    "--slope", default="0", metavar="DEGREES", help="Sight line uphill; downhill negative."
)
@click.option("--temperature", metavar="TEMP", help='Of the air: "5 C" or "41 F"; 15 C.')
@click.option(
    "--pressure", metavar="HPA", help="Of the air where you stand, not reduced to the sea."
)
@click.option("--humidity", metavar="PERCENT", help="Relative; 0.")
@click.option("--altitude", metavar="HEIGHT", help='Above the sea, when no pressure: "1500 m".')
@click.option("--head", metavar="KIND", help="Shape of the head, where a name does not tell it.")
@click.option(
    "--fletch-size", metavar="SIZE", help="Such as feathers_4in, where a name does not tell."
)
@click.option("--eye-height", metavar="LENGTH", help="Of the eye above the nock at full draw.")
@click.option(
    "--point-on", metavar="DISTANCE", help="Where your point covers the mark; sets the eye."
)
@click.option("--plot", metavar="FILE", type=click.Path(), help="A picture: .svg, .png or .pdf.")
@common.full_option
@common.bow_options
def command(
    bow: common.Bow, as_json: bool, distances: str | None, wind: str, slope: str, temperature: str | None,
    pressure: str | None, humidity: str | None, altitude: str | None, head: str | None,
    fletch_size: str | None, eye_height: str | None, point_on: str | None, plot: str | None, full: bool,
    **build: str | None,
) -> None:  # fmt: skip
    """Drop, time, what is left, wind, and where to hold the point.

    By numbers, --point takes field, broadhead or another shape of head, and --fletching takes
    none, short_vanes, large_vanes, feathers_3in, feathers_4in or feathers_5in.

    \b
    Examples:
      shaftwright flight examples/heron_marsh \\
          --shaft MARSH-500 --length "30 in" --point P175 --insert I25 --wind "10 fps"
      shaftwright flight examples/heron_marsh --spine 500 --gr-per-in 8 \\
          --length "29 1/2 in" --front "200 gr" --point broadhead --point-on "38 yd"
    """
    from dataclasses import replace

    from shaftwright.answers.flight import Conditions, air_of, drag_names, flight
    from shaftwright.errors import Fault, InputError
    from shaftwright.render.screens.build import builds_name
    from shaftwright.render.screens.flight import flight_figure, flight_text

    if plot is not None and not plot.lower().endswith((".svg", ".png", ".pdf")):
        problem = "ends in no kind of picture; allowed: .svg .png .pdf"
        raise InputError([Fault("--plot", problem, None, "", plot)])
    if build.get("spine") is not None:
        head = _word("--point", build.pop("point", None), drag_names("point")) or head
        size = _word("--fletching", build.pop("fletching", None), drag_names("fletching"))
        fletch_size = size or fletch_size
    head = _word("--head", head, drag_names("point"))
    fletch_size = _word("--fletch-size", fletch_size, drag_names("fletching"))
    conditions = Conditions(
        _distances(distances if distances is not None else _USUAL[bow.rig.units]),
        air_of(**_air(temperature, pressure, humidity, altitude)),
        _quantity("--wind", wind, "fps", -100, 100), _number("--slope", slope, -60, 60, "degrees"),
        eye_in=None if eye_height is None else _quantity("--eye-height", eye_height, "in", 0.25, 12),
        point_on_yd=None if point_on is None else _quantity("--point-on", point_on, "yd", 5, 200),
        fletching=fletch_size or "not_stated",
    )  # fmt: skip
    builds = bow.builds(build)
    named = "broadhead" if bool(builds.is_broadhead[0]) else "field"
    conditions = replace(conditions, head=head or named)
    flown = flight(bow.scenario, builds, conditions, bow.stock)
    name = builds_name(builds)
    if plot is not None:
        from shaftwright.render.pictures.figure import save

        save(flight_figure(flown, f"{name} on {bow.rig.name}"), plot)
    common.answer(bow, as_json, flown.to_dict, lambda: flight_text(flown, full))


def _bad(option: str, problem: str, value: str) -> InputError:
    from shaftwright.errors import Fault, InputError

    return InputError([Fault(option, problem, None, "", value)])


def _word(option: str, value: str | None, allowed: tuple[str, ...]) -> str | None:
    if value is not None and value not in allowed:
        raise _bad(option, f"is not known; allowed: {' '.join(allowed)}", value)
    return value


def _quantity(option: str, text: str, unit: str, low: float, high: float) -> float:
    from shaftwright.units import read_quantity

    allowed = f"allowed: {low:g} to {high:g} {unit}"
    try:
        number = read_quantity(text, unit)
    except ValueError as error:
        raise _bad(option, f"is not usable: {error}; {allowed}", text) from None
    if not low <= number <= high:
        raise _bad(option, f"is out of range; {allowed}", text)
    return number


def _number(option: str, text: str, low: float, high: float, unit: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if not low <= number <= high:
        raise _bad(option, f"is not usable; allowed: {low:g} to {high:g} {unit}", text)
    return number


def _distances(text: str) -> tuple[float, ...]:
    parts = [part for part in text.split(",") if part.strip()]
    if not 1 <= len(parts) <= _MOST_DISTANCES:
        raise _bad(
            "--distances", f"needs 1 to {_MOST_DISTANCES} distances with commas between", text
        )
    return tuple(sorted({_quantity("--distances", part, "yd", 1, 300) for part in parts}))


def _air(
    temperature: str | None, pressure: str | None, humidity: str | None, altitude: str | None
) -> dict[str, float]:  # fmt: skip
    """What is said of the air, by the names that `air_of` takes."""
    said = {}
    if temperature is not None:
        match = re.fullmatch(r"\s*([+-]?\d{1,3}(?:\.\d{1,3})?)\s*([CF]?)\s*", temperature)
        celsius = float(match[1]) if match else float("nan")
        if match and match[2] == "F":
            celsius = (celsius - 32) / 1.8
        if not -50 <= celsius <= 55:
            raise _bad("--temperature", "is not usable; allowed: -50 to 55 C, or F", temperature)
        said["temperature_c"] = celsius
    if pressure is not None:
        said["pressure_hpa"] = _number("--pressure", pressure, 300, 1100, "hPa")
    if humidity is not None:
        said["humidity_pct"] = _number("--humidity", humidity, 0, 100, "%")
    if altitude is not None:
        said["height_m"] = _quantity("--altitude", altitude, "m", -450, 6000)
    if pressure is not None and altitude is not None:
        raise _bad(
            "--altitude", "stands beside --pressure, which already tells it; give one", altitude
        )
    return said
