"""What tests of several rooms share."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from _pytest.doctest import DoctestModule

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
SOURCE = Path(__file__).parent / "src"
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update"]  # fmt: skip


@pytest.hookimpl(wrapper=True)
def pytest_collect_file(file_path):
    """Examples are run in src only: reading every test for them doubles the time to collect."""
    found = yield
    return [c for c in found if SOURCE in file_path.parents or not isinstance(c, DoctestModule)]


@pytest.fixture(scope="module")
def chrome():
    """Debian's Chromium by the package playwright; without them a loud skip."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        pytest.skip(
            "NO BROWSER TEST WAS RUN: the package playwright is missing (pip install playwright)"
        )
    if not Path(CHROMIUM).exists():
        pytest.skip("NO BROWSER TEST WAS RUN: chromium is missing (apt-get install chromium)")
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield opened
        opened.close()
