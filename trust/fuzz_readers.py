"""Every reader with odd files: what it does not read it refuses as a fault, what it reads makes sense.

`python trust/fuzz_readers.py` runs each reader in a process of its own, guided by coverage where atheris is
there (libFuzzer keeps the inputs that reach new lines; half of the changes are made in the data, half in the
bytes), else by chance alone. A find is cut down and kept in trust/found/ to become a test in tests/trust.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import re
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
import odd
from record import EXAMPLES, ROOT, earlier, write

try:
    import atheris
except ImportError:  # no wheel for this Python
    atheris = None

FOUND = ROOT / "trust" / "found"
#: reader -> its share of the inputs; the rule set is slow to read
SHARES = {"rig": 10, "set": 8, "stock": 8, "notebook": 10, "sheet_lines": 6, "readings": 8, "tuned": 6, "card": 6,
          "own_rules": 3, "rule_set": 0.3, "hits": 10, "quantity": 10, "build": 6}  # fmt: skip
SCRATCH = Path(tempfile.mkdtemp(prefix="trust-"))


class Nonsense(AssertionError):
    """Something was read that means nothing."""


def sense(held: Any, where: str = "") -> None:
    """No number of what was read is infinite or none."""
    if isinstance(held, float) and not math.isfinite(held):
        raise Nonsense(f"{where} is {held}")
    below = (
        held.items()
        if isinstance(held, dict)
        else enumerate(held)
        if isinstance(held, list | tuple)
        else ()
    )
    for key, value in below:
        sense(value, f"{where}.{key}")


def kept(name: str, data: bytes) -> Path:
    path = SCRATCH / name
    path.write_bytes(data)
    return path


def rig(data: bytes) -> None:
    from shaftwright.files.rig import dump_rig, load_rig

    read = load_rig(kept("rig.yaml", data))
    sense(read.model_dump())
    if load_rig(kept("again.yaml", dump_rig(read).encode())) != read:
        raise Nonsense("a rig that is written out reads as another one")


def set_(data: bytes) -> None:
    from shaftwright.files.rig import load_rig

    sense(
        load_rig(
            EXAMPLES / "heron_marsh" / "rig.yaml",
            data.decode("utf-8", "surrogateescape").split("\x1e"),
        ).model_dump()
    )


def stock(data: bytes) -> None:
    from shaftwright.files.stock import load_stock

    for item in load_stock(kept("stock.csv", data)).items:
        plain = item.model_dump()
        sense(plain)
        for key, value in plain.items():
            if isinstance(value, int | float) and value < 0:
                raise Nonsense(f"{key} is {value}")


def notebook(data: bytes) -> None:
    from shaftwright.files.notebook import entry_text, load_notebook, parse_notebook
    from shaftwright.records.notebook import content_hash

    read = load_notebook(kept("notebook.yaml", data))
    told(read.faults, "notebook.yaml")
    for entry in read.entries:
        sense(entry.model_dump())
        (again,) = parse_notebook(entry_text(entry), "again").entries or (None,)
        if again is None or content_hash(again) != content_hash(entry):
            raise Nonsense("an entry that is written out reads as another one")


def sheet_lines(data: bytes) -> None:
    """As `note --from` takes them in, beside what a notebook has."""
    from shaftwright.answers.note.noting import doubts, refused
    from shaftwright.files.notebook import load_notebook

    read = load_notebook(kept("range.yaml", data))
    for entry in read.entries:
        told(refused(entry, STOCK(), read.entries), "")
        doubts(entry, RIG(), STOCK(), read.entries)


def readings(data: bytes) -> None:
    from shaftwright.files.readings import load_readings

    read = load_readings(kept("readings.csv", data))
    told(read.faults, "readings.csv")
    sense(read.chrono)
    sense(read.sound)


def tuned(data: bytes) -> None:
    from shaftwright.files.tuned import load_tuned

    for arrow in load_tuned(kept("tuned.csv", data)).arrows:
        sense(arrow.model_dump())


def card(data: bytes) -> None:
    from shaftwright.files.rig import load_card

    load_card(kept("card.json", data))


def own_rules(data: bytes) -> None:
    from shaftwright.rules.own import laid_over, load_own

    own = SCRATCH / "own"
    own.mkdir(exist_ok=True)
    (own / "mine.yaml").write_bytes(data)
    for rule in laid_over(BOOK(), load_own(own)).rules:
        if rule.code in ("M01", "M02"):
            sense(rule.model_dump())


def rule_set(data: bytes) -> None:
    import shutil

    from shaftwright.resources import rules_dir, tables_dir
    from shaftwright.rules.check import check

    whole = SCRATCH / "rules"
    if not whole.is_dir():
        shutil.copytree(rules_dir(), whole)
    (whole / "string.yaml").write_bytes(data)
    check(whole, tables_dir())


def hits(data: bytes) -> None:
    from shaftwright.cli.note.given import _bare, read_date, read_masses
    from shaftwright.errors import InputError

    text = data.decode("utf-8", "surrogateescape")
    refused: list[InputError] = []
    readers: tuple[Callable[[], Any], ...] = (
        lambda: _bare(text, "in"), lambda: _bare(text, "cm"), lambda: read_masses(text), lambda: read_date(text),
    )  # fmt: skip
    for one in readers:
        try:
            sense(one())
        except InputError as error:
            told(error.faults, "")
            refused.append(error)
    if len(refused) == len(readers):
        raise refused[0]


def quantity(data: bytes) -> None:
    from shaftwright.errors import InputError
    from shaftwright.units import UNITS, read_quantity

    text, _, unit = data.decode("utf-8", "surrogateescape").partition("\x1e")
    try:
        sense(read_quantity(text, unit if unit in UNITS else "in"))
    except ValueError as error:  # this is how it refuses
        raise InputError.of("quantity", str(error)) from None


def build(data: bytes) -> None:
    from shaftwright.cli.common import BUILD, build_spec
    from shaftwright.inference.resolve import resolve_build

    given = dict(zip(BUILD, data.decode("utf-8", "surrogateescape").split("\x1e"), strict=False))
    spec = build_spec({key: value or None for key, value in given.items()})
    if spec is not None:
        found = resolve_build(spec, STOCK(), "build options")
        for name in ("spine_mils", "length_in", "mass_gr", "front_gr"):
            value = getattr(found, name, None)
            if value is not None and not (value >= 0).all():
                raise Nonsense(f"{name} is {value}")


READERS: dict[str, Callable[[bytes], None]] = {
    "rig": rig, "set": set_, "stock": stock, "notebook": notebook, "sheet_lines": sheet_lines, "readings": readings,
    "tuned": tuned, "card": card, "own_rules": own_rules, "rule_set": rule_set, "hits": hits, "quantity": quantity,
    "build": build,
}  # fmt: skip
_once: dict[str, Any] = {}


def STOCK() -> Any:
    """The example's stock, read once."""
    from shaftwright.files.stock import load_stock

    if "stock" not in _once:
        _once["stock"] = load_stock(EXAMPLES / "heron_marsh" / "stock.csv")
    return _once["stock"]


