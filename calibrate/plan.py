# ruff: noqa: E501
"""Simulated archers who obey the plan, beside the same archers obeying the product as it stood.

Each begins with nothing and does what `next` says, to the dozen. The figures of before are data in
calibrate/before/ (run.py there makes them anew). Run `python calibrate/plan.py` for the thousand and
docs/calibration_plan.md; `--first 40000 --archers 40` prints a quick look and writes no page.
"""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import json
import os
import platform
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
from archers.obey import MOST_CHANGES, MOST_ENDS, Run, obey
from before.run import COMMIT, done

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "calibration_plan.md"
FIRST, MANY = 50_000, 1_000
RESAMPLES, SEED = 10_000, 12
#: what was changed on sight of simulated archers, and of which
CHANGED: tuple[str, ...] = (
    "Seeds 40000 to 40199 and 60000 to 60019 were looked at while the plan was built; 50000 to 50999 never before this run.",
    "On sight of them: the arrow to go on from is the one likeliest to be straight after one change; a cut takes up to three of "
    "its steps at once where it goes too far in at most 10 of 100; plate and plunger one step or two; two ends agree before a "
    "small change; a weaker shaft that would be far off uncut starts shorter; a height that no tail backs in two ends moves the "
    "nocking point beyond 2.2 standard deviations, not 1.8.",
    "The thousand ran at commit 187f8d2. On sight of its seven archers who came to sixty ends these were mended after it, and "
    "no figure here counts them: marks not asked for again under another setting, broadheads of a neighbouring weight, a "
    "simulated archer who could not move a plunger of unknown place, a weaker shaft already shot is not cut unshot.",
    "Loops that were seen and mended: broadheads of nearly the point's weight belong to the arrow with the point; the nocking "
    "point is not moved back and forth for broadheads; of many ends the pooled centre decides; a plate or plunger is set back "
    "once; a count without a length is what there is in all.",
)

Row = dict[str, Any]
WORLD = """| | engine | world |
|---|---|---|
| the middle of what a bow wants | its rules | a formula of its own (calibrate/archers/world.py), and 6 lb of doubt with fat tails |
| effect of front mass | a table falling off with mass, one factor | tanh(grains / 180), own size for each archer |
| effect of length | straight in inches | a power of the length, 1.6 to 3.0 |
| effect of tail mass | always weakens demand | either sign |
| effect of the plate | 2 lb a sixteenth on 50 lb, 1 to 4 | 0.8 to 4.5 lb |
| effect of a plunger | spring, turns and side position by its rules | half a turn 0.15 to 1 lb, its place 0.8 to 3 lb a sixteenth; a spring's whole effect ends at 6 lb |
| offset against mismatch | straight, 0.4 to 1.8 in a pound | bends over at 14 in, the weak side swings up to 1.35 times wider |
| scatter | heavy-tailed, size learned | normal (fletched 2 to 3 in, bare 3 to 4.5 in at 20 yd), one flier in eight of 5 to 11 in, a whole group's shift of 0.8 in |
| tails | sides with misreadings | noted for 60 % of the shots, 15 % of the sides and 8 % of the heights at random |
| nocking point | 0.5 to 4 in a sixteenth | 0.8 to 3.5 in a sixteenth; right from the start for 7 in 10, up to 1/8 in off for the others |
| false stiff | begins near 80 % of the stiffness wanted | one archer in twenty, from 83 %; marks in 80 % when looked for, in 3 % of the others |
| shafts | tolerance of the maker | 2 % the sort's own, 1 % each piece's |
| broadheads | none | off by 0.2 to 0.6 of what the bare shaft does, and by 0.8 in the head's own; scatter a tenth wider |
| draw weight | as the rig says | 3 in 10 know only the marked weight, a pound or so out, and own a scale |"""


def runs_of(seeds: Sequence[int], out: Path | None) -> list[Row]:
    """Every archer, as plain data; what is done already is read, what is new is added as it comes."""
    found: dict[int, Row] = {}
    if out is not None and out.is_file():
        for line in out.read_text(encoding="utf-8").splitlines():
            one = json.loads(line)
            found[one["seed"]] = one
    for seed in seeds:
        if seed not in found:
            found[seed] = _plain(obey(seed))
            if out is not None:
                with out.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(found[seed]) + "\n")
    return [found[seed] for seed in seeds]


