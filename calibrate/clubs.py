"""What a club's table of tuned rigs can teach the rules, and what false reports in it do.

Simulated clubs, each with a truth of its own that the engine never sees. Run `python calibrate/clubs.py` (or
`make accuracy`) for the full count, some two minutes of one core, and rewrite docs/accuracy.md; `--clubs 2`
for a quick look that only prints.
"""

from __future__ import annotations

import argparse
import datetime as dt
import platform
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import shaftwright
from shaftwright.files.tuned import TunedArrow
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.demand import Column, demand_of
from shaftwright.inference.rule_fit import RuleFit, fit_rules
from shaftwright.inference.score import WayScore, score_rules
from shaftwright.parameters import Range, setting
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.rig import Rig
from shaftwright.rules.load import RuleBook
from shaftwright.rules.own import laid_over
from shaftwright.rules.schema import Rule
from shaftwright.rules.sections import evidence_rules
from shaftwright.rules.sizes import shipped

Array = NDArray[np.float64]
PAGE = Path(__file__).resolve().parents[1] / "docs" / "accuracy.md"
SEED = 20_260_606
CLUBS, HELD_OUT = 10, 200
RIGS = (10, 30, 100, 300)
FALSE = 0.2
#: tables from here on are tried with false reports that lean one way too
LEANING_FROM = 100
#: name -> how much wider than stated the rules' sizes are drawn
WORLDS = {"as the rules say": 1.0, "half as wide again": 1.5}
SPINES = (300, 340, 350, 400, 450, 500, 550, 600, 700, 800, 900, 1000, 1150, 1300)
FRONTS = np.arange(100.0, 301.0, 25.0)
#: rules whose doubt is shown
SHOWN = ("shaft-length", "front-mass", "string-material", "shaft-centre-offset", "tail-mass")


HEAD = """# What a club's table can teach

No public table of tuned rigs (bow, arrow and how it flew, complete enough to be worked out) has been
found, so nothing on this page says how accurate the rules are on real bows. It says what a table would
teach if a club made one with `rules contribute`, `rules fit` and `rules score`.

In short, where the rules have the right form: of new rigs half lie within {untaught:.1f} % of the spine
that the rules foretell (draw weight alone {weight:.0f} %, with the length rule {length:.0f} %). Taught by
{few} rigs it is {few_true:.1f} %, by {most} rigs {true:.1f} %; with a fifth of the reports false
{few_false:.1f} and {false:.1f} %, with a fifth that all lean stiff {leaning:.1f} % after {most}. The
first rigs teach the most. {most} rigs leave the length rule {kept:.0f} % of its doubt ({kept_false:.0f} %
with false reports); what stays is the bow's and the archer's own, and only their own bare shafts take
that away.

{day}, shaftwright {version}, Python {python}, numpy {numpy}, seed {seed}; {clubs} clubs a world,
{held_out} rigs held out in each; {took:.0f} s of one core. `make accuracy` renews it.

Each club has sizes of its own, drawn from the rules' ranges (both legs joined), the same for all its
rigs; what is one archer's or one bow's own is drawn for each rig. An archer tunes with a shop's spines
and 25 gr points, reports one of the dozen arrows that flew straightest, and one word in twenty is wrong.
A false report says straight of any shaft of the shop; one that leans, of a shaft a fifth stiffer than the
one that flew. The fitted sizes are laid over the rules as sizes of one's own, their ranges taken apart
from one another. These clubs are friendly in this: the rules have the right form, and in the first world
the right ranges.

Inside 50, 80, 95: share of the held-out rigs in the range that should hold so many in 100. Off: median
distance of what suited from the middle foretold, % of the spine; a word leaves something open (straight
is 7 % either side), so a perfect foretelling is off by half of that. Score: mean log of the chance given
to the word, nearer 0 is better; in brackets its standard error over clubs."""


@dataclass(frozen=True)
class Club:
    """One truth: a score for every driver that all rigs share."""

    book: RuleBook
    scores: dict[str, float]
    wider: float

    def wanted(self, columns: Sequence[Column], stated_lb: float, own: dict[str, float]) -> Array:
        """True effective bow weight of every build [lb]."""
        total: Array = np.asarray(stated_lb, dtype=float)
        for column in columns:
            score = own.get(column.driver, self.wider * self.scores.get(column.driver, 0.0))
            deviation = float(column.deviations(np.array([score]))[0])
            total = total + np.asarray(column.x) * (column.value + deviation)
        return total


