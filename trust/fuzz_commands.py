"""Every command with odd options on odd bows, in process: no traceback, no figure that means nothing.

Options come from the commands themselves, values from what is usual and from what nobody means; bows are the
random ones of tests/plan, whole or with something put wrong in one of their files. `python trust/fuzz_commands.py`.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import random
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path[:0] = [
    str(Path(__file__).resolve().parent),
    str(Path(__file__).resolve().parents[1] / "tests" / "plan"),
]
import click
import odd
from click.testing import CliRunner
from nonsense import nonsense
from random_notebooks import random_bow
from record import EXAMPLES, earlier, write

from shaftwright.cli.main import COMMANDS, cli

#: how often each is drawn; some take long, `serve` never ends
SHARES = {"next": 3, "choose": 4, "explain": 3, "build": 6, "bareshaft": 4, "shop": 3, "sheet": 1.5, "note": 14, "compare": 5,
          "brace": 4, "efficiency": 5, "flight": 6, "launch": 0.4, "card": 3, "report": 0.5, "rules": 4, "new": 1}  # fmt: skip
NUMBERS = (
    "0",
    "1",
    "2",
    "12",
    "20",
    "500",
    "0.5",
    "0.95",
    "-1",
    "1e9",
    "nan",
    "inf",
    "1e-9",
    "",
    "x",
    "3",
    "100",
    "144",
)
QUANTITIES = ("28 in", "29 1/2 in", "30", "71.5 cm", "0 in", "-3 in", "1000 in", "175 gr", "0.1 gr", "12 g", "47 lb", "8", "500", "400",
              "20 yd", "18 m", "170 fps", "5 C", "7 3/8 in", "84 dB", "1e-6", "1e6", "nan", "1/16 in", "none", "unknown")  # fmt: skip
HITS = (
    "3l 1h",
    "1r",
    "4l:right",
    "0",
    "-2,3.5",
    "5l 1lo:straight",
    "1000r",
    "x",
    "3l 3r",
    "2l:high+slight",
)
SETS = ("string.material=polyester", "bow.draw_weight={lb: 30, at: own_draw}", "archer.draw_length=26 in", "bow.kind=longbow", "units=metric",
        "bow.brace_height=unknown", "archer.hand=left", "purpose=target", "bow.draw_weight=1", "x=1", "=", "bow=", "string.silencers=[]")  # fmt: skip
#: what an archer would type for some options
USUAL = {
    "field_speed": ("171 fps", "168", "52 m/s"), "field_arrow_mass": ("505 gr", "480"), "field_level": ("84.2 dB", "83"),
    "field_brace": ("7 3/8 in", "7.5"), "state_brace": ("7 1/4 in", "7.5"), "field_mass": ("503 gr", "441.5"), "field_spine_mils": ("500", "488"),
    "field_distance": ("20 yd", "15", "18 m"), "field_shots_on": ("0", "60"), "field_marks": ("none", "plate", "shelf", "not_looked"),
    "field_reads": ("straight", "slightly_stiff", "weak"), "nock_side": ("right", "left", "high", "straight"), "state_draw_weight": ("47 lb", "40"),
    "state_release": ("split", "three_under"), "state_plate": ("1/16 in", "none"), "state_nocking_point": ("7/16 in", "3/8 in"),
    "field_weighting": ("A", "C"), "field_response": ("fast", "max"), "field_made": ("6", "12"), "field_piece": ("1", "2"), "field_twists": ("20",),
    "wind": ("10 fps", "-3 m/s"), "slope": ("10", "-25"), "temperature": ("5 C", "100 F"), "pressure": ("900", "1013"), "humidity": ("0", "80"),
    "altitude": ("1500 m", "0"), "eye_height": ("4 in", "5.5 in"), "point_on": ("30 yd", "60 yd", "8 yd"), "front": ("200 gr", "150"), "tail": ("40 gr",),
    "spine": ("500", "340", "900"), "length": ("29.5", "27 in", "32"), "diameter": ("0.3 in", "0.246"), "gr_per_in": ("8", "5.5"),
}  # fmt: skip
_SLOW = 30.0


def commands() -> dict[str, list[tuple[tuple[str, ...], click.Command]]]:
    """Every command and subcommand with the words that call it."""
    found: dict[str, list[tuple[tuple[str, ...], click.Command]]] = {}
    context = click.Context(cli)
    for name in COMMANDS:
        command = cli.get_command(context, name)
        if name == "serve" or command is None:
            continue
        below = getattr(command, "commands", {})
        found[name] = [((name, sub), one) for sub, one in below.items()] or [((name,), command)]
    return found


class Drawn:
    """One call, drawn from a seed."""

    def __init__(self, seed: int, folder: Path) -> None:
        self.rng, self.folder = random.Random(f"command {seed}"), folder
        self.bow = folder / "bow"
        made = random_bow(self.rng.randrange(4000))
        made.write(self.bow)
        self.items = [row["item"] for row in made.rows]
        self.builds = [e["build"] for e in made.entries if isinstance(e.get("build"), dict)]
        for name in ("masses", "brace"):
            shutil.copy(EXAMPLES / "heron_marsh" / f"{name}.notebook.yaml", self.bow)
        (self.bow / "readings.csv").write_text("speed,level,arrow_mass,string,stringing\n" + "".join(
            f"{self.rng.gauss(171, 2):.1f},{self.rng.gauss(84, 1):.1f},{self.rng.choice((480, 505))},{s},{n}\n"
            for s in "AB" for n in (1, 2) for _ in range(self.rng.randrange(1, 6))))  # fmt: skip
        self.spoilt = self.spoil() if self.rng.random() < 0.4 else ""

    def spoil(self) -> str:
        """Something put wrong in one of the bow's files."""
        path = self.rng.choice([p for p in self.bow.iterdir() if p.is_file()])
        wrong = odd.of_csv if path.suffix == ".csv" else odd.of_yaml
        text = path.read_text(encoding="utf-8")
        try:
            path.write_bytes(wrong(text, self.rng).encode("utf-8", "surrogatepass"))
        except ValueError:
            path.write_text(odd.of_text(text, self.rng), encoding="utf-8", errors="replace")
        return path.name

    def value(self, option: click.Parameter) -> str:
        """Something for an option: usual, or odd."""
        rng, name = self.rng, option.name or ""
        if rng.random() < 0.08:
            return str(rng.choice(odd.VALUES))[:200].replace("\x00", "")
        if name in USUAL and rng.random() < 0.8:
            return rng.choice(USUAL[name])
        if isinstance(option.type, click.Choice):
            return str(rng.choice(list(option.type.choices)))
        if isinstance(option.type, click.types.IntParamType | click.types.FloatParamType):
            low, high = getattr(option.type, "min", None), getattr(option.type, "max", None)
            return rng.choice((*NUMBERS, *(f"{v:g}" for v in (low, high) if v is not None)))
        if name in ("changes",):
            return rng.choice(SETS)
        if name in ("fletched", "bare", "broadhead_hits"):
            return rng.choice(HITS)
        if name in (
            "shaft",
            "point",
            "broadhead",
            "insert",
            "nock",
            "fletching",
            "collar",
            "wrap",
            "field_item",
            "things",
        ):
            return rng.choice(self.items)
        if name == "by":
            return rng.choice(
                ("string", "silencers", "shaft", "arrow_mass", "brace", "string,stringing", "x")
            )
        if name == "columns":
            return rng.choice(("speed=speed", "level=level", "x=y", "speed=", "string=string"))
        if name in ("csv_file", "notebook_file", "stock_files", "before_file", "rig_file", "rules_folder", "tables_folder", "table_file",
                    "against"):  # fmt: skip
            return str(rng.choice((self.bow / "rig.yaml", self.bow / "notebook.yaml", self.bow / "stock.csv", self.bow / "readings.csv",
                                   EXAMPLES / "tuned_rigs.csv", EXAMPLES / "own_rules" / "rules", "-", "nowhere")))  # fmt: skip
        if name in ("plot_file", "animate", "html_file", "html"):
            return str(self.folder / rng.choice(("o.svg", "o.html", "o.csv")))
        if name in ("date", "day"):
            return rng.choice(("2026-05-31", "today", "unknown", "2026-02-30", "0"))
        if name in ("masses", "distances"):
            return rng.choice(
                ("400,500,600", "10,20,30", "503 504.5 502", "18 m, 30 m", "0", "1e9", ",")
            )
        if name == "musts":
            return rng.choice(
                (
                    "material=carbon",
                    "gr_per_lb=10",
                    "foc=12",
                    f"shaft={rng.choice(self.items)}",
                    "x",
                )
            )
        return rng.choice(QUANTITIES)

    def words(self, known: dict[str, Any]) -> list[str]:
        """The whole line."""
        rng = self.rng
        name = rng.choices(list(SHARES), list(SHARES.values()))[0]
        words, command = rng.choice(known[name])
        line = [*words]
        options = [
            p
            for p in command.params
            if isinstance(p, click.Option) and p.name not in ("help", "port", "physics")
        ]
        arguments = [p for p in command.params if isinstance(p, click.Argument)]
        if name == "note":
            line[1:1] = [str(self.bow)]
        for argument in arguments:
            if argument.type.name == "path" or argument.name in ("path", "given", "where"):
                many = 2 if argument.nargs == -1 and rng.random() < 0.2 else 1
                line += [str(self.bow)] * many if name != "new" else [str(self.folder / "fresh")]
                if (
                    argument.name == "given"
                    and name in ("compare", "brace", "efficiency")
                    and rng.random() < 0.6
                ):
                    line[-1] = str(
                        self.bow
                        / rng.choice(
                            ("readings.csv", "masses.notebook.yaml", "brace.notebook.yaml")
                        )
                    )
                if argument.name in ("table_file", "file"):
                    line[-1] = str(
                        rng.choice(
                            (
                                EXAMPLES / "tuned_rigs.csv",
                                self.bow / "notebook.yaml",
                                self.bow / "readings.csv",
                            )
                        )
                    )
            elif argument.name == "things":
                line += [rng.choice(self.items), rng.choice(NUMBERS)]
            elif argument.name == "words":
                line += [
                    rng.choice(("limbs", "brace", "string", "plunger", "waxed it", "draw_weight"))
                ]
            elif argument.required or rng.random() < 0.5:
                line += [rng.choice(NUMBERS)]
        build = rng.choice(self.builds) if self.builds and rng.random() < 0.75 else None
        takes = {p.name for p in options}
        if build is not None and "shaft" in takes:
            for key, value in build.items():
                line += [f"--{key.replace('_', '-')}", str(value)]
        elif "shaft" in takes and "spine" in takes and rng.random() < 0.6:
            line += ["--spine", rng.choice(("300", "500", "900")), "--length", rng.choice(("26", "29.5", "33")), "--front",
                     rng.choice(("60 gr", "200 gr", "400 gr")), "--gr-per-in", rng.choice(("5", "8", "12"))]  # fmt: skip
        likely = {"field_speed": 0.7, "field_level": 0.7, "field_brace": 0.7, "field_item": 0.8, "field_mass": 0.8, "bare": 0.6,
                  "fletched": 0.6, "field_distance": 0.5, "field_shots_on": 0.5}  # fmt: skip
        for option in options:
            chance = likely.get(option.name or "", 0.06)
            while rng.random() < chance:
                flag = rng.choice([*option.opts, *option.secondary_opts])
                line += [flag] if option.is_flag else [flag, self.value(option)]
                if not option.multiple:
                    break
        if any("--json" in o.opts for o in options) and rng.random() < 0.7 and "--json" not in line:
            line.append("--json")
        if name == "efficiency" and rng.random() < 0.7:
            line += ["--notebook", str(self.bow / "masses.notebook.yaml")]
        if name == "launch":
            line += ["--draws", "4"]
        if name == "rules" and "--rigs" not in line and "--physics" in line:
            line += ["--rigs", "5"]
        # as the system hands words over: bytes of no text are escaped
        return [
            word.replace("\x00", "")
            .encode("utf-8", "surrogatepass")
            .decode("utf-8", "surrogateescape")
            for word in line
        ]