def _plain(run: Run) -> Row:
    plain = dataclasses.asdict(run)
    plain["stages"] = [f"{s.stage} {s.kind}" for s in run.steps]
    del plain["steps"]
    return plain


@dataclasses.dataclass(frozen=True)
class Difference:
    """After less before on the same archers, with its 95 % interval."""

    name: str
    before: float
    after: float
    low: float
    high: float
    more_is_better: bool
    archers: int

    @property
    def verdict(self) -> str:
        """In words."""
        good, bad = (self.low, self.high) if self.more_is_better else (-self.high, -self.low)
        return "better" if good > 0 else "worse" if bad < 0 else "not worse"


def paired(
    name: str, before: Sequence[float], after: Sequence[float], more_is_better: bool
) -> Difference:
    """A paired bootstrap of the mean difference."""
    one, two = np.asarray(before, float), np.asarray(after, float)
    apart = two - one
    draws = np.random.default_rng(SEED).integers(0, len(apart), (RESAMPLES, len(apart)))
    low, high = np.quantile(apart[draws].mean(axis=1), [0.025, 0.975])
    return Difference(
        name, float(one.mean()), float(two.mean()), float(low), float(high), more_is_better, len(one)
    )  # fmt: skip


def inside(off: float | None, within: float) -> bool:
    """Whether a true offset lies inside."""
    return off is not None and abs(off) < within


def compared(after: Sequence[Row], before: Sequence[Row]) -> list[Difference]:
    """Everything that both have, on the same archers."""
    pairs = list(zip(before, after, strict=True))
    found = []
    for moment, called in (("so_far", "straight so far"), ("straight", "flies straight")):
        found += _at(moment, called, pairs)
    return found


def _at(moment: str, called: str, pairs: Sequence[tuple[Row, Row]]) -> list[Difference]:
    """At the moment an arrow is first called so by the plan, against the stop of the product before."""

    def value(row: Row, key: str) -> float | None:
        return row[moment][key] if row[moment] else None

    def truly(row: Row, within: str) -> bool:
        return inside(value(row, "off_in"), row[within])

    found = [
        paired(
            f"{called}, and truly inside {measure}",
            [bool(b["straight"]) and inside(b["off_in"], b[within]) for b, _ in pairs],
            [truly(a, within) for _, a in pairs],
            True,
        )
        for measure, within in (("T", "t_in"), ("the old measure", "old_measure_in"))
    ]
    found.append(
        paired(
            f"{called}, and truly inside T sideways and in height",
            [
                bool(b["straight"])
                and inside(b["off_in"], b["t_in"])
                and inside(b["up_in"], b["t_in"])
                for b, _ in pairs
            ],
            [truly(a, "t_in") and inside(value(a, "up_in"), a["t_in"]) for _, a in pairs],
            True,
        )
    )
    both = [(b, a) for b, a in pairs if b["straight"] and a[moment]]
    if both:
        found += [
            paired(
                f"{key} until {called}, where both got there",
                [b[key] for b, _ in both], [a[moment][key] for _, a in both], False,
            )
            for key in ("changes", "ends", "shafts")
        ]  # fmt: skip
    found.append(
        paired(
            f"changes until {called}, {MOST_CHANGES} for those who never got there",
            [min(b["changes"], MOST_CHANGES) if b["straight"] else MOST_CHANGES for b, _ in pairs],
            [
                min(a[moment]["changes"], MOST_CHANGES) if a[moment] else MOST_CHANGES
                for _, a in pairs
            ],
            False,
        )
    )
    return found


