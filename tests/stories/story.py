"""A bow folder written from a few words, the commands run on it, and what holds for every story.

Sides are told in the bow's own frame: `weak=5` is five inches to the weak side at 20 yd, `weak=-5` to
the stiff side, so one story serves both hands (a weak arrow lands right of a right-handed archer's
fletched ones, its tail to the left: common practice, no source).
"""

from __future__ import annotations

import itertools
import json
import math
import random
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml
from click.testing import CliRunner, Result
from story_rigs import HUNTER, rig_of, stock_text

from shaftwright.cli.main import cli

_FLETCHED = ((0.5, -0.6), (-1.0, 0.9), (0.5, -0.3))
_BARE = ((-1.1, 0.7), (1.1, -0.7), (0.0, 0.0))
#: from here on, at 20 yd, an end is no longer straight in a word, and no longer only slightly off
_SLIGHT_IN, _PLAIN_IN = 2.5, 7.5


@dataclass(frozen=True)
class End:
    """One end of bare shafts beside fletched ones: the arrow, and where the bare ones lie."""

    shaft: str
    length: float
    weak: float = 0.0  # [in] at 20 yd, + to the weak side
    up: float = 0.0  # [in] at 20 yd
    point: str = "P175"
    yd: float = 20
    marks: str = "none"
    piece: int | None = None
    tails: bool = True
    spread: float = 1.0
    bare: int = 3
    #: what of the bow stood otherwise
    state: Mapping[str, Any] | None = None
    date: str | None = None

    def build(self) -> dict[str, Any]:
        """The arrow by the names of the shop."""
        wood = self.shaft.startswith("SPRUCE")
        point = "PW125" if wood and self.point == "P175" else self.point
        parts = {"nock": "NW"} if wood else {"insert": "I25", "nock": "N246"}
        head = {"broadhead": point} if point.startswith("B") else {"point": point}
        return {"shaft": self.shaft, "length": self.length, "fletching": "F3"} | head | parts

    def entry(self, rig: Mapping[str, Any], form: str, turn: int = 0) -> dict[str, Any]:
        """The notebook's entry, in `words` or in `hits`."""
        data: dict[str, Any] = {
            "kind": "bareshaft", "build": self.build(), "distance": f"{self.yd:g} yd",
            "taped": True, "marks": self.marks,
        }  # fmt: skip
        if self.piece is not None:
            data["piece"] = self.piece
        if self.date is not None:
            data["date"] = self.date
        if self.state is not None:
            data["rig_state"] = dict(self.state)
        return data | (self.words(rig) if form == "words" else self.hits(rig, turn))

    def _side(self, rig: Mapping[str, Any]) -> str:
        if abs(self.weak) < _SLIGHT_IN:
            return "straight"
        right = rig["archer"]["hand"] == "right"
        return "left" if (self.weak > 0) == right else "right"

    def _height(self) -> str:
        """A bare shaft that lands low came with its nock high."""
        return "straight" if abs(self.up) < _SLIGHT_IN else "high" if self.up < 0 else "low"

    def words(self, rig: Mapping[str, Any]) -> dict[str, Any]:
        """The end in the archer's words."""
        off, way = abs(self.weak), "weak" if self.weak > 0 else "stiff"
        reads = "straight" if off < _SLIGHT_IN else way if off > _PLAIN_IN else f"slightly_{way}"
        if not self.tails:
            return {"reads": reads}
        sides = [s for s in (self._side(rig), self._height()) if s != "straight"] or ["straight"]
        return {"reads": reads, "nock": sides if len(sides) > 1 else sides[0]}

    def hits(self, rig: Mapping[str, Any], turn: int) -> dict[str, Any]:
        """Three fletched about the mark, three bare where the story has them; no two ends alike."""
        far = self.yd / 20
        way = 1 if rig["archer"]["hand"] == "right" else -1
        cant = math.radians(rig["bow"].get("cant_deg", 0))
        wide = (1.0, 0.9, 1.1, 0.8, 1.2)[turn % 5] * self.spread

        def at(dx: float, dy: float, x: float = 0.0, y: float = 0.0) -> list[float]:
            x, y = way * (x + wide * dx), y + wide * dy
            turned = (
                x * math.cos(cant) + y * math.sin(cant),
                y * math.cos(cant) - x * math.sin(cant),
            )
            return [round(far * c, 3) for c in turned]

        bare: list[Any] = [at(*d, self.weak, self.up) for d in _BARE[: self.bare]]
        if self.tails:
            tail = {"side": self._side(rig), "up": self._height(), "seen": "in_flight"}
            bare = [{"at": hit, "tail": tail} for hit in bare]
        return {"fletched": [at(*d) for d in _FLETCHED], "bare": bare}