def RIG() -> Any:
    """The example's rig, read once."""
    from shaftwright.files.rig import load_rig

    if "rig" not in _once:
        _once["rig"] = load_rig(EXAMPLES / "heron_marsh" / "rig.yaml")
    return _once["rig"]


def BOOK() -> Any:
    """The shipped rules, read once."""
    from shaftwright.rules.load import rulebook

    return rulebook()


def told(faults: Any, name: str) -> None:
    """A fault is one line that prints and names where it stands."""
    for fault in faults:
        line = str(fault)
        if not line.isprintable() or len(line) > 1500 or name not in line:
            raise Nonsense(f"a fault that does not read well: {line[:200]!r}")


def seeds(reader: str) -> list[str]:
    """Good files to begin with."""
    heron = EXAMPLES / "heron_marsh"
    text = {
        p: p.read_text(encoding="utf-8")
        for p in (*EXAMPLES.glob("*/*"), *EXAMPLES.glob("*.csv"))
        if p.is_file()
    }
    entries = [f"- {block}" for p in text if p.name.endswith("notebook.yaml")
               for block in re.split(r"(?m)^- ", text[p])[1:]]  # fmt: skip
    every = "\n".join(  # a line of each kind
        ("- {kind: change, what: brace, rig_state: {brace: 7.5}, date: 2026-05-01}", "- {kind: have, item: MARSH-500, count: 3}",
         "- {kind: dozen, build: {shaft: MARSH-500, length: 29.5}, made: 12, masses: [441, 442]}", "- {kind: weigh, item: a, mass: 1}",
         "- {kind: sound, level: 84.2 dB, weighting: A}", "- {kind: withdrawn, of: abcdef0123456789, nth: 1}",
         "- {kind: broadhead, build: {shaft: MARSH-500, length: 29.5, broadhead: B175}, distance: 20 yd, together: true}")) + "\n"  # fmt: skip
    head = {n: "\n".join(t.split("\n")[:n]) + "\n" for n, t in ((6, text[heron / "stock.csv"]),)}
    shop = text[heron / "stock.csv"].split("\n")
    picked = "\n".join([shop[0], *[next((r for r in shop if f",{k}," in r), "") for k in ("shaft", "point", "insert", "nock", "fletching", "broadhead")]])  # fmt: skip
    return {
        "rig": [text[EXAMPLES / b / "rig.yaml"] for b in ("heron_marsh", "long_fen", "reed_lark")],
        "set": [
            "string.material=polyester",
            "bow.draw_weight={lb: 47, at: 28 in}",
            "archer.draw_length=28 in\x1ebow.plate.thickness=1/16 in",
        ],
        "stock": [*head.values(), picked, text[EXAMPLES / "long_fen" / "stock.csv"]],
        "notebook": [*entries[:12], *entries[-3:], every, "".join(entries[:3])],
        "sheet_lines": [*entries[:8], every],
        "readings": [
            "speed,arrow_mass,string\n171,505,A\n172 fps,505 gr,A\n",
            "level,weighting\n84.2,A\n83 dB,A\n",
            "speed,level,date\n171,84,2026-05-01\n",
        ],
        "tuned": ["\n".join(text[EXAMPLES / "tuned_rigs.csv"].split("\n")[:6]) + "\n"],
        "card": [
            json.dumps(
                {
                    "format": 2,
                    "date": "2026-05-31",
                    "fields": {"bow.kind": {"label": "Bow", "value": "recurve"}},
                }
            )
        ],
        "own_rules": [(EXAMPLES / "own_rules" / "rules" / "mine.yaml").read_text(encoding="utf-8")],
        "rule_set": [(ROOT / "rules" / "string.yaml").read_text(encoding="utf-8")],
        "hits": [
            "3l 1h",
            "4l:right+slight",
            "-2.5,3",
            "3r",
            "0",
            "503 504.5 502",
            "2026-05-31",
            "5l 1lo:straight",
        ],
        "quantity": [
            "28 1/4 in",
            "47 lb\x1elb",
            "71.5 cm",
            "1/16",
            "29.5in",
            "500 gr\x1egr",
            "20 yd\x1eyd",
            "171 fps\x1efps",
        ],
        "build": [
            "MARSH-500\x1e29.5 in\x1eP175\x1e\x1eI25",
            "\x1e30\x1e\x1e\x1e\x1e\x1e\x1e\x1e\x1e500\x1e8\x1e0.3 in\x1e200 gr\x1e20",
        ],
    }[reader]


