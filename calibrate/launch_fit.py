"""Predicting the next bare shaft: the launch fitted to shots against the rules' own update.

Run as `python calibrate/launch_fit.py [archers]`; writes docs/launch_fit.md.
"""

from __future__ import annotations

import datetime
import platform
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import shaftwright
from shaftwright.answers.launch.fit import Fit, fit, groups_of, offsets_of
from shaftwright.answers.launch.rig import launch_rig
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.band import stiffness_lb
from shaftwright.parameters import parameters, setting
from shaftwright.physics import normal
from shaftwright.records.builds import Builds, builds_by_numbers
from shaftwright.records.notebook import BareShaft, Change
from shaftwright.resources import constant

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "launch_fit.md"
SEED = 31
#: what is shot, in this order; the last one is predicted
SPINES = (400.0, 600.0, 500.0)
LENGTH, FRONT, TAIL, PER_INCH = 29.5, 200.0, 25.0, 8.0
DISTANCE = 20.0
SHOTS = 3

Array = NDArray[np.float64]


def _builds() -> list[Builds]:
    return [builds_by_numbers(s, LENGTH, FRONT, TAIL, PER_INCH) for s in SPINES]


def _entry(spine: float, away_in: float, rng: np.random.Generator) -> BareShaft:
    """A group as a right-handed archer notes it, with the usual scatter."""
    shift = setting("evidence.group_shift_sd_in") * rng.normal()
    bare = -away_in + shift + setting("evidence.bare_sd_in") * rng.normal(size=SHOTS)
    fletched = setting("evidence.fletched_sd_in") * rng.normal(size=SHOTS)
    return BareShaft.model_validate({
        "kind": "bareshaft", "distance": DISTANCE, "taped": True,
        "build": {"spine": spine, "gr_per_in": PER_INCH, "length": LENGTH, "front": FRONT, "tail": TAIL},
        "bare": [[round(float(x), 2), 0.0] for x in bare],
        "fletched": [[round(float(x), 2), 0.0] for x in fletched],
    })  # fmt: skip


def by_launch(found: Fit, build: Builds, distance_yd: float) -> tuple[float, float]:
    """Mean and standard deviation of the next offset, away from the riser [in]."""
    expected = offsets_of(found.on, [build], [distance_yd])[0]
    own = np.hypot(
        constant("launch_fit", "model_in") * distance_yd / 20,
        constant("launch_fit", "model_share") * expected,
    )
    mean = float(found.weights @ expected)
    return mean, float(np.sqrt(found.weights @ ((expected - mean) ** 2 + own**2)))


def by_rules(asked: Scenario, build: Builds, distance_yd: float) -> tuple[float, float]:
    """The same by the rules and what they learned."""
    wanted = asked.demand(build).draws(asked.belief)[0]
    if asked.learned is not None and asked.learned.slope.size == wanted.size:
        slope = asked.learned.slope
    else:
        slope = _slopes(wanted.size, np.random.default_rng(SEED))
    away = slope * (float(stiffness_lb(build)[0]) - wanted) * distance_yd / 20
    return float(away.mean()), float(away.std())


def _slopes(count: int, rng: np.random.Generator) -> Array:
    setting = parameters("evidence")["slope_in_per_lb"]
    below, above = normal.split_sds(setting.value, setting.low, setting.high)
    drawn = setting.value + normal.split_deviation(rng.normal(size=count), below, above)
    return np.maximum(drawn, 0.1)


