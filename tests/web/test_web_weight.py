"""A page comes quickly over a phone's network: under 80 kB each, for every example."""

from __future__ import annotations

import re
import shutil
import time
from pathlib import Path

import pytest
from web_kit import EXAMPLES, open_page

PAGES = (
    "/", "/rig", "/stock", "/shots", "/shots/says", "/shots/noted", "/shots/other?kind=change", "/list", "/files",
    "/builds", "/launch", "/launch/moving", "/launch/moving?narrow=1", "/next", "/rig/why?what=brace",
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("bow", ["heron_marsh", "long_fen", "reed_lark"])
def test_no_page_is_heavier_than_80_kb(tmp_path, bow):
    client, _ = open_page(Path(shutil.copytree(EXAMPLES / bow, tmp_path / bow)))
    for page in PAGES:
        until = time.monotonic() + 120
        while "<progress" in (text := client.get(page).text):
            assert time.monotonic() < until
            time.sleep(0.2)
        assert len(text.encode()) < 80_000, page


def test_docs_tell_of_no_page_past_its_limit():
    """What is published keeps what is asked: nine taps and no scroll for six hits, 80 kB and a second a page."""
    text = (EXAMPLES.parent / "docs" / "phone.md").read_text(encoding="utf-8")
    taps, scrolls = map(int, re.search(r"\| Note six hits \| (\d+) \| (\d+) \|", text).groups())
    assert taps <= 9
    assert scrolls == 0
    rows = re.findall(r"\| .+ \| (\d+\.\d) \| (\d+\.\d\d) \|", text)
    assert len(rows) == 14
    assert all(float(kb) < 80 and float(wait) < 1 for kb, wait in rows)
    assert float(re.search(r"first page after a start comes after (\S+) s", text)[1]) < 1
    # ten tasks, each in its row
    assert len(re.findall(r"(?m)^\| [A-Z][^|]+ \| \d+ \| \d+ \|$", text)) == 10