WRONG = {"stock": odd.of_csv, "readings": odd.of_csv, "tuned": odd.of_csv, "card": odd.of_json, "set": odd.of_text, "hits": odd.of_text,
         "quantity": odd.of_text, "build": odd.of_text}  # fmt: skip


def changed(reader: str, data: bytes, seed: int) -> bytes:
    """An input with something in it put wrong, as its kind of file is made up."""
    wrong = WRONG.get(reader, odd.of_yaml)
    text = data.decode("utf-8", "surrogateescape")
    try:
        return wrong(text, random.Random(seed)).encode("utf-8", "surrogatepass")
    except (UnicodeError, ValueError, OverflowError):
        return odd.of_text(text, random.Random(seed)).encode("utf-8", "surrogatepass")


def crash(reader: str, data: bytes) -> tuple[str, str] | None:
    """Kind and place of what went wrong with an input; None where it was read or refused."""
    from shaftwright.errors import InputError

    try:
        READERS[reader](data)
        _once["read"] = _once.get("read", 0) + 1
    except InputError as error:
        try:
            told(error.faults, "")
        except Nonsense as nonsense:
            return "Nonsense", str(nonsense)[:40]
    except Exception as error:
        frames = traceback.extract_tb(error.__traceback__)
        ours = [f for f in frames if "shaftwright" in f.filename] or frames
        return type(error).__name__, f"{Path(ours[-1].filename).name}:{ours[-1].lineno}"
    return None