def simulated(asked: Scenario, archers: int, truth: str) -> list[str]:
    """One table: errors and coverage after none, one and two groups."""
    rng = np.random.default_rng(SEED)
    builds = _builds()
    if truth == "launch":
        on = launch_rig(asked.rig, asked.demand(builds[0]), asked.speeds(), archers, seed=SEED)
        true = offsets_of(on, builds, [DISTANCE] * len(builds))
    else:
        slopes = _slopes(archers, rng)
        picked = rng.integers(0, asked.belief.size, archers)
        wanted = [asked.demand(b).draws(asked.belief)[0][picked] for b in builds]
        true = np.stack(
            [slopes * (float(stiffness_lb(b)[0]) - w) for b, w in zip(builds, wanted, strict=True)]
        )
    errors: dict[tuple[str, int], list[tuple[float, bool]]] = {}
    for archer in range(archers):
        entries = [_entry(s, float(true[i, archer]), rng) for i, s in enumerate(SPINES[:-1])]
        goal = float(true[-1, archer])
        for known in range(len(entries) + 1):
            told = entries[:known]
            learned = scenario(asked.rig, None, None, told) if told else asked
            for name, (mean, sd) in (
                (
                    "launch",
                    by_launch(fit(asked, groups_of(asked, told, None)), builds[-1], DISTANCE),
                ),
                ("rules", by_rules(learned, builds[-1], DISTANCE)),
            ):
                inside = abs(goal - mean) <= 1.96 * sd
                errors.setdefault((name, known), []).append((mean - goal, inside))
    lines = [
        "| groups shot | root mean square error, launch (in) | inside its 95 % "
        "| root mean square error, rules (in) | inside their 95 % |",
        "|---:|---:|---:|---:|---:|",
    ]
    for known in range(len(SPINES)):
        cells = []
        for name in ("launch", "rules"):
            found = errors[name, known]
            rms = float(np.sqrt(np.mean([e**2 for e, _ in found])))
            cells += [f"{rms:.1f}", f"{100 * np.mean([i for _, i in found]):.0f} %"]
        lines.append(f"| {known} | " + " | ".join(cells) + " |")
    return lines


def demo() -> list[str]:
    """The notebook of examples/: its one measured group of the new limbs, foretold before it."""
    stock = load_stock([str(ROOT / "examples" / "heron_marsh/stock.csv")])
    book = load_notebook(str(ROOT / "examples" / "heron_marsh/notebook.yaml"))
    asked = scenario(load_rig(str(ROOT / "examples" / "heron_marsh/rig.yaml"), ()))
    place = max(
        i for i, e in enumerate(book.entries) if isinstance(e, BareShaft) and e.bare and e.fletched
    )
    (group,) = groups_of(asked, [book.entries[place]], stock)
    assert any(isinstance(e, Change) for e in book.entries[:place])
    before = scenario(asked.rig, None, stock, book.entries[:place], book.lines[:place])
    lines = [
        f"Seen: {-group.away_in:+.1f} in (right +), scatter {group.sd_in:.1f} in, at "
        f"{group.distance_yd:g} yd.",
        "",
        "| foretold by | middle (in, right +) | standard deviation (in) |",
        "|---|---:|---:|",
    ]
    for name, (mean, sd) in (
        ("the launch, no group to fit", by_launch(fit(asked, ()), group.builds, group.distance_yd)),
        ("the launch, after this very group",
         by_launch(fit(asked, (group,)), group.builds, group.distance_yd)),
        ("the rules, before any shot", by_rules(asked, group.builds, group.distance_yd)),
        ("the rules, after the entries before it",
         by_rules(before, group.builds, group.distance_yd)),
    ):  # fmt: skip
        lines.append(f"| {name} | {-mean:+.1f} | {sd:.1f} |")
    return lines


def main(archers: int = 20) -> None:
    """Run and write the page."""
    rig = load_rig(str(ROOT / "examples" / "heron_marsh/rig.yaml"), ())
    asked = scenario(rig)
    bow = replace(
        asked, rig=rig.model_copy(update={"bow": rig.bow.model_copy(update={"cant_deg": 0.0})})
    )
    PAGE.write_text("\n".join([
        "# Foretelling the next bare shaft: the fitted launch against the rules",
        "",
        f"Written by `calibrate/launch_fit.py` on {datetime.date.today().isoformat()}, shaftwright "
        f"{shaftwright.__version__}, Python {platform.python_version()}, NumPy {np.__version__}: "
        f"{archers} simulated archers with each kind of truth, seed {SEED}.",
        "",
        f"The rig is the example's. Each archer shoots {SHOTS} bare and {SHOTS} fletched shafts of "
        f"spine {SPINES[0]:.0f}, then of {SPINES[1]:.0f}, at {DISTANCE:g} yd with the usual scatter; "
        f"what is foretold is where spine {SPINES[2]:.0f} truly lands, its own scatter apart.",
        "",
        "## Truths drawn from the launch model (its home ground)",
        "",
        *simulated(bow, archers, "launch"),
        "",
        "## Truths drawn from the rules (theirs)",
        "",
        *simulated(bow, archers, "rules"),
        "",
        "## The example's notebook",
        "",
        *demo(),
        "",
        "Each does best on its own ground, and neither table says which ground real bows stand on: "
        "no shots of real rigs were at hand. The notebook is invented, one group proves nothing.",
        "",
    ]), encoding="utf-8")  # fmt: skip


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
