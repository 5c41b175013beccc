"""docs/performance.md and its picture, made of what was measured."""

from __future__ import annotations

from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PAGE, PICTURE = ROOT / "docs" / "performance.md", ROOT / "docs" / "pictures" / "growth.svg"

HEAD = """# Speed, growth, memory

{date}, {machine}; {versions}. Written by `make performance` (`python -m bench.performance`): every figure
of the tables is one that it measured, in processes of their own. Times are CPU seconds, user and system, on one thread; the
machine was shared with other work, which makes CPU seconds longer, so ratios say more than seconds.

In short: {big:,.0f} builds are ranked in {big_s:.1f} s of CPU and {big_mib:.0f} MiB, {loop:.0f} times as fast as a plain loop over builds;
a shop of 5,000 rows (2,200 shafts, 700 points) is asked in {shop_s:.1f} s and {shop_mib:.0f} MiB; `--help` takes {help:.2f} times a
bare click program, `choose` with a notebook of 49 entries {choose:.1f} times: {choose_s:.2f} s.

## The ranking as the stock grows

Builds of carbon shafts, points and inserts, no two alike, enumerated, ranked, and the best of every shaft found, as `choose
--stock` does. The plain loop does the same sums for the first 2,000 builds one by one in Python, must come to the same chances
and scores, and is told per build. *Passes* says how often NumPy could have added up columns of the builds' own {bytes:.0f} bytes in the same
time, at the speed measured in the same process ({gb:.0f} GB/s read and written in the middle).

"""

MENDED = """
![Seconds and memory against the number of builds](pictures/growth.svg)

Time grows in a straight line from a hundred thousand builds on; below that a start's fixed work shows. Memory stops growing once
builds are no longer all held.

## Cold starts

Each command on the examples from cold, compiled, beside a bare click program: `--help`, `next` and `choose` the middle of three
starts in turns with it, the others once. The bow has a notebook of 49 entries unless the line says otherwise.

"""

SHOP = """
## A shop of 5,000 rows

2,200 shafts of 40 lines, 700 points and 2,100 other parts as one CSV, the whole command from cold.

"""

LEFT = """
## What stood out, and was mended

{before}
- **Memory grew with the stock.** Past a million builds those near the best chance were held, however many they were. Now at
  most 300,000 are held at a time: the best by score, and the best of every shaft. A build whose chance alone rules out a place
  among them is not scored.
- **A bow's setting was compared as text.** How alike two arrows are asked whether they were shot from the same setting, and
  compared its description letter by letter for every build. Now a number of it is compared, in blocks that stay in the
  processor's own memory.
- **Fronts alike and best builds were found by `np.unique`**, dozens of times a start. Now one sort finds the fronts, and a
  shaft's best is looked up where its builds stand.
- **A start loaded NumPy's masked arrays and polynomials** for a median and six nodes. Now neither is loaded.
- **A notebook's records were compiled twice**, once to be read and once to be compared. Now once.

## What is left, and why

- Half of a cold `choose` is imports: NumPy, pydantic and click, and their compiled classes, which nobody can load faster from here.
  Part of the rest is Python putting together data classes at every start. A rulebook kept compiled on disk would save more, at
  the price of a cache that can be stale.
- `sheet` plays an afternoon through, so it asks the plan for every way the shots may fall: the longest of all commands{sheet}.
- `report`, `launch` with a picture and every `--plot` load matplotlib (its import stands below).
- `next` and a bow without a notebook start no faster than before: what was mended is the ranking and the notebook.
- The ranking takes the time of some {passes:.0f} passes over the builds' columns: rules' amounts, five chances of a match for each build,
  six worths, and what is kept, no part of it more than a fifth of the whole. Compiled code could do it in fewer; nothing asked of a
  shop's stock waits for it.

## Imports

CPU seconds of each package's import alone, in a process of its own.

"""


def table(head: str, rows: list[str]) -> str:
    """A table, all columns but the first to the right."""
    columns = head.count("|")
    return (
        "\n".join([f"| {head} |", "|---|" + "---:|" * columns, *(f"| {row} |" for row in rows)])
        + "\n"
    )


def growth(sizes: list[dict[str, float]]) -> str:
    """The ranking, size by size."""
    return table(
        "builds | CPU s | microseconds a build | builds a second | plain loop, microseconds a build | times as fast | passes | held | peak MiB",
        [f"{g['builds']:,} | {g['cpu_s']:.3f} | {1e6 * g['cpu_s'] / g['builds']:.2f} | {g['builds'] / g['cpu_s']:,.0f} | "
         f"{1e6 * g['loop_s']:.0f} | {g['loop_s'] * g['builds'] / g['cpu_s']:.0f} | {passes(g):.0f} | {g['held']:,} | "
         f"{g['peak_mib']:.0f}" for g in sizes],
    )  # fmt: skip


def passes(g: dict[str, float]) -> float:
    """How often the builds' columns could have been moved in the time of their ranking."""
    return g["cpu_s"] / g["builds"] * g["gb_s"] * 1e9 / g["bytes"]


