"""Random but sensible bow folders over the example stocks: what archers write, well and badly.

Most ends follow one hidden truth of the bow, so that notebooks come to something; some contradict it,
some are words, some name what nobody sells. Everything follows from the seed. Names are the examples'.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from shaftwright.files.strict_yaml import StrictDumper

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
BOWS = ("heron_marsh", "long_fen", "reed_lark")
UNKNOWN = ("GORSE-450", "BROOM-550")
Row = dict[str, str]
Entry = dict[str, Any]


@dataclass(frozen=True)
class Bow:
    """One bow folder."""

    seed: int
    rig: dict[str, Any]
    rows: tuple[Row, ...]
    entries: tuple[Entry, ...] = ()
    before: dict[str, Any] | None = None
    #: what an archer would not see in the folder: the truth behind most of its ends
    wanted_lb: float = field(default=0.0, repr=False)

    def row(self, item: str | None) -> Row | None:
        """A row of the stock."""
        return next((r for r in self.rows if r["item"] == item), None)

    def stock_text(self) -> str:
        """The stock as CSV."""
        out = io.StringIO()
        writer = csv.DictWriter(out, list(self.rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(self.rows)
        return out.getvalue()

    def write(self, folder: Path) -> Path:
        """As files."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "rig.yaml").write_text(yaml.safe_dump(self.rig, sort_keys=False))
        (folder / "stock.csv").write_text(self.stock_text())
        told = (
            yaml.dump(list(self.entries), Dumper=StrictDumper)
            if self.entries
            else "# nothing yet\n"
        )
        (folder / "notebook.yaml").write_text(told)
        if self.before:
            (folder / "before.yaml").write_text(yaml.safe_dump(self.before))
        return folder


@cache
def _example(name: str) -> tuple[str, str]:
    folder = EXAMPLES / name
    return (folder / "rig.yaml").read_text(), (folder / "stock.csv").read_text()


def stretches(entries: Sequence[Entry]) -> list[list[int]]:
    """Places of the entries between two changes."""
    found: list[list[int]] = [[]]
    for place, entry in enumerate(entries):
        if entry["kind"] == "change":
            found.append([])
        else:
            found[-1].append(place)
    return found


def permuted(entries: Sequence[Entry], seed: int) -> tuple[Entry, ...]:
    """The entries between two changes in another order."""
    rng, order = random.Random(seed), list(range(len(entries)))
    for places in stretches(entries):
        for place, other in zip(places, rng.sample(places, len(places)), strict=True):
            order[place] = other
    return tuple(entries[i] for i in order)


def random_bow(seed: int) -> Bow:
    """A bow folder, all of it from the seed."""
    return _Maker(seed).bow()


