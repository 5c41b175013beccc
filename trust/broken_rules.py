"""Every field of every shipped rule broken in turn: does `rules check` say so, where, and what to type?

What stays unsaid is told by field and by how it was broken: fields that may be left out, and words in place of words.
"""

from __future__ import annotations

import copy
import re
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
import yaml
from record import write

from shaftwright.errors import InputError
from shaftwright.files.strict_yaml import StrictDumper, parse_yaml
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.rules.check import check, fires
from shaftwright.rules.load import OTHER_FILES, load_rulebook

HOW: dict[str, Any] = {"left out": ..., "misspelt": ..., "words": "nonsense", "nothing": None, "a number": 7.5, "no number": float("nan"),
                       "below nought": -1e9, "a list": [[1], 2], "empty": [], "a mapping": {"moon": 1}}  # fmt: skip
#: what tells an author what to type
SAYS = re.compile(
    r"allowed|such as|is missing|needs |did you mean|must |write |leave |take |too long|keep one|closed list|should match|valid |has too few"
    r"|is not a key of|is used twice|is not a case|is not a step|cannot be read as a table|is not a known field|stays silent|fires in this case"
    r"|is used by no|is no number|finite|say whose|check the code|stays? as shipped"
)


def broken(rule: dict[str, Any], key: str, how: str) -> dict[str, Any]:
    """A rule with one field broken."""
    found = copy.deepcopy(rule)
    if how == "left out":
        del found[key]
    elif how == "misspelt":
        found = {("x" + k if k == key else k): v for k, v in found.items()}
    else:
        found[key] = copy.deepcopy(HOW[how])
    return found


def told(rules: Path, whole: bool) -> list[str]:
    """What is said of a rule set; `whole` runs all that `rules check` runs."""
    try:
        if whole:
            check(rules, tables_dir())
            return []
        book = load_rulebook(rules, tables_dir())
        return [
            f"{book.places[rule.code]}: rule {rule.code}: {label}: {'stays silent' if label == 'fires' else 'fires'} in this case"
            for rule in book.rules for label, facts in (("fires", rule.fires), ("silent", rule.silent))
            if facts is not None and fires(rule, facts, book) is not (label == "fires")
        ]  # fmt: skip
    except InputError as error:
        return [str(fault) for fault in error.faults]


def trials(every: int = 1) -> Iterator[tuple[str, str, str, list[str]]]:
    """Code, field, how it was broken, and what was said; `every` takes one rule in so many."""
    with tempfile.TemporaryDirectory(prefix="trust-") as place:
        few, whole = Path(place) / "few", Path(place) / "whole"
        few.mkdir()
        shutil.copytree(rules_dir(), whole)
        shutil.copy(rules_dir() / "bibliography.yaml", few)
        count = 0
        for path in sorted(rules_dir().glob("*.yaml")):
            if path.name in OTHER_FILES:
                continue
            text = path.read_text(encoding="utf-8")
            document = parse_yaml(text, path.name).data
            for n, rule in enumerate(document["rules"]):
                count += 1
                if count % every:
                    continue
                for key in rule:
                    for how in HOW:
                        one = broken(rule, key, how)
                        if one == rule:
                            continue
                        # the rule alone, then the whole set, which takes longer
                        made = {**document, "rules": [one], "retired": {}}
                        (few / path.name).write_text(
                            yaml.dump(made, Dumper=StrictDumper, sort_keys=False), encoding="utf-8"
                        )
                        said = told(few, False)
                        if not said:
                            made = {
                                **document,
                                "rules": [*document["rules"][:n], one, *document["rules"][n + 1 :]],
                            }
                            (whole / path.name).write_text(
                                yaml.dump(made, Dumper=StrictDumper, sort_keys=False),
                                encoding="utf-8",
                            )
                            said = told(whole, True)
                            (whole / path.name).write_text(text, encoding="utf-8")
                        yield rule["code"], key, how, said
            (few / path.name).unlink(missing_ok=True)


def main() -> None:
    """All rules."""
    counts, unsaid, without, elsewhere = (
        Counter[str](),
        Counter[str](),
        Counter[str](),
        Counter[str](),
    )
    rules = set()
    for code, key, how, said in trials():
        rules.add(code)
        counts["broken"] += 1
        if not said:
            counts["not told"] += 1
            unsaid[f"{key}: {how}"] += 1
            continue
        counts["told"] += 1
        if not any(SAYS.search(line) for line in said):
            without[f"{key}: {how}: {said[0][-90:]}"] += 1
        if not any(re.search(r"\.yaml:\d+", line) for line in said) or not any(
            f"{key}" in line or code in line for line in said
        ):
            elsewhere[f"{key}: {how}: {said[0][-90:]}"] += 1
    for name, found in (
        ("not told", unsaid),
        ("without what to type", without),
        ("without place", elsewhere),
    ):
        for one, many in sorted(found.items()):
            sys.stdout.write(f"{name}: {many} x {one}\n")
    write("broken_rules", {"rules": len(rules), **counts, "without what to type": without.total(), "without place": elsewhere.total(),
                           "not told by field": dict(sorted(unsaid.items()))}, "pydantic")  # fmt: skip


if __name__ == "__main__":
    main()