def summary(after: Sequence[Row], before: Sequence[Row]) -> dict[str, Any]:
    """All figures of the page."""
    many = len(after)
    dozen = [r for r in after if r["dozen"]]
    proved = [r for r in dozen if r["so_far"]]

    def share(test: Callable[[Row], bool], of: Sequence[Row] = after) -> float:
        return sum(map(test, of)) / len(of) if of else float("nan")

    def mean(value: Callable[[Row], float], of: Sequence[Row]) -> float:
        return sum(map(value, of)) / len(of) if of else float("nan")

    ranges = [(low, high, seen) for r in after for low, high, _, seen in r["ranges"]]
    return {
        "archers": many,
        "paired": compared(after, before),
        "reached the dozen": share(lambda r: bool(r["dozen"])),
        "of these truly inside T": share(lambda r: inside(r["dozen"]["off_in"], r["t_in"]), dozen),
        "of these truly inside the old measure": share(
            lambda r: inside(r["dozen"]["off_in"], r["old_measure_in"]), dozen
        ),
        "of these inside T in height too": share(
            lambda r: (
                inside(r["dozen"]["off_in"], r["t_in"]) and inside(r["dozen"]["up_in"], r["t_in"])
            ),
            dozen,
        ),
        "changes to the dozen": mean(lambda r: r["dozen"]["changes"], dozen),
        "ends to the dozen": mean(lambda r: r["dozen"]["ends"], dozen),
        "shafts bought to the dozen": mean(lambda r: r["dozen"]["shafts"], dozen),
        "proof adds, after straight so far, ends": mean(
            lambda r: r["dozen"]["ends"] - r["so_far"]["ends"], proved
        ),
        "proof adds, after straight so far, shafts": mean(
            lambda r: r["dozen"]["shafts"] - r["so_far"]["shafts"], proved
        ),
        "proof adds, after straight so far, changes": mean(
            lambda r: r["dozen"]["changes"] - r["so_far"]["changes"], proved
        ),
        "needless ends": sum(r["needless"] for r in after) / many,
        "ends beyond three, one of a second and one of broadheads": mean(
            lambda r: r["beyond_proof"], dozen
        ),
        "archers who made an arrow a third time": sum(r["third_time"] > 0 for r in after),
        f"unfinished after {MOST_CHANGES} changes": sum(r["ended"] == "changes" for r in after),
        f"unfinished after {MOST_ENDS} ends": sum(r["ended"] in ("ends", "steps") for r in after),
        "told nothing is left": sum(r["ended"] == "none" and not r["dozen"] for r in after),
        "told what cannot be done": sum(bool(r["faults"]) for r in after),
        "arrows told to be shot though truly far too weak": sum(r["far_too_weak"] for r in after),
        "arrows told to be shot though under 7 gr/lb": sum(r["under_floor"] for r in after),
        "ended": dict(Counter(r["ended"] for r in after)),
        "ended before": dict(Counter(r["ended"] for r in before)),
        "ranges": len(ranges),
        "ranges held": (
            sum(low <= seen <= high for low, high, seen in ranges) / len(ranges) if ranges else 0.0
        ),
        "cpu_s": mean(lambda r: r["cpu_s"], after),
    }


def told(difference: Difference) -> str:
    """A row of the table."""
    shares = difference.more_is_better

    def figure(value: float, sign: str = "") -> str:
        return f"{100 * value:{sign}.1f} %" if shares else f"{value:{sign}.2f}"

    return (
        f"| {difference.name} | {figure(difference.before)} | {figure(difference.after)} | "
        f"{figure(difference.after - difference.before, '+')} ({figure(difference.low, '+')} to "
        f"{figure(difference.high, '+')}) | {difference.verdict} | {difference.archers} |"
    )