class _Maker:
    def __init__(self, seed: int) -> None:
        self.seed, self.rng = seed, random.Random(f"notebook {seed}")
        text, stock = _example(self.rng.choice(BOWS))
        self.rig: dict[str, Any] = yaml.safe_load(text)
        self.rows: list[Row] = list(csv.DictReader(io.StringIO(stock)))
        self.by_name = {r["item"]: r for r in self.rows}
        self.day = dt.date(2026, 2, 1)
        self.dated = self.rng.random() < 0.8
        self.entries: list[Entry] = []

    def chance(self, of: float) -> bool:
        return self.rng.random() < of

    # ------------------------------------------------------------ rig and stock

    def bow(self) -> Bow:
        self.own_rig()
        self.own_stock()
        self.truth()
        before = self.old_limbs() if self.chance(0.25) else None
        many = 0 if self.chance(0.06) else self.rng.randint(1, 9)
        for _ in range(many):
            if self.chance(0.35):
                self.day += dt.timedelta(days=self.rng.randint(0, 3))
            self.entry()
        return Bow(self.seed, self.rig, tuple(self.rows), tuple(self.entries), before, self.wanted)

    def own_rig(self) -> None:
        rng, rig = self.rng, self.rig
        bow, archer = rig["bow"], rig["archer"]
        if self.chance(0.35):
            archer["hand"] = {"right": "left", "left": "right"}[archer["hand"]]
            bow["cant_deg"] = -bow.get("cant_deg", 0)
        archer["draw_length"] = f"{rng.randint(104, 116) / 4:g} in"
        archer["release"] = rng.choice(["split", "three_under"])
        rig["purpose"] = rng.choice(["practice", "three_d", "hunting", "hunting", "target"])
        lb = rng.randint(30, 56)
        bow["draw_weight"] = {"lb": lb, "at": "own_draw" if self.chance(0.75) else "28 in"}
        if bow["draw_weight"]["at"] != "own_draw" and self.chance(0.4):
            bow["draw_weight"]["no_scale"] = True
        if self.chance(0.15):
            bow["brace_height"] = "unknown"
        if self.chance(0.25):
            bow.pop("nocking_point", None)
        if self.chance(0.15):
            bow.pop("maker_minimum_gr_per_lb", None)
        if self.chance(0.15):
            rig["units"] = "metric"
        if self.chance(0.2):
            rig["string"] = {"material": rng.choice(["polyester", "low_stretch", "unknown"])}

    def own_stock(self) -> None:
        # a smaller shop than the example's: some of its shafts, most of its parts
        shafts = [r["item"] for r in self.rows if r["kind"] == "shaft"]
        kept = set(self.rng.sample(shafts, min(len(shafts), self.rng.randint(5, 14))))
        self.rows = [
            r for r in self.rows
            if r["item"] in kept or (r["kind"] != "shaft" and self.chance(0.75))
        ]  # fmt: skip
        self.by_name = {r["item"]: r for r in self.rows}
        for row in self.rows:
            row["in_hand"] = "0"
            row["in_hand_length_in"] = ""
        shafts = [r for r in self.rows if r["kind"] == "shaft"]
        for row in self.rng.sample(shafts, self.rng.choice([0, 1, 1, 2, 3, 4])):
            row["in_hand"] = str(self.rng.choice([1, 2, 3, 6]))
            if self.chance(0.2):
                row["in_hand_length_in"] = (
                    f"{float(row['full_length_in']) - self.rng.randint(1, 8) / 4:g}"
                )
        for kind, most in (
            ("point", 4),
            ("broadhead", 2),
            ("insert", 3),
            ("nock", 3),
            ("fletching", 2),
        ):
            of_kind = [r for r in self.rows if r["kind"] == kind]
            for row in self.rng.sample(of_kind, min(len(of_kind), self.rng.randint(0, most))):
                row["in_hand"] = "6"

    def truth(self) -> None:
        lb = float(self.rig["bow"]["draw_weight"]["lb"])
        self.wanted = lb * self.rng.uniform(0.85, 1.3)
        self.slope = self.rng.uniform(0.6, 1.5)
        self.up = self.rng.choice([0.0, 0.0, 0.0, self.rng.uniform(-6, 6)])

    def old_limbs(self) -> dict[str, Any]:
        old = yaml.safe_load(yaml.safe_dump(self.rig))
        old["rig"] += "-before"
        old["bow"]["draw_weight"] = {"lb": self.rng.randint(30, 58), "at": "own_draw"}
        old["bow"]["limbs_id"] = "old-1"
        self.rig["bow"]["limbs_id"] = "new-2"
        weight = float(old["bow"]["draw_weight"]["lb"])
        new, self.wanted = self.wanted, weight * 1.05
        for _ in range(self.rng.randint(1, 3)):
            self.shot()
            state = {"draw_weight": weight, "limbs_id": "old-1"}
            self.entries[-1].setdefault("rig_state", {}).update(state)
        self.note({"kind": "change", "what": "limbs", "rig_state": self.state_now()})
        self.wanted = new
        return dict(old)

    def state_now(self) -> dict[str, Any]:
        weight = self.rig["bow"]["draw_weight"]
        state: dict[str, Any] = {"limbs_id": "new-2"}
        return state | ({"draw_weight": weight["lb"]} if weight["at"] == "own_draw" else {})

    # ------------------------------------------------------------ entries

    def note(self, entry: Entry) -> None:
        if self.dated:
            entry["date"] = self.day.isoformat()
        self.entries.append(entry)

    def entry(self) -> None:
        kinds = {"shot": 60, "again": 40, "heads": 6, "change": 7, "have": 8, "dozen": 3, "measured": 8,
                 "withdrawn": 3}  # fmt: skip
        kind = self.rng.choices(list(kinds), list(kinds.values()))[0]
        getattr(self, kind)()

    def last_build(self) -> Entry | None:
        builds = [e["build"] for e in self.entries if e["kind"] == "bareshaft"]
        return dict(builds[-1]) if builds else None

    def again(self) -> None:
        """The last arrow once more, or with one thing changed."""
        build = self.last_build()
        if build is None or "shaft" not in build:
            return self.shot()
        roll = self.rng.random()
        if roll < 0.2:
            build["length"] = max(build["length"] - self.rng.choice([0.125, 0.25, 0.5, 1.0]), 24.0)
        elif roll < 0.4 and "point" in build:
            row = self.by_name.get(build["shaft"])
            if row is not None:
                build["point"] = self.rng.choice(self.points(row))["item"]
        return self.shot(build)

    def shot(self, build: Entry | None = None) -> None:
        build = build or self.build()
        entry: Entry = {"kind": "bareshaft", "build": build,
                        "distance": self.rng.choice([5, 10, 10, 15, 20, 20, 20, 20, 25])}  # fmt: skip
        off = self.rng.uniform(-15, 15) if self.chance(0.08) else self.off(build)
        if self.chance(0.3):
            entry |= self.words(off)
        else:
            entry |= self.hits(off, entry["distance"] / 20)
        if self.chance(0.6):
            entry["taped"] = True
        marks = ["none"] * 5 + ["not_looked"] * 6 + ["plate", "shelf"]
        entry["marks"] = self.rng.choice(marks)
        if self.chance(0.12) and "shaft" in build:
            entry["piece"] = 2
        if self.chance(0.15):
            entry["rig_state"] = self.rng.choice(
                [{"brace": 7.5}, {"nocking_point": 0.375}, {"plate": 0.0625}]
            )
        if self.chance(0.05):
            entry["cant_deg"] = self.rng.choice([0, 10, -20])
        self.note(entry)

    def off(self, build: Entry) -> float:
        """Stiffward inches at 20 yd that the truth would show."""
        if "spine" in build:
            mils, front = float(build["spine"]), float(build["front"])
        else:
            row = self.by_name.get(build["shaft"])
            mils, front = 500.0 if row is None else _mils(row), 0.0
            for part in ("point", "broadhead", "insert"):
                front += float(self.by_name.get(build.get(part, ""), {}).get("mass_gr") or 0)
        wanted = self.wanted * (build["length"] / 28) ** 2.2 + 0.08 * (front - 125)
        return max(min(self.slope * (31_499.2 / mils - wanted), 16), -16)

    def side(self, off: float) -> str:
        """Where the tail of a stiff shaft points."""
        stiff = "right" if self.rig["archer"]["hand"] == "right" else "left"
        weak = {"right": "left", "left": "right"}[stiff]
        return "straight" if abs(off) < 2.5 else stiff if off > 0 else weak

    def words(self, off: float) -> Entry:
        word = "stiff" if off > 0 else "weak"
        reads = "straight" if abs(off) < 2.5 else word if abs(off) > 8 else f"slightly_{word}"
        told: Entry = {"reads": reads}
        if self.chance(0.6):
            told["nock"] = self.side(off)
        elif self.chance(0.1):
            told["nock"] = ["right", "high"]
        return told

    def hits(self, off: float, scale: float) -> Entry:
        hand = -1 if self.rig["archer"]["hand"] == "right" else 1

        def at(x: float, y: float, sd: float) -> list[float]:
            return [
                round(scale * self.rng.gauss(x, sd), 1),
                round(scale * self.rng.gauss(y, sd), 1),
            ]

        few = self.chance(0.12)
        fletched = [at(0, 0, 2.0) for _ in range(self.rng.choice([0, 1]) if few else 3)]
        bare: list[Any] = []
        for _ in range(1 if few else self.rng.choice([2, 3, 3, 4])):
            hit: Any = at(hand * off, self.up, 2.8)
            if self.chance(0.5):
                tail: Entry = {"side": self.side(off)}
                if self.chance(0.3):
                    tail["up"] = (
                        "straight" if abs(self.up) < 2 else "low" if self.up > 0 else "high"
                    )
                if self.chance(0.2):
                    tail["seen"] = "in_butt"
                hit = {"at": hit, "tail": tail}
            bare.append(hit)
        return {"bare": bare} | ({"fletched": fletched} if fletched else {})

    def shaft(self) -> Row:
        shafts = [r for r in self.rows if r["kind"] == "shaft"]
        owned = [r for r in shafts if int(r["in_hand"])]
        if owned and self.chance(0.75):
            return self.rng.choice(owned)
        near = sorted(shafts, key=lambda r: abs(31_499.2 / _mils(r) - 1.15 * self.wanted))
        return self.rng.choice(near[:8])

    def points(self, shaft: Row, kind: str = "point") -> list[Row]:
        wood = shaft["material"] == "wood"
        found = [
            r for r in self.rows
            if r["kind"] == kind and (r["material"] == "wood") == wood
            and (not wood or r["outside_diameter_in"] == shaft["outside_diameter_in"])
        ]  # fmt: skip
        owned = [r for r in found if int(r["in_hand"])]
        return owned if owned and self.chance(0.7) else found

    def build(self) -> Entry:
        if self.chance(0.08):
            return {"spine": self.rng.choice([400, 500, 600, 700]), "length": self.rng.choice([28, 29.5, 31]),
                    "front": self.rng.choice([125, 175, 225]), "gr_per_in": 8}  # fmt: skip
        row = self.shaft()
        full = float(row["in_hand_length_in"] or row["full_length_in"])
        length = full if self.chance(0.4) else full - self.rng.randint(1, 12) / 4
        build: Entry = {"shaft": row["item"], "length": length}
        if self.chance(0.04):
            return build | {"shaft": self.rng.choice(UNKNOWN)}
        points = self.points(row)
        if points:
            build["point"] = self.rng.choice(points)["item"]
        inserts = [
            r for r in self.rows
            if r["kind"] == "insert" and row["material"] != "wood"
            and abs(float(r["inside_diameter_in"] or 9) - float(row["inside_diameter_in"] or 0)) < 0.003
        ]  # fmt: skip
        owned = [r for r in inserts if int(r["in_hand"])]
        if inserts:
            build["insert"] = self.rng.choice(owned or inserts[:2])["item"]
        return build

    def heads(self) -> None:
        build = self.last_build()
        row = self.by_name.get(build.get("shaft", "")) if build else None
        heads = self.points(row, "broadhead") if row else []
        if not build or not heads:
            return self.shot()
        mass = self.by_name.get(build.pop("point", ""), {}).get("mass_gr")
        alike = [h for h in heads if h["mass_gr"] == mass]
        build["broadhead"] = self.rng.choice(alike or heads)["item"]
        entry: Entry = {"kind": "broadhead", "build": build, "distance": 20}
        if self.chance(0.6):
            return self.note(entry | {"together": self.chance(0.7)})
        hits = self.hits(0.4 * self.off(build), 1.0)
        heads_at = [h["at"] if isinstance(h, dict) else h for h in hits["bare"]]
        return self.note(entry | {"fletched": hits.get("fletched", []), "broadhead": heads_at})

    def change(self) -> None:
        rng, bow = self.rng, self.rig["bow"]
        what = rng.choice(["nocking_point", "brace", "plate", "plunger", "string", "tiller", "silencers",
                           "limbs", "draw_weight", "other", "waxed the string", "new grip tape"])  # fmt: skip
        states: dict[str, Entry] = {
            "nocking_point": {"nocking_point": rng.choice([0.375, 0.4375, 0.5])},
            "brace": {"brace": rng.choice([7.25, 7.5, 7.75])},
            "plate": {"plate": rng.choice([0.03125, 0.0625])},
            "plunger": {"plunger": {"spring": "medium", "turns": rng.choice([1.5, 2, 2.5])}},
            "tiller": {"tiller": 0.125},
            "draw_weight": {"draw_weight": rng.randint(30, 56)},
        }
        if (what == "plunger") != (bow["rest"] == "plunger") and what in ("plunger", "plate"):
            what = "tiller"
        entry: Entry = {"kind": "change", "what": what}
        if what in states and self.chance(0.85):
            entry["rig_state"] = states[what]
            if self.chance(0.8):
                self.keep(states[what])
        self.note(entry)

    def keep(self, state: Mapping[str, Any]) -> None:
        """What was changed goes into the rig file too."""
        bow = self.rig["bow"]
        if "nocking_point" in state:
            bow["nocking_point"] = {"above_square": state["nocking_point"], "locators": 2}
        if "brace" in state:
            bow["brace_height"] = state["brace"]
        if "plate" in state:
            bow["plate"] = {"thickness": state["plate"], "material": "leather"}
        if "plunger" in state:
            bow["plunger"] = dict(state["plunger"])
        if "draw_weight" in state:
            bow["draw_weight"] = {"lb": state["draw_weight"], "at": "own_draw"}
            self.wanted = state["draw_weight"] * 1.05

    def have(self) -> None:
        row = self.shaft() if self.chance(0.6) else self.rng.choice(self.rows)
        entry: Entry = {
            "kind": "have",
            "item": row["item"],
            "count": self.rng.choice([0, 1, 2, 3, 6, 12]),
        }
        if row["kind"] == "shaft" and self.chance(0.25):
            entry["length"] = float(row["full_length_in"]) - self.rng.randint(0, 8) / 4
        self.note(entry)

    def dozen(self) -> None:
        build = self.last_build()
        if build is None:
            return self.shot()
        return self.note({"kind": "dozen", "build": build, "made": self.rng.choice([6, 12])})

    def measured(self) -> None:
        roll = self.rng.randint(0, 3)
        if roll == 0:
            speed = self.rng.randint(150, 190)
            self.note({"kind": "chrono", "speed": speed, "arrow_mass": self.rng.randint(380, 520)})
        elif roll == 1:
            self.note({"kind": "sound", "level": self.rng.randint(80, 90), "string": "A"})
        elif roll == 2:
            self.note({"kind": "brace", "brace": 7.5, "shots_on": self.rng.randint(0, 200)})
        else:
            row = self.shaft()
            spine = round(_mils(row) * self.rng.uniform(0.97, 1.03))
            self.note({"kind": "weigh", "item": row["item"], "spine_mils": spine})

    def withdrawn(self) -> None:
        """The last entry struck out, as `note undo` writes it."""
        from shaftwright.records.notebook import ENTRY, content_hash

        last = [e for e in self.entries if e["kind"] not in ("withdrawn", "change")]
        if not last:
            return self.shot()
        return self.note({"kind": "withdrawn", "of": content_hash(ENTRY.validate_python(last[-1]))})


def _mils(row: Row) -> float:
    if row["spine_mils"]:
        return float(row["spine_mils"])
    if row["wood_spine_lb"]:
        return 31_499.2 / float(row["wood_spine_lb"])
    # a tube: outside diameter and wall to spine, near enough to make notebooks sensible
    return {"1616": 1070, "1716": 880, "1816": 756, "1916": 623, "2016": 531, "2018": 464, "2117": 400,
            "2219": 337}.get(row.get("size_code", ""), 500)  # fmt: skip