def wrong(line: list[str], bow: Path) -> tuple[str, list[str]]:
    """How the call ended, and everything about it that must not be."""
    held = {p: p.read_bytes() for p in bow.rglob("*") if p.is_file()}
    began = time.process_time()  # of CPU: others may be at work
    done = CliRunner().invoke(cli, line, input="\n" * 30)
    took = time.process_time() - began
    told: list[str] = []
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        frames = traceback.extract_tb(done.exception.__traceback__)
        ours = [f for f in frames if "shaftwright" in f.filename] or frames
        told.append(
            f"{type(done.exception).__name__} in {Path(ours[-1].filename).name}:{ours[-1].lineno}: {str(done.exception)[:120]}"
        )
    elif done.exit_code not in (0, 1, 2):
        told.append(f"exit code {done.exit_code}")
    elif done.exit_code and not done.stderr.strip():
        told.append(f"exit code {done.exit_code} without a word")
    if done.exit_code and not all(one.isprintable() for one in done.stderr.splitlines()):
        told.append("a fault that does not print")
    if took > _SLOW:
        told.append(f"{took:.0f} s")
    for path, before in held.items():
        now = path.read_bytes() if path.exists() else b""
        grows = line[0] == "note" or (line[0] == "rules" and "contribute" in line)
        if now != before and not (
            grows and (now.startswith((before, before.rstrip(b"\n"))) or path.suffix == ".csv")
        ):
            told.append(f"{path.name} was changed by {line[0]}")
    if "--json" in line and done.exit_code == 0 and not told and "--help" not in line:
        try:
            told += nonsense(json.loads(done.stdout))
        except ValueError:
            told.append("what it printed is no JSON")
    return f"{line[0]} {done.exit_code}", told


