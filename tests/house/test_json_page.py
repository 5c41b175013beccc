"""docs/json.md says what the commands print."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_page_of_documents_has_not_drifted() -> None:
    made = runpy.run_path(str(ROOT / "scripts" / "json_fields.py"), run_name="json_fields")["page"]
    assert made() == PAGE


def test_every_key_has_words() -> None:
    """The drift test holds the page to the classes; here it may not say nothing."""
    rows = re.findall(r"^\| `(.+?)` \| (.*?) \| (.*?) \|$", PAGE, re.M)
    assert len(rows) > 900
    assert [path for path, kind, words in rows if not (kind.strip() and words.strip())] == []


def test_no_words_are_for_keys_that_are_not_there() -> None:
    words = yaml.safe_load((ROOT / "scripts" / "json_words.yaml").read_text(encoding="utf-8"))
    keys = {path.split(".")[-1] for path in re.findall(r"^\| `(.+?)` \|", PAGE, re.M)}
    assert {name.split(".")[-1] for name in words} - keys == {"*"}