def starts(found: dict[str, dict[str, float]]) -> str:
    """Every command."""
    bare = found["bare click"]["cpu_s"]
    return table(
        "command | CPU s | times bare click | peak MiB",
        [f"{name} | {c['cpu_s']:.2f} | {c['cpu_s'] / bare:.1f} | {c['peak_mib']:.0f}" for name, c in found.items()],
    )  # fmt: skip


def shop(found: dict[str, dict[str, float]]) -> str:
    """The large stock."""
    return table(
        "command | CPU s | peak MiB",
        [f"`{line}` | {c['cpu_s']:.1f} | {c['peak_mib']:.0f}" for line, c in found.items()],
    )


def beside(kept: dict[str, Any]) -> str:
    """What another checkout took, where it was measured."""
    held = kept.get("before")
    if not held:
        return ""
    rows = []
    for old in held.get("growth", []):
        new = min(kept["growth"], key=lambda g: abs(g["builds"] - old["builds"]))
        rows.append(f"{old['builds']:,} builds ranked | {old['cpu_s']:.1f} s, {old['peak_mib']:.0f} MiB | "
                    f"{new['cpu_s']:.1f} s, {new['peak_mib']:.0f} MiB")  # fmt: skip
    bare, then = kept["starts"]["bare click"]["cpu_s"], held["starts"]["bare click"]["cpu_s"]
    rows += [f"{n}, from cold | {c['cpu_s']:.2f} s, {c['cpu_s'] / then:.1f} times bare click | "
             f"{kept['starts'][n]['cpu_s']:.2f} s, {kept['starts'][n]['cpu_s'] / bare:.1f} times"
             for n, c in held["starts"].items()]  # fmt: skip
    return table("what | before | now", rows)


def picture(sizes: list[dict[str, float]]) -> bytes:
    """Seconds and memory against the number of builds, on logarithmic axes."""
    from shaftwright.render.pictures.figure import PALETTE, axes, mark, new_figure, picture_bytes

    x = [g["builds"] for g in sizes]
    told = "CPU seconds and peak memory of the ranking against the number of builds, beside a plain loop and NumPy"
    figure = new_figure("growth", "Growth of the ranking", told, 3.6)
    left = axes(figure, x="builds", y="CPU seconds", position=(0.12, 0.17, 0.36, 0.78))
    right = axes(figure, x="builds", y="peak MiB", position=(0.62, 0.17, 0.36, 0.78))
    lines = {"plain loop": [g["loop_s"] * g["builds"] for g in sizes], "ranking": [g["cpu_s"] for g in sizes],
             "columns added up once": [g["bytes"] * g["builds"] / g["gb_s"] / 1e9 for g in sizes]}  # fmt: skip
    for k, (name, seconds) in enumerate(lines.items(), 1):
        left.loglog(x, seconds, label=name, **mark(k))
    left.legend(loc="upper left", fontsize=8, labelcolor=PALETTE["ink"])
    left.set_ylim(2e-6, 1e5)
    left.set_yticks([1e-4, 1e-2, 1, 100], ["0.0001", "0.01", "1", "100"])
    right.semilogx(x, [g["peak_mib"] for g in sizes], **mark(2))
    right.set_ylim(0, 520)
    for one in (left, right):
        one.minorticks_off()
        one.set_xticks(
            [1e3, 1e4, 1e5, 1e6, 1e7],
            ["1,000", "10,000", "100,000", "1 million", "10 million"],
            fontsize=8,
        )
        one.set_xlim(700, 2e7)
    return picture_bytes(figure, PICTURE)


def page(kept: dict[str, Any]) -> str:
    """The whole page."""
    sizes, bare = kept["growth"], kept["starts"]["bare click"]["cpu_s"]
    big = next(g for g in sizes if g["builds"] > 2_500_000)
    large = kept["shop"].values()
    help_s, choose_s = (kept["starts"][name]["cpu_s"] for name in ("--help", "choose"))
    return "".join([
        HEAD.format(
            date=kept["date"], machine=kept["machine"], bytes=big["bytes"],
            versions=", ".join(f"{name} {version}" for name, version in kept["versions"].items()),
            big=big["builds"], big_s=big["cpu_s"], big_mib=big["peak_mib"],
            loop=big["loop_s"] * big["builds"] / big["cpu_s"], shop_s=max(c["cpu_s"] for c in large),
            shop_mib=max(c["peak_mib"] for c in large), help=help_s / bare, choose=choose_s / bare,
            choose_s=choose_s, gb=sorted(g["gb_s"] for g in sizes)[len(sizes) // 2],
        ),
        growth(sizes), MENDED, starts(kept["starts"]), SHOP, shop(kept["shop"]),
        LEFT.format(before=beside(kept), passes=passes(big),
                    sheet="" if "sheet" in kept["starts"] else " (this time neither it nor `launch` nor `report` was measured)"),
        table("package | CPU s", [f"{name} | {s:.3f}" for name, s in kept["imports"].items()]),
    ])  # fmt: skip


def write(kept: dict[str, Any]) -> None:
    """Write both."""
    PAGE.write_text(page(kept), encoding="utf-8")
    PICTURE.write_bytes(picture(kept["growth"]))