def shrunk(reader: str, data: bytes, what: tuple[str, str]) -> bytes:
    """The smallest input that still goes wrong in the same place: halves, then lines, then signs taken out."""
    size = max(len(data) // 2, 1)
    until = time.monotonic() + 20
    while size and time.monotonic() < until:
        at = 0
        while at < len(data) and time.monotonic() < until:
            less = data[:at] + data[at + size :]
            if crash(reader, less) == what:
                data = less
            else:
                at += size
        size //= 2
    return data


class Tried:
    """The counts of one reader, and what went wrong."""

    def __init__(self, reader: str) -> None:
        self.reader, self.inputs, self.slowest = reader, 0, 0.0
        self.found: dict[tuple[str, str], bytes] = {}

    def one(self, data: bytes) -> None:
        self.inputs += 1
        began = time.perf_counter()
        what = crash(self.reader, data)
        self.slowest = max(self.slowest, time.perf_counter() - began)
        if what is not None and what not in self.found and len(self.found) < 20:
            self.found[what] = data

    def end(self) -> dict[str, Any]:
        FOUND.mkdir(exist_ok=True)
        finds, read = [], _once.get("read", 0)
        for n, (what, data) in enumerate(self.found.items()):
            small = shrunk(self.reader, data, what)
            (FOUND / f"{self.reader}-{n}").write_bytes(small)
            finds.append([*what, repr(small)[:300]])
        return {
            "inputs": self.inputs,
            "read": read,
            "slowest_s": round(self.slowest, 3),
            "finds": finds,
        }


def run(reader: str, runs: int, seed: int) -> None:
    """One reader in this process; the last line printed is its counts."""
    tried = Tried(reader)
    good = [text.encode() for text in seeds(reader)]
    for data in good:
        if (what := crash(reader, data)) is not None:
            raise SystemExit(f"{reader}: a good file is not read: {what}")
    if atheris is None:
        rng = random.Random(seed)
        for _ in range(runs):
            data = rng.choice(good)
            for _ in range(rng.choice((1, 1, 2, 3))):
                data = changed(reader, data, rng.getrandbits(32))
            tried.one(data)
        sys.stdout.write(json.dumps(tried.end()) + "\n")
        return
    corpus = SCRATCH / "corpus"
    corpus.mkdir()
    for n, data in enumerate(good):
        (corpus / str(n)).write_bytes(data)

    def one(data: bytes) -> None:
        tried.one(bytes(data))
        if tried.inputs == runs:
            sys.stdout.write(json.dumps(tried.end()) + "\n")
            sys.stdout.flush()

    def mutate(data: bytes, size: int, chance: int) -> bytes:
        how = chance % 8
        if how < 3:
            return bytes(atheris.Mutate(bytes(data), size))
        # most inputs begin from a good file, or they would all be refused at the door
        return changed(reader, good[chance // 8 % len(good)] if how > 4 else bytes(data), chance)[
            :size
        ]

    options = [f"-atheris_runs={runs + 5}", f"-seed={seed}", "-max_len=16000", "-timeout=60", "-rss_limit_mb=3000", "-len_control=0",
               "-print_final_stats=0", str(corpus)]  # fmt: skip
    atheris.Setup([sys.argv[0], *options], one, custom_mutator=mutate)
    atheris.Fuzz()


def each(runs: int, seed: int, only: list[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every reader in a process of its own: one that dies or hangs is a find as well."""
    names = only or list(SHARES)
    whole = sum(SHARES[name] for name in names)
    for name in names:
        many = max(int(runs * SHARES[name] / whole), 200)
        began = time.monotonic()
        done = subprocess.run(
            [sys.executable, __file__, "--one", name, "--runs", str(many), "--seed", str(seed)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        lines = [line for line in done.stdout.splitlines() if line.startswith('{"inputs"')]
        counts = (
            json.loads(lines[-1])
            if lines
            else {"inputs": 0, "finds": [["died", done.stderr[-600:], ""]]}
        )
        reached = re.findall(r"cov: (\d+)", done.stderr)
        yield (
            name,
            counts
            | {
                "seconds": round(time.monotonic() - began),
                "reached": int(reached[-1]) if reached else None,
            },
        )


def main() -> None:
    """Run them all, or one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--add", action="store_true", help="go on from the counts of other seeds")
    parser.add_argument("--one")
    given = parser.parse_args()
    if given.one:
        if atheris is not None:
            with atheris.instrument_imports(include=["shaftwright"]):
                _every_module()
        run(given.one, given.runs, given.seed)
        return
    found: dict[str, Any] = {}
    for name, counts in each(given.runs, given.seed, given.only):
        found[name] = counts
        sys.stdout.write(f"{name}: {json.dumps(counts)}\n")
        sys.stdout.flush()
    guided = "by coverage (atheris)" if atheris is not None else "by chance (no atheris here)"
    before = earlier("fuzz_readers", given.add or bool(given.only))
    seed = str(given.seed)
    if given.add and before:
        seed = f"{before['seed']}, {seed}"
        found = {
            name: _together(before["readers"].get(name, {}), new) for name, new in found.items()
        }
    if given.only:  # the others keep the counts of their own run
        found = before["readers"] | found
    write("fuzz_readers", {"seed": seed, "guided": guided, "readers": found,
                           "inputs": sum(c["inputs"] for c in found.values())}, "atheris", "pydantic", "PyYAML", "numpy")  # fmt: skip


def _together(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    """Counts of one reader in two runs."""
    summed = {n: one.get(n, 0) + other.get(n, 0) for n in ("inputs", "read", "seconds")}
    most = {n: max(one.get(n) or 0, other.get(n) or 0) for n in ("slowest_s", "reached")}
    return {**summed, **most, "finds": [*one.get("finds", []), *other.get("finds", [])]}


def _every_module() -> None:
    import shaftwright.answers.note.noting
    import shaftwright.cli.note.given
    import shaftwright.files.notebook
    import shaftwright.files.readings
    import shaftwright.files.rig
    import shaftwright.files.stock
    import shaftwright.files.tuned
    import shaftwright.inference.resolve
    import shaftwright.rules.check
    import shaftwright.rules.own  # noqa: F401


if __name__ == "__main__":
    main()