def any_rig(rng: np.random.Generator, name: str) -> Rig:
    """A finger shooter's rig, drawn at random."""
    kind = str(rng.choice(["recurve", "longbow", "hybrid"], p=[0.55, 0.3, 0.15]))
    cut = str(rng.choice(["past_centre", "to_centre"])) if kind == "recurve" else "to_centre"
    low, high = {"recurve": (7.0, 8.5), "longbow": (6.0, 7.5), "hybrid": (6.5, 7.75)}[kind]
    return Rig.model_validate({
        "format": 1, "rig": name,
        "archer": {"hand": "right", "release": str(rng.choice(["split", "three_under"])),
                   "draw_length": round(float(rng.uniform(26, 29.5)) * 8) / 8},
        "bow": {"kind": kind, "limbs": "standard",
                "draw_weight": {"lb": round(float(rng.uniform(32, 58)) * 2) / 2, "at": "own_draw"},
                "brace_height": round(float(rng.uniform(low, high)) * 8) / 8,
                "window": {"cut": cut, **({"by": 0.125} if cut == "past_centre" else {})},
                "rest": "shelf", "plate": {"thickness": 0.0625, "material": "leather"}},
        "string": {"material": str(rng.choice(["low_stretch", "polyester"]))},
    })  # fmt: skip


def report(club: Club, rng: np.random.Generator, name: str) -> TunedArrow:
    """One archer tunes with a shop's spines and points until it flies straight, and reports how it flies."""
    rig = any_rig(rng, name)
    length = round(float(rng.uniform(rig.archer.draw_length_in + 0.75, 32)) * 4) / 4
    tail = float(rng.choice([17, 22, 30]))
    own = {code: float(rng.standard_normal()) for code in _anew()}
    spines = np.repeat(SPINES, len(FRONTS)).astype(float)
    builds = builds_by_numbers(spines, length, np.tile(FRONTS, len(SPINES)), tail)
    bare = replace(builds, tail_gr=builds.tail_gr - builds.fletching_gr)
    demand = demand_of(rig, bare, club.book)
    wanted = club.wanted(demand.columns, demand.stated_lb, own)
    off = stiffness_lb(bare) - wanted
    # a shop has a spine or two at hand, and points in steps: not always the best of all
    near = np.argsort(np.abs(off))[:12]
    at = int(rng.choice(near))
    tolerance = (
        setting("matching.tolerance_pct") / 100 * float(np.broadcast_to(wanted, off.shape)[at])
    )
    reads = _word(float(off[at]), tolerance, rng)
    return TunedArrow.model_validate({
        "rig": rig, "reads": reads, "seen_with": "bare_shaft", "source": "simulated",
        "build": {"spine": float(spines[at]), "length": length, "front": float(builds.front_gr[at]),
                  "tail": tail},
    })  # fmt: skip


def _anew() -> tuple[str, ...]:
    """Codes of what is one rig's own."""
    anew = evidence_rules().anew
    return (*anew.any_change, *anew.limbs, *anew.another_rig)


def _word(off_lb: float, tolerance_lb: float, rng: np.random.Generator) -> str:
    """What an archer says of a mismatch; now and then anything at all."""
    words = evidence_rules().words.spans
    if rng.random() < setting("evidence.word_misread"):
        return str(rng.choice(list(words)))
    edge = setting("evidence.word_edge_lb") * float(rng.standard_normal())
    found = [
        name for name, span in words.items() if _inside(off_lb + edge, span.limits(tolerance_lb))
    ]
    return str(rng.choice(found)) if found else ("stiff" if off_lb > 0 else "weak")


def _inside(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] <= value <= limits[1]


def falsified(
    arrows: Sequence[TunedArrow], rng: np.random.Generator, stiffward: bool = False
) -> list[TunedArrow]:
    """The same table with a fifth of its reports false: straight, it says, of a shaft that did not fly so.

    Any shaft of the shop, or, where false reports lean one way, the one that is a fifth stiffer.
    """
    told = list(arrows)
    for i in rng.choice(len(told), round(FALSE * len(told)), replace=False):
        spine = 0.8 * (told[i].build.spine_mils or 0) if stiffward else float(rng.choice(SPINES))
        build = told[i].build.model_copy(update={"spine_mils": spine})
        told[i] = told[i].model_copy(update={"build": build, "reads": "straight"})
    return told


def taught(book: RuleBook, fit: RuleFit) -> RuleBook:
    """The rules with the fitted sizes, as an archer would write them into a folder of his own."""
    rules: dict[str, Rule] = {}
    for size in fit.sizes:
        rule = rules.get(size.code) or book.find(size.code)
        assert rule is not None
        update = (
            {"cases": {**(rule.cases or {}), size.case: size.after}} if size.case
            else {end: getattr(size.after, end) for end in Range.model_fields}
        )  # fmt: skip
        rules[size.code] = rule.model_copy(update=update)
    own = RuleBook(tuple(rules.values()), book.topics, book.places)
    return laid_over(book, own)


@dataclass
class Line:
    """One line of the page, summed over the clubs."""

    ways: list[WayScore]
    left: list[dict[str, float]]


#: (kind of table, rigs in it) -> how it did
Trial = dict[tuple[str, int], Line]


