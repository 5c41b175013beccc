"""A release is the same to the byte whoever builds it, carries what a stranger needs, and works as installed.

`make release` installs it with all it needs from a wheelhouse; here it finds that where the tests run.
"""

from __future__ import annotations

import ast
import importlib.util
import json
import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
_SPEC = importlib.util.spec_from_file_location("release", ROOT / "scripts" / "release.py")
assert _SPEC is not None
assert _SPEC.loader is not None
release = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(release)


@pytest.fixture(scope="module")
def dist(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    out = tmp_path_factory.mktemp("dist")
    return out, release.built(out)


@pytest.fixture(scope="module")
def wheel(dist: tuple[Path, dict[str, str]]) -> Path:
    return next(dist[0].glob("*.whl"))


@pytest.mark.slow
def test_two_builds_are_the_same_to_the_byte(
    dist: tuple[Path, dict[str, str]], tmp_path: Path
) -> None:
    out, first = dist
    assert first == release.built(tmp_path / "second")
    assert len(first) == 2
    with tarfile.open(next(out.glob("*.tar.gz"))) as sdist:
        names = {name.partition("/")[2] for name in sdist.getnames()}
    assert {
        "CITATION.cff",
        "LICENSE",
        "mkdocs.yml",
        "docs/tutorial.md",
        "docs/pictures/map.svg",
    } <= names


def test_a_version_of_another_place_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    release.one_version()
    for name in ("CITATION.cff", "pyproject.toml"):
        (tmp_path / name).write_text((ROOT / name).read_text(encoding="utf-8"), encoding="utf-8")
    cited = (tmp_path / "CITATION.cff").read_text(encoding="utf-8")
    (tmp_path / "CITATION.cff").write_text(
        cited.replace("version: 0", "version: 9"), encoding="utf-8"
    )
    monkeypatch.setattr(release, "ROOT", tmp_path)
    with pytest.raises(SystemExit, match=r"CITATION\.cff"):
        release.one_version()


@pytest.mark.slow
def test_wheel_carries_rules_tables_and_starter(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("rules", "tables"):
        for path in (ROOT / folder).iterdir():
            assert f"shaftwright/data/{folder}/{path.name}" in names
    assert {"shaftwright/starter/rig.yaml", "shaftwright/py.typed"} <= names
    assert not [n for n in names if n.startswith(("tests", "examples"))]


def _outside(source: str) -> set[str]:
    """Top names of the modules that a file imports from outside the product and Python."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.append(node.module)
        found |= {name.partition(".")[0] for name in names}
    return found - set(sys.stdlib_module_names) - {"shaftwright"}


@pytest.mark.slow
def test_wheel_asks_for_all_that_it_imports(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as held:
        names = held.namelist()
        code = [held.read(name).decode() for name in names if name.endswith(".py")]
        about = held.read(next(n for n in names if n.endswith("METADATA"))).decode()
    asked = re.findall(r"^Requires-Dist: ([\w.-]+)(?!.*extra == .(?:dev|docs))", about, re.M)
    known = {"pyyaml": "yaml", "python-multipart": "python_multipart"}
    declared = {known.get(name.lower(), name.lower()) for name in asked}
    imported = set().union(*map(_outside, code))
    assert {"numpy", "scipy", "yaml", "click", "starlette"} <= imported
    assert imported - declared == {"markupsafe"}  # jinja2 is made of it and hands it out


@pytest.mark.slow
def test_wheel_installed_away_from_the_checkout_chooses(wheel: Path, tmp_path: Path) -> None:
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}

    def run(*words: object) -> str:
        done = subprocess.run(
            [str(word) for word in words], cwd=tmp_path, env=env, capture_output=True, text=True, check=False
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    venv.create(tmp_path / "venv")
    python = tmp_path / "venv" / "bin" / "python"
    run(sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-deps", "--no-index", wheel)  # fmt: skip
    where = Path(
        run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip()
    )
    # a path file's own path files are not read: a checkout that stands in this environment is not found
    (where / "needed.pth").write_text(sysconfig.get_path("purelib"), encoding="utf-8")
    tool = tmp_path / "venv" / "bin" / "shaftwright"
    run(tool, "new", "my-bow")
    answer = json.loads(
        run(tool, "choose", "my-bow/rig.yaml", "--stock", "my-bow/stock.csv", "--json")
    )
    assert answer["builds"]
    assert answer["spine_band_mils"]["low"] < answer["spine_band_mils"]["high"]
    found = run(python, "-c", "import shaftwright; print(shaftwright.__file__)")
    assert str(where) in found