@dataclass(frozen=True)
class Heads:
    """Broadheads beside field points; `weak` and `up` [in] where they land apart."""

    shaft: str
    length: float
    head: str = "B175"
    weak: float = 0.0
    up: float = 0.0

    def entry(self, rig: Mapping[str, Any], form: str, turn: int = 0) -> dict[str, Any]:
        """The notebook's entry; together unless told apart."""
        end = End(self.shaft, self.length, self.weak, self.up, point=self.head, tails=False)
        data = {"kind": "broadhead", "build": end.build(), "distance": "20 yd"}
        if not self.weak and not self.up:
            return data | {"together": True}
        hits = end.hits(rig, turn)
        return data | {"fletched": hits["fletched"], "broadhead": hits["bare"], "together": False}


def change(what: str, **state: Any) -> dict[str, Any]:
    """A `change` entry with the new values."""
    return {"kind": "change", "what": what} | ({"rig_state": state} if state else {})


def dozen(shaft: str, length: float, made: int = 12, date: str | None = None) -> dict[str, Any]:
    """The dozen noted as made."""
    data = {"kind": "dozen", "build": End(shaft, length).build(), "made": made}
    return data | ({"date": date} if date else {})


def have(item: str, count: int, length: float | None = None) -> dict[str, Any]:
    """What is in hand now."""
    return {"kind": "have", "item": item, "count": count} | ({"length": length} if length else {})


Want = Mapping[str, Any]


@dataclass(frozen=True)
class Story:
    """One archer: rig, what lies about, what was noted, and what `next` must come to."""

    name: str
    want: Want
    ends: Sequence[Any] = ()
    rig: Mapping[str, Any] = field(default_factory=lambda: HUNTER)
    owned: Mapping[str, Any] = field(default_factory=dict)
    #: the shafts of the shop; without any there is no shop
    only: str = r"MARSH-\d+(-12)?"
    without: str = ""
    before: Mapping[str, Any] | None = None
    #: what else a reading in words lets the plan answer
    in_words: Want = field(default_factory=dict)
    forms: tuple[str, ...] = ("hits", "words")

    def __str__(self) -> str:
        return self.name

    def on(self, hand: str) -> Story:
        """The same archer, or the mirrored one with `hand="other"`."""
        if hand == "own":
            return self
        before = self.before and _mirrored(self.before)
        return replace(self, rig=_mirrored(self.rig), before=before)

    def entries(self, form: str = "hits") -> list[dict[str, Any]]:
        """The notebook's entries as plain data."""
        return [
            e.entry(self.rig, form, turn) if isinstance(e, End | Heads) else dict(e)
            for turn, e in enumerate(self.ends)
        ]

    def write(self, folder: Path, form: str = "hits", entries: Any = None) -> Path:
        """The bow as a folder."""
        folder.mkdir(parents=True, exist_ok=True)
        entries = self.entries(form) if entries is None else entries
        texts = {
            "rig.yaml": _yaml(dict(self.rig)),
            "stock.csv": stock_text(self.owned, self.only, self.without) if self.only else None,
            "notebook.yaml": _yaml(entries) if entries else "",
            "before.yaml": _yaml(dict(self.before)) if self.before else None,
        }
        for name, text in texts.items():
            if text is not None:
                (folder / name).write_text(text, encoding="utf-8")
        return folder


class _Plain(yaml.SafeDumper):
    """No anchors: the files are read strictly."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def _yaml(data: Any) -> str:
    return yaml.dump(data, Dumper=_Plain, sort_keys=False)


def _mirrored(rig: Mapping[str, Any]) -> dict[str, Any]:
    hand = "left" if rig["archer"]["hand"] == "right" else "right"
    return rig_of(rig, archer__hand=hand, bow__cant_deg=-rig["bow"].get("cant_deg", 0))


def orders(entries: Sequence[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Every order within the stretches between changes, or six drawn with a fixed seed.

    5,000 random notebooks are put into another order by `make calibrate` (calibrate/notebooks.py).

    What is in hand is a count that stands until the next one, so `have` keeps its place.
    """
    stretches: list[list[int]] = [[]]
    for place, entry in enumerate(entries):
        if entry["kind"] == "change":
            stretches.append([])
        elif entry["kind"] != "have":
            stretches[-1].append(place)
    if math.prod(math.factorial(len(s)) for s in stretches) <= 6:
        picked = list(itertools.product(*(itertools.permutations(s) for s in stretches)))
    else:
        rng = random.Random(12)
        picked = [tuple(tuple(rng.sample(s, len(s))) for s in stretches) for _ in range(6)]
    found: dict[str, list[dict[str, Any]]] = {}
    for permuted in picked:
        order = list(range(len(entries)))
        for stretch, way in zip(stretches, permuted, strict=True):
            for place, other in zip(stretch, way, strict=True):
                order[place] = other
        ordered = [entries[i] for i in order]
        found[json.dumps(ordered)] = ordered
    found.pop(json.dumps(list(entries)), None)
    return list(found.values())