def trial(wider: float, clubs: int, held_out: int) -> Trial:
    """Tables of growing size, true and with false reports, fitted and scored on rigs held out."""
    found: Trial = {}

    def note(kind: str, count: int, way: WayScore, fit: RuleFit | None = None) -> None:
        line = found.setdefault((kind, count), Line([], []))
        line.ways.append(way)
        if fit is not None:
            line.left.append({s.name: s.doubt_left for s in fit.sizes})

    book = shipped()
    for i in range(clubs):
        rng = np.random.default_rng([SEED, i, round(10 * wider)])
        drivers = {r.overlaps.group if r.overlaps else r.code for r in book.rules} | {
            r.code for r in book.rules
        }
        club = Club(book, {d: float(rng.standard_normal()) for d in sorted(drivers)}, wider)
        table = [report(club, rng, f"r{k}") for k in range(RIGS[-1])]
        held = [report(club, rng, f"h{k}") for k in range(held_out)]
        ways = score_rules(book, held)[0].ways
        note("untaught", 0, ways[0])
        note("weight", 0, ways[1])
        note("length", 0, ways[2])
        note("false table", held_out, score_rules(book, falsified(held, rng))[0].ways[0])
        for count in RIGS:
            rows_of = {"true": table[:count], "false": falsified(table[:count], rng)}
            if count >= LEANING_FROM:
                rows_of["leaning"] = falsified(table[:count], rng, stiffward=True)
            for kind, rows in rows_of.items():
                fit = fit_rules(book, rows)
                note(kind, count, score_rules(taught(book, fit), held)[0].ways[0], fit)
    return found


def _row(name: str, line: Line) -> str:
    shares = np.mean([way.inside for way in line.ways], axis=0)
    off = np.mean([way.off_pct for way in line.ways if way.off_pct is not None])
    score = np.array([way.log_score for way in line.ways])
    error = score.std(ddof=1) / np.sqrt(len(score)) if len(score) > 1 else float("nan")
    told = " | ".join(f"{100 * share:.0f}" for share in shares)
    return f"| {name} | {told} | {off:.1f} | {score.mean():.3f} ({error:.3f}) |"


def _off(line: Line) -> float:
    return float(np.mean([way.off_pct for way in line.ways if way.off_pct is not None]))


def _kept(line: Line, rule: str) -> float:
    kept = [one[rule] for one in line.left if rule in one]
    return float(np.median(kept)) if kept else float("nan")


def page(found: dict[str, Trial], clubs: int, held_out: int, took_s: float) -> str:
    """The page."""
    stated, most = found[next(iter(WORLDS))], RIGS[-1]
    head = HEAD.format(
        untaught=_off(stated["untaught", 0]), weight=_off(stated["weight", 0]),
        length=_off(stated["length", 0]), true=_off(stated["true", most]),
        false=_off(stated["false", most]), leaning=_off(stated["leaning", most]), most=most, few=RIGS[0],
        few_true=_off(stated["true", RIGS[0]]), few_false=_off(stated["false", RIGS[0]]),
        kept=100 * _kept(stated["true", most], "shaft-length"),
        kept_false=100 * _kept(stated["false", most], "shaft-length"),
        day=dt.date.today().isoformat(), version=shaftwright.__version__,
        python=platform.python_version(), numpy=np.__version__, seed=SEED, clubs=clubs,
        held_out=held_out, took=took_s,
    )  # fmt: skip
    parts = [head]
    for name, lines in found.items():
        told = {("weight", 0): "draw weight alone", ("length", 0): "with the length rule",
                ("untaught", 0): "the rules"}  # fmt: skip
        for kind, more in (
            ("true", ""),
            ("false", ", a fifth false"),
            ("leaning", ", a fifth leaning stiff"),
        ):
            told |= {(kind, n): f"taught by {n} rigs{more}" for n in RIGS if (kind, n) in lines}
        told["false table", held_out] = "the rules, on a table a fifth false"
        rows = [_row(words, lines[key]) for key, words in told.items()]
        parts.append(
            "\n".join(
                [
                    f"## Sizes {name}",
                    "",
                    "| | 50 | 80 | 95 | off | score |",
                    "|---" * 6 + "|",
                    *rows,
                ]
            )
        )
        doubt = [
            f"| rule | {' | '.join(f'{n} rigs' for n in RIGS)} |",
            "|---" * (len(RIGS) + 1) + "|",
        ]
        for rule in SHOWN:
            cells = [
                f"{_kept(lines['true', n], rule):.2f} ({_kept(lines['false', n], rule):.2f})"
                for n in RIGS
            ]
            doubt.append(f"| {rule} | {' | '.join(cells)} |")
        parts.append(
            "Share of its doubt that a rule keeps, median club (with a fifth false):\n\n"
            + "\n".join(doubt)
        )
    return "\n\n".join(parts) + "\n"


def main() -> None:
    """Run the clubs; the full count rewrites the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clubs", type=int, default=CLUBS)
    parser.add_argument("--held-out", type=int, default=HELD_OUT)
    parser.add_argument("--write", action="store_true", help="keep a quick look too")
    given = parser.parse_args()
    start = time.process_time()
    found = {name: trial(wider, given.clubs, given.held_out) for name, wider in WORLDS.items()}
    text = page(found, given.clubs, given.held_out, time.process_time() - start)
    if given.write or (given.clubs, given.held_out) == (CLUBS, HELD_OUT):
        PAGE.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
