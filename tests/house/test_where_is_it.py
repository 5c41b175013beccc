"""The stranger's paths of docs/where_is_it.md lead where they say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROWS = re.findall(
    r"^\| ([^|]+\?) \| `([^`]+)` in `([^`]+)` \| `([^`]+)` \| (.+) \|$",
    (ROOT / "docs" / "where_is_it.md").read_text(encoding="utf-8"),
    re.MULTILINE,
)


def test_the_four_questions_are_there():
    assert len(ROWS) == 4


@pytest.mark.parametrize(("question", "words", "where", "path", "told"), ROWS)
def test_one_search_and_three_steps_lead_there(question, words, where, path, told):
    there = ROOT / path
    assert there.is_file()
    assert (
        len(Path(path).relative_to("src/shaftwright" if path.startswith("src") else ".").parts) <= 3
    )
    found = [
        file
        for file in ([ROOT / where] if (ROOT / where).is_file() else (ROOT / where).rglob("*"))
        if file.suffix in (".py", ".yaml", ".md") and words in file.read_text(encoding="utf-8")
    ]
    assert there in found or (ROOT / where) in found
    assert len(found) <= 3, found
    for name in re.findall(r"`(\w+)`", told):
        assert re.search(rf"\b{name}\b", _all(there)), (question, name)


def _all(there: Path) -> str:
    return "\n".join(p.read_text(encoding="utf-8") for p in there.parent.glob(f"*{there.suffix}"))
