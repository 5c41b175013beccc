"""A bow with rules of its own, written from a few words."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import yaml

EXAMPLES = Path(__file__).parents[2] / "examples"

#: another size for a shipped rule with cases, and for one without
CASES = {"code": "S01", "name": "string-material",
         "cases": {"low_stretch": {"value": 4, "low": 1, "high": 8}}, "basis": "recalled",
         "note": "Two strings, one bow."}  # fmt: skip
SIZE = {"code": "A03", "name": "shaft-length", "value": 5, "low": 3, "high": 8, "basis": "recalled",
        "source": [], "note": "One shaft, cut four times."}  # fmt: skip
#: whole rules: of every kind of form
LINE = {
    "code": "M01", "name": "heavy-head", "applies": {"to": "build", "when": {"bow.kind": ["recurve"]},
    "unless": {"bow.limbs": ["deep_curve"]}}, "shift": "effective_bow_weight_lb",
    "form": {"per": "25 gr", "of": "front_gr", "from": 125, "until": 400},
    "shift_unit": "pct_of_draw_weight", "value": 2, "low": -1, "high": 5,
    "overlaps": {"group": "heads", "when": {"bow.kind": ["recurve"]}},
    "saw": "{fact:.0f} gr up front", "why": "my heads act heavy", "do": "shoot a lighter one",
    "narrow": "shoot two weights", "basis": "recalled", "source": [], "note": "One winter.",
    "fires": {"bow.kind": "recurve", "front_gr": 250}, "silent": {"bow.kind": "longbow", "front_gr": 250},
}  # fmt: skip
STEP = {
    "code": "M02", "name": "my-limbs", "shift": "effective_bow_weight_lb",
    "form": {"step": "bow.limbs"}, "shift_unit": "lb",
    "cases": {"standard": {"value": 1, "low": -1, "high": 3}},
    "saw": "the limbs are {case_words}", "why": "mine are quick ones", "do": "chronograph them",
    "narrow_cases": ["standard"], "basis": "common_practice",
    "fires": {"bow.limbs": "standard"}, "silent": {"bow.limbs": "deep_curve"},
}  # fmt: skip
ALWAYS = {
    "code": "M03", "name": "cold-days", "shift": "effective_bow_weight_lb", "form": "constant",
    "shift_unit": "lb", "value": -1, "low": -2, "high": 0, "saw": "you shoot in the cold",
    "why": "cold limbs give less", "do": "shoot on a warm day too", "basis": "recalled", "fires": {},
}  # fmt: skip


class _Plain(yaml.SafeDumper):
    def ignore_aliases(self, data: Any) -> bool:
        """Write everything out."""
        return True


def rules_text(*rules: dict[str, Any], **head: Any) -> str:
    """A file of rules."""
    whole = {"format": 1, "topic": "my own", **head, "rules": list(rules)}
    return yaml.dump(whole, Dumper=_Plain, sort_keys=False, allow_unicode=True)


def folder_of(parent: Path, *rules: dict[str, Any], name: str = "mine.yaml", **head: Any) -> Path:
    """A folder of rules."""
    folder = parent / "rules"
    folder.mkdir(exist_ok=True, parents=True)
    (folder / name).write_text(rules_text(*rules, **head), encoding="utf-8")
    return folder


def bow_with(parent: Path, *rules: dict[str, Any]) -> Path:
    """The first example's bow with rules of its own."""
    bow = parent / "bow"
    shutil.copytree(EXAMPLES / "heron_marsh", bow)
    if rules:
        folder_of(bow, *rules)
    return bow
