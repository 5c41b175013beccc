"""Effects of length, front, tail and plate from launches, with the settings that nobody measures drawn.

The launches of an archer are made once and kept in a file, so that every product meets the same truths;
they come from the launch physics of the product that made them, and from ranges of the worlds' own.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass, fields
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from calibrate.worlds.sizes import Bow, Numbers, ranges, usual_arrow
from numpy.random import Generator
from numpy.typing import NDArray

Array = NDArray[np.float64]
KEPT = Path(os.environ.get("WORLDS_KEPT", Path(__file__).with_name("kept")))
GRAIN_KG, INCH_M, POUND_N = 6.479891e-5, 0.0254, 4.4482216152605
AT_51_LB = 51 * POUND_N
#: a draw length is told to the throat of the grip and so much more
BEYOND_THROAT_IN = 1.75
#: changes of one thing at a time that are launched: length [in], front [gr], tail [gr], side [in]
STEPS: tuple[tuple[float, ...], ...] = (
    (-0.75, 0.75, 1.75, 2.75), (-75.0, -35.0, 50.0, 125.0), (-15.0, -7.5, 10.0, 20.0),
    (-0.125, -0.0625, 0.0625, 0.125),
)  # fmt: skip
#: settings launched: the archer's own, and others about them so far off, of their range
SETTINGS, ABOUT = 7, 0.1
#: how many of them must have a match, and how often settings are drawn anew until they have
ENOUGH, MOST_DRAWS = 5, 12
#: and how often at most, until one has any
VERY_MOST_DRAWS = 60
SCAN = np.geomspace(150, 1600, 30)
WINDOW = np.geomspace(0.62, 1.62, 19)
#: farthest that a launched effect is followed [ln of stiffness]
FARTHEST = 0.8


@dataclass(frozen=True)
class Launched:
    """Launches of one archer: the usual arrow (4,) and what each step did (4, 4, settings).

    Steps are in ln of the matched stiffness, each setting against itself; the first setting is the
    archer's own. A shaft that chatters on the plate has noisy roots: the smooth effect is a line (for front
    mass a bent one) through the medians over settings, the raw one what the archer's own setting gave.
    """

    usual: Array
    steps: Array
    redrawn: int

    @cached_property
    def _raw(self) -> list[tuple[Array, Array]]:
        found = []
        for of, values in zip(STEPS, self.steps[:, :, 0], strict=True):
            good = np.isfinite(values)
            at, told = np.append(np.array(of)[good], 0.0), np.append(values[good], 0.0)
            order = np.argsort(at)
            found.append((at[order], told[order]))
        return found

    @cached_property
    def _smooth(self) -> list[Array]:
        found = []
        for place, of in enumerate(STEPS):
            good = np.isfinite(self.steps[place]).sum(axis=1) >= SETTINGS // 2
            at = np.array(of)[good]
            told = np.nanmedian(self.steps[place][good], axis=1) if len(at) else np.zeros(0)
            powers = (1, 2) if place == FRONT and len(at) > 2 else (1,)
            table = np.stack([at**n for n in powers], axis=1)
            fit = np.linalg.lstsq(table, told, rcond=None)[0] if len(at) else np.zeros(1)
            found.append(np.append(fit, np.zeros(2 - len(fit))))
        return found

    def effect(self, arrow: Numbers, side_in: float, raw: bool) -> float:
        """Ln of the stiffness wanted, against the usual arrow's; level beyond what was launched, nearly."""
        total = 0.0
        for place, change in enumerate(_row(arrow, side_in) - self.usual):
            ends = STEPS[place][0] * 1.5, STEPS[place][-1] * 1.5
            change = float(np.clip(change, *ends))
            if raw:
                at, told = self._raw[place]
                total += float(np.interp(change, at, told))
            else:
                straight, bent = self._smooth[place]
                total += straight * change + bent * change * change
        return float(np.clip(total, -FARTHEST, FARTHEST))


FRONT = 1


def _row(arrow: Numbers, side_in: float) -> Array:
    return np.array([arrow.length_in, arrow.front_gr, arrow.tail_gr, side_in])