def calls(first: int, many: int) -> Iterator[tuple[int, list[str], str, list[str]]]:
    """Each call by its seed, how it ended and what was wrong."""
    known = commands()
    for seed in range(first, first + many):
        folder = Path(tempfile.mkdtemp(prefix="trust-"))
        try:
            drawn = Drawn(seed, folder)
            line = drawn.words(known)
            with contextlib.chdir(folder):  # what a word by chance names is written there
                ended, told = wrong(line, drawn.bow)
            yield seed, line, ended, told
        finally:
            shutil.rmtree(folder)


def main() -> None:
    """Run so many from a seed on; `--seed N --many 1 --show` shows one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--many", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=100_000)
    parser.add_argument("--show", action="store_true")
    parser.add_argument("--keep", action="store_true", help="write the counts")
    parser.add_argument("--add", action="store_true", help="go on from the counts of other seeds")
    given = parser.parse_args()
    before = earlier("fuzz_commands", given.add)
    began = time.monotonic() - before.get("seconds", 0)
    ended, kinds = Counter[str](before.get("ended", {})), Counter[str](before.get("finds", {}))
    for seed, line, how, told in calls(given.seed, given.many):
        ended[how] += 1
        kinds.update({one.split(":")[0][:60] for one in told})
        if told or given.show:
            sys.stdout.write(f"{seed}: {' '.join(map(repr, line))[:600]}\n    {how} {told[:4]}\n")
            sys.stdout.flush()
    seconds = round(time.monotonic() - began)
    sys.stdout.write(f"{ended.total()} calls, {seconds} s, {dict(kinds)}\n")
    if given.keep:
        seeds = f"{given.seed} to {given.seed + given.many - 1}"
        if before:
            seeds = f"{before['seeds']}, {seeds}"
        write("fuzz_commands", {"seeds": seeds, "calls": ended.total(), "ended": dict(sorted(ended.items())),
                                "finds": dict(kinds), "seconds": seconds}, "click", "numpy", "pydantic", "scipy")  # fmt: skip


if __name__ == "__main__":
    main()