# ---------------------------------------------------------------- running and holding


def run(*arguments: Any) -> Result:
    """One command in process; it must end well."""
    found = CliRunner().invoke(cli, [str(a) for a in arguments])
    assert found.exit_code == 0, f"{arguments}: exit {found.exit_code}\n{found.output}"
    return found


def document(*arguments: Any) -> dict[str, Any]:
    """A command's JSON document."""
    found: dict[str, Any] = json.loads(run(*arguments, "--json").stdout)
    return found


def said(next_: Mapping[str, Any]) -> str:
    """All sentences of `next` as one text."""
    parts = [next_[key] or "" for key in ("do", "why", "then", "if_not", "setting", "note")]
    return " ".join([*parts, *next_["cautions"]])


def shot_of(
    plan: Mapping[str, Any], shaft: str, length: float, setting: str = ""
) -> dict[str, Any]:
    """The arrow as it was shot, at any setting, `now` or `then`."""
    found = [
        s for s in plan["shot"]
        if s["shaft"] == shaft and abs(s["length_in"] - length) < 0.01
        and (not setting or (s["setting"] == "now") == (setting == "now"))
    ]  # fmt: skip
    assert found, f"{shaft} {length} {setting} is not among {plan['shot']}"
    return dict(found[0])


def agrees(value: Any, want: Any) -> bool:
    """Whether a value is the one wanted, one of a set, or passes a test."""
    if isinstance(want, Callable):  # type: ignore[arg-type]
        return bool(want(value))
    if isinstance(want, set):
        return value in want
    if isinstance(want, float):
        return value is not None and abs(value - want) < 0.01
    return bool(value == want)


def holds(story: Story, plan: Mapping[str, Any], form: str = "hits") -> None:
    """What the story asks for, and what holds for all."""
    next_ = plan["next"]
    told = json.dumps(plan["next"], indent=1) + "\n" + "\n".join(map(str, plan["shot"]))
    for key, want in {**story.want, **(story.in_words if form == "words" else {})}.items():
        if key == "says":
            missed = [p for p in want if not re.search(p, said(next_), re.I)]
            assert not missed, f"{missed} not said:\n{told}"
        elif key == "never":
            slipped = [p for p in want if re.search(p, said(next_), re.I)]
            assert not slipped, f"{slipped} said:\n{told}"
        elif key == "shot":
            for place, facts in want.items():
                found = shot_of(plan, *place)
                for name, fact in facts.items():
                    assert agrees(found[name], fact), f"{name} of {found}:\n{told}"
        else:
            assert agrees(next_[key], want), f"{key} is {next_[key]!r}:\n{told}"
    always(story, plan)


def always(story: Story, plan: Mapping[str, Any]) -> None:
    """Rules of the plan that no story may break."""
    next_, shot = plan["next"], plan["shot"]
    assert next_["do"], "nothing is said"
    assert len(next_["cautions"]) <= 3
    shaft, length = next_["shaft"], next_["length_in"]
    now = {(s["shaft"], round(s["length_in"], 2)) for s in shot if s["period"] == 0}
    if next_["stage"] in ("prove", "dozen", "done") and shaft is not None:
        assert (shaft, round(length, 2)) in now, f"never shot: {shaft} {length}; {now}"
        assert shaft == shot[0]["shaft"], f"{shaft} leads, but the best shot is {shot[0]}"
    noted = [e.length for e in story.ends if isinstance(e, End) and e.shaft == shaft]
    if noted and story.owned.get(shaft, 0) in (0, 1) and next_["kind"] in ("shoot", "cut", "point"):
        assert length <= min(noted) + 0.01, f"{shaft} of {min(noted)} in grew to {length} in"
    assert not re.search(r"\d+ (%|in 100) of the stiffness", said(next_)), said(next_)
    tried = {s["shaft"] for s in shot}
    if next_["stage"] in ("tune", "test_shafts") and shaft not in tried and length is not None:
        assert (2 * length).is_integer(), f"cut for safety to {length} in, not to half inches"
    if next_["kind"] == "cut":
        assert length < max(noted, default=32), next_
        assert next_["why"], "a cut without a reason"


def _gr(item: str | None) -> float:
    return float(re.sub(r"\D", "", item or "") or "nan")


def lighter(gr: float) -> Callable[[str | None], bool]:
    """A point lighter than this, by its invented name."""
    return lambda item: _gr(item) < gr


def not_heavier(gr: float) -> Callable[[str | None], bool]:
    """A point as light as this, or none named."""
    return lambda item: item is None or _gr(item) <= gr