def launched(
    seed: int, bow: Bow, side_in: float, random: Generator, even: bool = False
) -> Launched:
    """The launches of an archer, from the file if they are there; `even` holds the string's law."""
    path = KEPT / f"{seed}{'-even' if even else ''}.json"
    if path.is_file():
        kept: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        return Launched(**{k: np.array(v) if isinstance(v, list) else v for k, v in kept.items()})
    found = _launch(bow, side_in, random, even)
    KEPT.mkdir(parents=True, exist_ok=True)
    told = {f.name: getattr(found, f.name) for f in fields(found)}
    new = path.with_suffix(f".{os.getpid()}")
    new.write_text(json.dumps(told, default=np.ndarray.tolist), encoding="utf-8")
    new.replace(path)
    return found


def _launch(bow: Bow, side_in: float, random: Generator, even: bool) -> Launched:
    """The usual arrow and one thing changed at a time, all at the same settings."""
    from shaftwright.physics.launch.match import matched_draws

    usual = _row(usual_arrow(bow), side_in)
    rows = np.array(
        [usual + np.eye(4)[place] * step for place, of in enumerate(STEPS) for step in of]
    )
    rows[:, 0] = np.maximum(rows[:, 0], bow.draw_in + 0.25)
    best: Launched | None = None
    for redrawn in range(VERY_MOST_DRAWS):
        if best is not None and redrawn >= MOST_DRAWS:
            break
        drawn = _settings(bow, random, even)
        first = matched_draws(_parts(bow, usual[None], drawn), SCAN)[0]
        if np.isfinite(first[0]) and np.isfinite(first).sum() >= ENOUGH:
            window = WINDOW[:, None, None] * np.where(
                np.isfinite(first), first, np.nanmedian(first)
            )
            base = np.where(
                np.isfinite(first),
                matched_draws(_parts(bow, usual[None], drawn), window)[0],
                np.nan,
            )
            after = matched_draws(_parts(bow, rows, drawn), window)
            found = Launched(
                usual, np.log(base / after).reshape(4, len(STEPS[0]), SETTINGS), redrawn
            )
            best = best or found
            if np.isfinite(found.steps[:, :, 0]).mean() > 0.75:
                return found
    assert best is not None, "no launch of this bow has a match"
    return best


def _settings(bow: Bow, random: Generator, even: bool) -> dict[str, Array]:
    """The archer's own settings first, then some about them."""
    of = ranges("settings")
    places = random.random((len(of), 1))
    about = ABOUT * (2 * random.random((len(of), SETTINGS)) - 1)
    about[:, 0] = 0.0
    places = np.clip(places + about, 0, 1)
    drawn = {name: a + (b - a) * at for (name, (a, b)), at in zip(of.items(), places, strict=True)}
    for name in ("string_stiffness_full_n_m", "string_stiffness_brace_n_m"):
        drawn[name] = drawn[name] * bow.own_lb * POUND_N / AT_51_LB
    if even:
        drawn["string_rise"] = np.ones(SETTINGS)
    return drawn


def _parts(bow: Bow, rows: Array, drawn: dict[str, Array]) -> Any:
    """Builds (n, 4) by settings (m,) as the launch physics wants them: (n, m)."""
    from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow, LaunchSettings

    of = dict(drawn)
    length, front, tail, side = (rows[:, i, None] + np.zeros(SETTINGS) for i in range(4))
    nock = np.minimum(tail, 12)
    force, stroke = bow.own_lb * POUND_N, (bow.draw_in - BEYOND_THROAT_IN - 7.5) * INCH_M
    arrow = LaunchArrow(
        length_m=length * INCH_M, stiffness_n_m2=1.0,
        mass_per_length_kg_m=of.pop("gr_per_in") * GRAIN_KG / INCH_M, front_kg=front * GRAIN_KG,
        tail_kg=nock * GRAIN_KG, radius_m=0.147 * INCH_M, fletching_kg=(tail - nock) * GRAIN_KG,
    )  # fmt: skip
    string = LaunchBow(
        draw_force_n=force, power_stroke_m=stroke, stored_energy_j=of.pop("fullness") * force * stroke,
        virtual_mass_kg=of.pop("virtual_mass_kg"), brace_height_m=7.5 * INCH_M,
        string_mass_kg=of.pop("string_mass_gr") * GRAIN_KG, plate_offset_m=side * INCH_M,
        hysteresis=of.pop("hysteresis"),
    )  # fmt: skip
    return arrow, string, LaunchSettings(**of)
