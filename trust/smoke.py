"""The command line and the page of whatever shaftwright is installed, on a copy of the examples; prints JSON.

Needs nothing but the package with its extra `web`, so that it can run on any versions of what that needs.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.parse
from pathlib import Path

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
ARROW = ("--shaft", "MARSH-500", "--length", "29.5 in", "--point", "P175", "--insert", "I25")
#: what must end with 0, run in a copy of the examples
LINES = (
    "new fresh", "next BOW", "choose BOW --full", "choose BOW --plot band.svg", "choose BOW --plot band.png", "explain BOW --full",
    "build BOW ARROW", "bareshaft BOW --full", "shop BOW --csv list.csv", "sheet BOW --notebook - --html sheet.html",
    "compare BOW --plot compare.svg", "brace heron_marsh/brace.notebook.yaml --plot brace.pdf",
    "efficiency BOW --notebook heron_marsh/masses.notebook.yaml --plot speed.svg", "flight BOW ARROW --plot flight.svg",
    "launch BOW ARROW --draws 4 --plot launch.svg --animate bend.svg", "card BOW --html card.html", "report BOW --html report.html",
    "choose reed_lark", "shop long_fen", "rules list", "rules check", "rules check --rules own_rules/rules", "rules fit tuned_rigs.csv",
    "rules score tuned_rigs.csv", "note BOW chrono --speed 171 --arrow-mass 505 --string A", "note BOW undo",
    "note BOW bareshaft ARROW --distance 20yd --bare 4l:right --fletched 1r --marks none",
)  # fmt: skip
#: whose figures are held against those of other versions
FIGURES = (
    "choose BOW --json",
    "bareshaft BOW --json",
    "shop BOW --json",
    "flight BOW ARROW --json",
    "launch BOW ARROW --draws 4 --json",
)
ROUTES = (
    "/",
    "/rig",
    "/stock",
    "/shots",
    "/list",
    "/files",
    "/next",
    "/builds",
    "/files/report.html",
    "/files/rig.yaml",
    "/static/page.js",
)


def run(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """One command; warnings are told, none is allowed."""
    words = [
        w
        for word in line.split()
        for w in (ARROW if word == "ARROW" else ("heron_marsh",) if word == "BOW" else (word,))
    ]
    return subprocess.run(
        [sys.executable, "-W", "always", "-m", "shaftwright", *words],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def rounded(held: object) -> object:
    """Figures to six places, so that another build of the same sums may differ in the last."""
    if isinstance(held, float):
        return float(f"{held:.6g}")
    if isinstance(held, dict):
        return {key: rounded(value) for key, value in held.items()}
    return [rounded(one) for one in held] if isinstance(held, list) else held


def page(folder: Path) -> list[str]:
    """What goes wrong with the page over a bow."""
    wrong = []
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    server = subprocess.Popen([sys.executable, "-m", "shaftwright", "serve", str(folder), "--port", "0"], stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, text=True, env=env)  # fmt: skip
    try:
        assert server.stdout is not None
        first = server.stdout.readline()
        found = re.search(r"127\.0\.0\.1:(\d+)", first)
        if found is None:
            return [f"serve: {first}{server.stdout.read()[-400:]}"]
        port, token = int(found[1]), ""
        for path in ROUTES:
            there = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
            there.request("GET", path, headers={"X-Part": "1"} if path == "/" else {})
            answer = there.getresponse()
            text = answer.read().decode("utf-8", "replace")
            if answer.status != 200:
                wrong.append(f"GET {path}: {answer.status}")
            if path == "/shots":
                named = re.search(r'name="token"[^>]*value="([^"]+)"', text) or re.search(
                    r'value="([^"]+)"[^>]*name="token"', text
                )
                token = named[1] if named else ""
        form = {"token": token, "build.shaft": "MARSH-500", "build.length": "29.5", "build.point": "P175", "build.insert": "I25",
                "distance": "20", "reads": "straight", "date": "2026-05-02"}  # fmt: skip
        there = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        there.request("POST", "/shots", urllib.parse.urlencode(form),
                      {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"http://127.0.0.1:{port}"})  # fmt: skip
        status = there.getresponse().status
        if status != 303:
            wrong.append(f"POST /shots: {status}")
    finally:
        server.terminate()
        server.wait(20)
    return wrong


def main() -> None:
    """All of it; exit code 1 where something went wrong."""
    folder = Path(tempfile.mkdtemp(prefix="trust-")) / "examples"
    shutil.copytree(EXAMPLES, folder)
    wrong, figures = [], {}
    for line in FIGURES:
        done = run(line, folder)
        if done.returncode == 0:
            told = json.dumps(rounded(json.loads(done.stdout)), sort_keys=True)
            figures[line.split()[0]] = hashlib.sha256(told.encode()).hexdigest()[:12]
        else:
            wrong.append(f"{line}: {done.returncode}: {done.stderr[-300:]}")
    for line in LINES:
        done = run(line, folder)
        if done.returncode or "Traceback" in done.stderr or "Warning" in done.stderr:
            wrong.append(f"{line}: {done.returncode}: {done.stderr[-400:]}")
    wrong += page(folder / "heron_marsh")
    shutil.rmtree(folder.parent)
    sys.stdout.write(
        json.dumps(
            {
                "commands": len(LINES) + len(FIGURES),
                "routes": len(ROUTES) + 1,
                "wrong": wrong,
                "figures": figures,
            }
        )
        + "\n"
    )
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
