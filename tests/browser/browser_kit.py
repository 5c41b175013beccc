"""What the browser tests share: Chromium, a page over an empty folder, and what must hold on every page.

Needs Debian's chromium, the Python package playwright, and axe-core from npm in `node_modules` (or named by
AXE_CORE). Checks of access are those of axe-core (Deque's rules for WCAG 2.1 A and AA).
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
AXE = Path(os.environ.get("AXE_CORE", ROOT / "node_modules" / "axe-core" / "axe.min.js"))
SHOTS = os.environ.get("SHAFTWRIGHT_SCREENSHOTS")


@pytest.fixture(scope="module")
def browser(request):
    if not AXE.exists() and not os.environ.get("CI"):
        pytest.skip("NO BROWSER TEST WAS RUN: axe-core is missing (npm install --no-save axe-core)")
    return request.getfixturevalue("chrome")


@contextmanager
def served(folder):
    """The page over a folder, at an address."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from shaftwright.cli.main import main; main()", "serve", "--folder", str(folder),
         "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    line = process.stdout.readline()
    try:
        yield re.search(r"http://\S+", line).group().rstrip("/")
    finally:
        process.terminate()
        process.wait(20)
        process.stdout.close()


@pytest.fixture
def address(folder):
    with served(folder) as found:
        yield found


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "book").mkdir()
    return tmp_path / "book"


class Visit:
    """One page, with what must hold on every one."""

    def __init__(
        self, browser, address, width, scheme="light", touch=False, script=True, height=760
    ):
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, has_touch=touch,
            java_script_enabled=script, accept_downloads=True, reduced_motion="reduce",
        )  # fmt: skip
        self.page = self.context.new_page()
        self.page.set_default_timeout(40_000)
        self.trouble: list[str] = []
        self.page.on("pageerror", lambda error: self.trouble.append(str(error)))
        self.page.on(
            "console", lambda m: self.trouble.append(m.text) if m.type == "error" else None
        )
        self.address, self.name = address, f"{width}-{scheme}"

    def go(self, path):
        self.page.goto(self.address + path)
        self.page.wait_for_load_state("networkidle")

    def check(self, name, expected_trouble=()):
        """No fault of script or policy, nothing wider than the screen, no fault of access at all."""
        page = self.page
        page.wait_for_load_state("networkidle")
        trouble = [t for t in self.trouble if not any(e in t for e in expected_trouble)]
        assert trouble == []
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, f"{name} is {wide} px wider than the screen"
        if SHOTS:
            page.screenshot(path=f"{SHOTS}/story-{name}-{self.name}.png", full_page=True)
        if not AXE.exists():
            pytest.fail(f"axe-core is missing: npm install --no-save axe-core (looked for {AXE})")
        page.evaluate(AXE.read_text(encoding="utf-8"))
        self.axe(name, "['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice']")

    def check_colours(self, scheme, name):
        """The page just checked in other colours: of axe's rules only two ask how a thing is coloured."""
        self.page.emulate_media(color_scheme=scheme)
        self.axe(
            f"{name}, {scheme}", "{type: 'rule', values: ['color-contrast', 'link-in-text-block']}"
        )

    def axe(self, name, rules):
        found = self.page.evaluate(f"axe.run(document, {{runOnly: {rules}}})")
        told = [
            (v["id"], v["impact"], [n["html"][:160] for n in v["nodes"][:3]])
            for v in found["violations"]
        ]
        assert told == [], (name, told)

    def focused(self, selector):
        return self.page.evaluate("s => document.activeElement?.matches(s) ?? false", selector)

    def tab_to(self, selector, most=160, key="Tab"):
        """Reach a control by Tab alone, and see that the focus is shown."""
        for _ in range(most):
            self.page.keyboard.press(key)
            if self.focused(selector):
                outline = self.page.evaluate(
                    "getComputedStyle(document.activeElement).outlineStyle"
                )
                assert outline != "none", f"focus is not shown on {selector}"
                return
        raise AssertionError(f"{selector} is not reached by {key}")

    def close(self):
        self.context.close()
