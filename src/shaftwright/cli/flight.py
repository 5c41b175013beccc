"""`shaftwright flight`: drop, time, wind and where the point is held."""

from __future__ import annotations

import re

import click

from shaftwright import limits
from shaftwright.cli import common
from shaftwright.errors import InputError
from shaftwright.units import distance_typed


@common.bow_command("flight", build=True)
@click.option("--distances", metavar="LIST",
              help="With commas; yards, in a metric rig metres, or with a unit: \"18 m, 30 m\".")  # fmt: skip
@click.option("--wind", default="0", metavar="SPEED", type=common.Quantity(limits.WIND),
              help="Across, toward your right; \"-10 fps\" or \"-3 m/s\" toward your left.")  # fmt: skip
@click.option("--slope", default="0", metavar="DEGREES", type=common.Quantity(limits.SLOPE, True),
              help="Sight line uphill; downhill negative.")  # fmt: skip
@click.option("--temperature", metavar="TEMP", help='Of the air: "5 C" or "41 F"; 15 C.')
@click.option("--pressure", metavar="HPA", type=common.Quantity(limits.PRESSURE, True),
              help="Of the air where you stand, not reduced to the sea.")  # fmt: skip
@click.option("--humidity", metavar="PERCENT", type=common.Quantity(limits.HUMIDITY, True),
              help="Relative; 0.")  # fmt: skip
@click.option("--altitude", metavar="HEIGHT", help='Above the sea, when no pressure: "1500 m".')
@click.option("--head", metavar="KIND", help="Shape of the head, where a name does not tell it.")
@click.option(
    "--fletch-size", metavar="SIZE", help="Such as feathers_4in, where a name does not tell."
)
@click.option("--eye-height", metavar="LENGTH", type=common.Quantity(limits.EYE),
              help="Of the eye above the nock at full draw.")  # fmt: skip
@click.option("--point-on", metavar="DISTANCE",
              help="Where your point covers the mark, likewise; sets the eye.")  # fmt: skip
@common.plot_option("A picture: .svg, .png or .pdf.")
def command(
    bow: common.Bow, distances: str | None, wind: float, slope: float, temperature: str | None,
    pressure: float | None, humidity: float | None, altitude: str | None, head: str | None,
    fletch_size: str | None, eye_height: float | None, point_on: str | None, plot_file: str | None,
    full: bool, **build: str | None,
) -> common.Answer:  # fmt: skip
    """Drop, time, what is left, wind, and where to hold the point.

    The arrow is the one that `next` names unless options name another. By numbers, --point takes
    field, broadhead or another shape of head, and --fletching takes none, short_vanes, large_vanes,
    feathers_3in, feathers_4in or feathers_5in.

    \b
    Examples:
      shaftwright flight examples/heron_marsh \\
          --shaft MARSH-500 --length "30 in" --point P175 --insert I25 --wind "10 fps"
      shaftwright flight examples/heron_marsh --spine 500 --gr-per-in 8 \\
          --length "29 1/2 in" --front "200 gr" --point broadhead --point-on "38 yd"
    """
    if build.get("spine") is not None:
        head = build.pop("point", None) or head
        fletch_size = build.pop("fletching", None) or fletch_size
    height = None
    if altitude is not None:
        height = common.Quantity(limits.HEIGHT).read(altitude, "--altitude")
    air = {"temperature_c": _celsius(temperature), "pressure_hpa": pressure,
           "humidity_pct": humidity, "height_m": height}  # fmt: skip
    spec = common.build_spec(build)
    units, on = bow.rig.units, None
    if point_on is not None:
        on = common.Quantity(limits.POINT_ON).read(distance_typed(point_on, units), "--point-on")
    found = bow.flight(
        spec, None if distances is None else _distances(distances, units),
        {name: value for name, value in air.items() if value is not None}, head, wind_fps=wind,
        slope_deg=slope, eye_in=eye_height, point_on_yd=on, fletching=fletch_size or "not_stated",
    )  # fmt: skip
    if plot_file:
        from shaftwright.render.screens.build import builds_name, flight_figure

        title = f"{builds_name(bow.builds(spec))} on {bow.rig.name}"
        common.write_picture(plot_file, lambda: flight_figure(found.result, title))
    return common.shown(found, full)


def _distances(text: str, units: str) -> tuple[float, ...]:
    parts = [part for part in text.split(",") if part.strip()]
    read = common.Quantity(limits.DISTANCE).read
    return tuple(read(distance_typed(part.strip(), units), "--distances") for part in parts)


def _celsius(text: str | None) -> float | None:
    if text is None:
        return None
    match = re.fullmatch(r"\s*([+-]?\d{1,3}(?:\.\d{1,3})?)\s*([CF]?)\s*", text)
    celsius = float(match[1]) if match else float("nan")
    if match and match[2] == "F":
        celsius = (celsius - 32) / 1.8
    low, high, *_ = limits.CELSIUS
    if not low <= celsius <= high:
        problem = f"is not usable; allowed: {low:g} to {high:g} C, or F"
        raise InputError.of("--temperature", problem, value=text)
    return celsius
