"""Build sdist and wheel twice, compare them, install the wheel from a wheelhouse with no index, and use it.

Leaves both in dist/. The wheelhouse is filled with the lock file's versions first; that step alone uses the
installer's usual sources. `--wheelhouse DIR` takes one that is there.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import venv
from pathlib import Path

import shaftwright

ROOT = Path(__file__).resolve().parents[1]


def run(*words: object, cwd: Path = ROOT, **more: str) -> str:
    """What a command prints; its failure ends the release."""
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")} | more
    done = subprocess.run([str(w) for w in words], cwd=cwd, env=env, text=True, check=False,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT)  # fmt: skip
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, words))} failed:\n{done.stdout}")
    return done.stdout


def built(out: Path) -> dict[str, str]:
    """Sdist, and a wheel made from it: names and fingerprints. Times are those of the last commit."""
    day = run("git", "log", "-1", "--format=%ct").strip()
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", out, SOURCE_DATE_EPOCH=day)
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(out.iterdir())}


def one_version() -> None:
    """CITATION.cff speaks of the version that the package has, and nothing else states one."""
    version = shaftwright.__version__
    cited = re.search(
        r"^version: (\S+)$", (ROOT / "CITATION.cff").read_text(encoding="utf-8"), re.M
    )
    if cited is None or cited[1] != version:
        raise SystemExit(f"CITATION.cff does not say version: {version}")
    if "version" in tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]:
        raise SystemExit("pyproject.toml states a version of its own")


def fill(wheelhouse: Path) -> None:
    """Wheels of what the product needs, at the lock file's versions."""
    lines = (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines()
    pins = [line.removesuffix("\\").strip() for line in lines if re.match(r"\w.*==", line)]
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    limits = wheelhouse.with_suffix(".txt")
    limits.write_text("\n".join(pins), encoding="utf-8")
    run(sys.executable, "-m", "pip", "download", "--quiet", "--only-binary", ":all:", "-d", wheelhouse,
        "-c", limits, *needed["dependencies"])  # fmt: skip


def used(wheel: Path, wheelhouse: Path, away: Path) -> None:
    """A clean environment, no index, and the first things that a stranger does."""
    venv.create(away / "venv", with_pip=True)
    bin_ = away / "venv" / "bin"
    run(bin_ / "python", "-m", "pip", "install", "--quiet", "--no-index", "--find-links", wheelhouse, wheel,
        cwd=away)  # fmt: skip
    tool = bin_ / "shaftwright"
    if shaftwright.__version__ not in run(tool, "--version", cwd=away):
        raise SystemExit("the installed command states another version")
    run(tool, "new", "my-bow", cwd=away)
    for command in ("next", "choose", "shop"):
        print(
            f"$ shaftwright {command} my-bow\n  {run(tool, command, 'my-bow', cwd=away).splitlines()[0]}"
        )
    run(tool, "choose", "my-bow", "--plot", "map.svg", cwd=away)
    if not (next((away / "venv").rglob("shaftwright/py.typed"), None)):
        raise SystemExit("py.typed is not in the wheel")


def main() -> None:
    """All of it, in a folder that is thrown away; dist/ keeps the two files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheelhouse", type=Path)
    given = parser.parse_args().wheelhouse
    one_version()
    with tempfile.TemporaryDirectory() as made:
        away = Path(made)
        first, second = built(away / "first"), built(away / "second")
        if first != second:
            raise SystemExit(f"two builds differ: {first} {second}")
        wheelhouse = given.resolve() if given else away / "wheelhouse"
        if not given:
            fill(wheelhouse)
        used(next((away / "first").glob("*.whl")), wheelhouse, away)
        shutil.rmtree(ROOT / "dist", ignore_errors=True)
        shutil.copytree(away / "first", ROOT / "dist")
    for name, mark in first.items():
        print(f"{mark}  dist/{name}")


if __name__ == "__main__":
    main()