def page(found: dict[str, Any], first: int) -> str:
    """The run as a page of the documentation."""
    commit = subprocess.run(
        ["git", "describe", "--always", "--dirty"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()  # fmt: skip
    many = found["archers"]
    rows = "\n".join(told(d) for d in found["paired"])
    plain = []
    for name, value in found.items():
        if isinstance(value, float) and name != "cpu_s":
            share = name.startswith(("reached", "of these", "ranges"))
            plain.append(f"| {name} | {f'{100 * value:.1f} %' if share else f'{value:.2f}'} |")
        elif isinstance(value, int) and name != "archers":
            plain.append(f"| {name} | {value} |")
    changed = "\n".join(f"* {one}" for one in CHANGED) or "Nothing."
    return f"""# Archers who obey the plan

Written by `python calibrate/plan.py` on {dt.date.today().isoformat()}: Python {platform.python_version()},
numpy {np.__version__}, commit {commit}; {many} random archers, seeds {first} to {first + many - 1},
{found["cpu_s"]:.1f} s each on one core.

Each begins with a bow and nothing else, in a shop of two lines of carbon shafts sold singly, and does
exactly what `next` says: buys, cuts, sets, shoots, looks for marks, notes it, asks again, until the
dozen is made. Before: the same archers in the product of commit {COMMIT}, who buy the kit that its
`shop` names, start with the arrow that its `choose` names, and do what its `bareshaft` says until it
says stop (calibrate/before/). A change is another arrow or another setting than the last one shot.
T is half the sum of the archer's two spreads, but no less than 2 and no more than 3 in at 20 yd; the old
measure is the same without these ends. Truly inside is about the truth of the simulation, sideways.
The plan calls an arrow straight twice: `straight so far` after one end, which is where proving begins, and
`flies straight` after two or more. Both stand against the stop of the product before, which had one name for it.

## Beside the product as it stood

| | before | after | difference (95 %, paired) | | archers |
|---|---|---|---|---|---|
{rows}

Better or worse: the interval lies on one side of nought. How they ended before: {found["ended before"]}.

![Share truly inside T when first called straight](calibration_plan.svg)

## To the dozen

| | |
|---|---|
{chr(10).join(plain)}

How they ended: {found["ended"]} (finish: the dozen noted as made; none: told that nothing in hand or in the
shop mends it). What proof adds stands apart from what tuning takes. A needless end is one shot on an arrow
that had three fair ends and a chance of 0.8 already. Stated ranges are for 80 in 100.

## The world is not the engine

{WORLD}

The shop: the shafts MARSH 300 to 700 and TERN 500 to 900 of the examples, singly; their points, broadheads of
the same masses, five inserts and a wrap; nothing in hand. One purpose in three is hunting, with broadheads
in the end; one recurve in four has a plunger.

## What was changed on sight of these archers

{changed}
"""


def picture(after: Sequence[Row], before: Sequence[Row], path: Path) -> None:
    """Share truly inside T when called straight, against the number of changes, before and after."""
    from shaftwright.render.pictures import figure

    said = "Share of simulated archers with an arrow called straight and truly inside T, by changes"
    fig = figure.new_figure("calibration-plan", "Called straight and truly so", said, 3.2)
    ax = figure.axes(fig, x="changes at most", y="truly inside T (%)")
    steps = range(MOST_CHANGES + 1)
    old = [b["changes"] if b["straight"] and inside(b["off_in"], b["t_in"]) else 99 for b in before]
    new = [
        a["straight"]["changes"] if a["straight"] and inside(a["straight"]["off_in"], a["t_in"]) else 99
        for a in after
    ]  # fmt: skip
    for place, (label, counts) in enumerate((("before", old), ("with the plan", new))):
        shares = [100 * float(np.mean([c <= n for c in counts])) for n in steps]
        ax.plot(list(steps), shares, label=label, **figure.mark(1 - place))
    ax.set_ylim(0, 100)
    ax.legend(loc="lower right")
    Path(path).write_bytes(figure.picture_bytes(fig, path))


def main() -> None:
    """Run and report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--archers", type=int, default=MANY)
    parser.add_argument("--first", type=int, default=FIRST)
    parser.add_argument(
        "--out", type=Path, help="runs as JSON lines; a run that was cut goes on there"
    )
    parser.add_argument("--page", type=Path, help="write the page; a full run writes docs/")
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.archers)
    kept = done()
    missing = [seed for seed in seeds if seed not in kept]
    if missing:
        sys.exit(
            f"no figures of before for {missing[0]} and {len(missing) - 1} more: see before/run.py"
        )
    before = [kept[seed] for seed in seeds]
    after = runs_of(seeds, given.out)
    found = summary(after, before)
    for name, value in found.items():
        if name == "paired":
            print("\n".join(map(told, value)))
        else:
            print(f"{name}: {value:.3f}" if isinstance(value, float) else f"{name}: {value}")
    target = given.page or (PAGE if (given.first, given.archers) == (FIRST, MANY) else None)
    if target is not None:
        target.write_text(page(found, given.first), encoding="utf-8")
        picture(after, before, target.with_suffix(".svg"))


if __name__ == "__main__":
    main()
