"""The product as it is installed: from a wheel, in a clean environment, away from the checkout."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(*words: object, cwd: Path, **more: str) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")} | more
    return subprocess.run(
        [str(word) for word in words], cwd=cwd, env=env, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    built = run(
        sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", out, ROOT, cwd=out
    )
    assert built.returncode == 0, built.stderr
    return next(out.glob("*.whl"))


@pytest.mark.slow
def test_wheel_carries_rules_tables_and_starter(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("rules", "tables"):
        for path in (ROOT / folder).iterdir():
            assert f"shaftwright/data/{folder}/{path.name}" in names
    assert {"shaftwright/starter/rig.yaml", "shaftwright/py.typed"} <= names
    assert not [n for n in names if n.startswith(("tests", "examples"))]


@pytest.mark.slow
def test_wheel_installed_in_a_clean_venv_chooses(wheel: Path, tmp_path: Path) -> None:
    venv = tmp_path / "venv"
    assert run(sys.executable, "-m", "venv", venv, cwd=tmp_path).returncode == 0
    # the lock file's versions, without hashes, since the wheel itself has none in it
    pins = re.sub(
        r" \\\n(?:    --hash=\S+(?: \\)?\n?)+", "\n", (ROOT / "requirements.lock").read_text()
    )
    constraints = tmp_path / "constraints.txt"
    constraints.write_text("\n".join(line for line in pins.splitlines() if "==" in line))
    python = venv / "bin" / "python"
    installed = run(
        python, "-m", "pip", "install", "--quiet", "-c", constraints, wheel, cwd=tmp_path
    )
    assert installed.returncode == 0, installed.stderr
    made = run(venv / "bin" / "shaftwright", "new", "my-bow", cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    chosen = run(
        venv / "bin" / "shaftwright", "choose", "my-bow/rig.yaml", "--stock", "my-bow/stock.csv", "--json",
        cwd=tmp_path,
    )  # fmt: skip
    assert chosen.returncode == 0, chosen.stderr
    answer = json.loads(chosen.stdout)
    assert answer["builds"]
    assert answer["spine_band_mils"]["low"] < answer["spine_band_mils"]["high"]
    where = run(python, "-c", "import shaftwright; print(shaftwright.__file__)", cwd=tmp_path)
    assert str(venv) in where.stdout
