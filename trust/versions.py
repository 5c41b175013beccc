"""The command line and the page on the lowest versions that pyproject.toml allows, and on the newest.

Each Python that is found (3.11 to 3.13) gets an environment with the newest of everything, the oldest Python one
with every dependency at its lower bound as well (the bounds are older than the wheels of later Pythons, and pip
takes the newest where it may). `python trust/versions.py [lowest | newest]`.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from record import ROOT, write

PYTHONS = ("3.11", "3.12", "3.13")


def bounds() -> dict[str, str]:
    """Package -> the lowest version that pyproject.toml allows, with the extra `web`."""
    held = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    every = [*held["dependencies"], *held["optional-dependencies"]["web"]]
    return {m[1]: m[2] for one in every if (m := re.fullmatch(r"([\w-]+)>=([\w.]+)", one))}


def python_of(version: str) -> str | None:
    """A Python of that version that runs here."""
    kept = sorted(Path.home().glob(f".pyenv/versions/{version}.*/bin/python"))
    for one in (f"python{version}", *map(str, kept), sys.executable):
        found = shutil.which(one)
        if found is None:
            continue
        told = subprocess.run(
            [found, "-c", "import sys; print('%d.%d' % sys.version_info[:2])"],
            capture_output=True,
            text=True,
            check=False,
        )
        if told.stdout.strip() == version:
            return found
    return None


def tried(python: str, wheel: Path, lowest: bool) -> dict[str, Any]:
    """The wheel with its dependencies in an environment of its own, and what the smoke test says of it."""
    with tempfile.TemporaryDirectory(prefix="trust-") as place:
        subprocess.run([python, "-m", "venv", place], check=True)
        own = f"{place}/bin/python"
        pins = [f"{name}=={version}" for name, version in bounds().items()] if lowest else []
        done = subprocess.run([own, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--only-binary", ":all:",
                               f"{wheel}[web]", *pins], capture_output=True, text=True, check=False)  # fmt: skip
        if done.returncode:
            return {"wrong": [f"pip: {done.stderr[-600:]}"]}
        listed = subprocess.run(
            [own, "-m", "pip", "list", "--format", "json", "--disable-pip-version-check"],
            capture_output=True,
            text=True,
            check=True,
        )
        names = {n.lower() for n in bounds()}
        has = {
            p["name"].lower(): p["version"]
            for p in json.loads(listed.stdout)
            if p["name"].lower() in names
        }
        smoke = subprocess.run(
            [own, str(ROOT / "trust" / "smoke.py")],
            capture_output=True,
            text=True,
            check=False,
            cwd=place,
        )
        try:
            return {**json.loads(smoke.stdout), "versions": has}
        except ValueError:
            return {"wrong": [smoke.stderr[-600:]], "versions": has}


def main() -> None:
    """Lowest, newest, or both."""
    which = sys.argv[1:] or ["lowest", "newest"]
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory(prefix="trust-") as place:
        subprocess.run(
            [
                sys.executable,
                "-m",
                "build",
                "--wheel",
                "--no-isolation",
                "--outdir",
                place,
                str(ROOT),
            ],
            check=True,
            capture_output=True,
        )
        (wheel,) = Path(place).glob("*.whl")
        for version in PYTHONS:
            python = python_of(version)
            for kind in which:
                if kind == "lowest" and version != PYTHONS[0]:
                    continue
                name = f"Python {version}, {kind}"
                found[name] = (
                    {"missing": True} if python is None else tried(python, wheel, kind == "lowest")
                )
                sys.stdout.write(f"{name}: {json.dumps(found[name])}\n")
                sys.stdout.flush()
    if len(which) == 2:
        write("versions", {"environments": found})
    if any(one.get("wrong") for one in found.values()):
        sys.exit(1)


if __name__ == "__main__":
    main()
