"""Taps and scrolls of ten tasks, weight and wait of every page of the examples, written into docs/phone.md.

Taps are those that `tests/browser/test_browser_range.py` counts in Chromium at 360 x 740 with touch. Waits
are CPU seconds of the page's own process, so that other work on the machine does not count.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

ROOT = Path(__file__).parents[1]
BOWS = ("heron_marsh", "long_fen", "reed_lark")
#: name -> address
PAGES = {
    "Map": "/", "Rig": "/rig", "Stock": "/stock", "Shots": "/shots", "What the shots say": "/shots/says",
    "Notebook": "/shots/noted", "Another entry": "/shots/other?kind=change", "List": "/list",
    "Files": "/files",
    "Every shaft's best arrow": "/builds", "Launch": "/launch", "Launch, moving": "/launch/moving?",
    "What to do now": "/next", "Has the bow changed?": "/rig/why?what=brace",
}  # fmt: skip
TEXT = """# On the phone

Chromium, 360 x 740, with touch. `make phone` writes this page; tests fail when a count is another one, a
page is heavier than 80 kB, or noting six hits takes more than nine taps or a scroll.

## Ten tasks

A tap is a finger put down once (what is typed is not counted), a scroll goes 450 pixels; both are
counted from the page for shots, with what comes next worked out, or from the sheet as it was opened.

| task | taps | scrolls |
|---|---:|---:|
{tasks}

## Weight and wait

The heaviest of the three examples, in kB of markup (style and scripts together are {fixed} kB); the wait
is the longest, in seconds of the page's own CPU, for whoever asks first once the map is there.

| page | kB | wait |
|---|---:|---:|
{pages}

The first page after a start comes after {first} s and says that the map is being worked out; that takes
{map} s once, most of it Python's own start, and after the next entry in the notebook {again} s. A launch
is worked out in {launch} s, once.

axe-core finds nothing on any page, at 360 and 1280 pixels, light and dark
(`tests/browser/test_browser_access.py`).

{stamp}
"""


class Served:
    """The page over a folder in a process of its own, whose CPU time is read."""

    def __init__(self, folder: Path) -> None:
        words = [
            "-c",
            "from shaftwright.cli.main import main; main()",
            "serve",
            str(folder),
            "--port",
            "0",
        ]
        self.process = subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.address = re.findall(r"http://\S+", self.process.stdout.readline())[0].rstrip("/")

    def cpu(self) -> float:
        """CPU seconds of the process so far."""
        after = Path(f"/proc/{self.process.pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1]
        return sum(map(int, after.split()[11:13])) / os.sysconf("SC_CLK_TCK")

    def get(self, path: str) -> tuple[bytes, float]:
        """A page and its CPU seconds."""
        before = self.cpu()
        with urllib.request.urlopen(self.address + path) as answer:
            return answer.read(), self.cpu() - before


def waited(served: Served, path: str) -> float:
    """CPU seconds until a page is more than a word that it is being worked out."""
    before = served.cpu()
    while b"<progress" in served.get(path)[0]:
        time.sleep(0.2)
    return served.cpu() - before


def weighed() -> dict[str, object]:
    """Weight and wait of every page, the worst of the examples."""
    kb, wait = dict.fromkeys(PAGES, 0.0), dict.fromkeys(PAGES, 0.0)
    first, whole, again, launch, fixed = 0.0, 0.0, 0.0, 0.0, 0.0
    for bow in BOWS:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(shutil.copytree(ROOT / "examples" / bow, f"{place}/{bow}"))
            served = Served(folder)
            try:
                first = max(first, served.get("/")[1])
                whole = max(whole, waited(served, "/"))
                with (folder / "notebook.yaml").open("a", encoding="utf-8") as notebook:
                    print("- {kind: brace, brace: 7 1/2 in, shots_on: 999}", file=notebook)
                again = max(again, waited(served, "/"))
                for name, path in PAGES.items():
                    seconds = served.get(path)[1]
                    if name == "Launch":
                        launch = max(launch, waited(served, path))
                    kb[name] = max(kb[name], len(served.get(path)[0]) / 1000)
                    wait[name] = max(wait[name], seconds)
                names = ("page.css", "figure.css", "page.js", "map.js", "shots.js")
                fixed = sum(len(served.get(f"/static/{n}")[0]) for n in names) / 1000
            finally:
                served.process.terminate()
                served.process.wait()
    return {
        "kb": kb,
        "wait": wait,
        "first": first,
        "map": whole,
        "again": again,
        "launch": launch,
        "fixed": fixed,
    }


def tapped() -> list[tuple[str, int, int]]:
    """The counts of the ten tasks, by the tests."""
    with tempfile.TemporaryDirectory() as place:
        counts = Path(place) / "counts"
        subprocess.run(
            [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "tests/browser/test_browser_range.py"],
            env={**os.environ, "SHAFTWRIGHT_TAPS": str(counts)}, cwd=ROOT, check=True,
        )  # fmt: skip
        return [tuple(json.loads(line)) for line in counts.read_text("utf-8").splitlines()]


def main() -> None:
    """Count, weigh and write."""
    found, tasks = weighed(), tapped()
    kb, wait = found["kb"], found["wait"]
    where = f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"
    stamp = f"{dt.date.today()}, Python {platform.python_version()}, {where}."
    text = TEXT.format(
        tasks="\n".join(f"| {task} | {taps} | {scrolls} |" for task, taps, scrolls in tasks),
        pages="\n".join(f"| {name} | {kb[name]:.1f} | {wait[name]:.2f} |" for name in PAGES),
        fixed=f"{found['fixed']:.0f}", first=f"{found['first']:.2f}", map=f"{found['map']:.1f}",
        again=f"{found['again']:.1f}", launch=f"{found['launch']:.1f}", stamp=stamp,
    )  # fmt: skip
    (ROOT / "docs" / "phone.md").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
