"""A release is the same to the byte whoever builds it, and carries what a stranger needs."""

from __future__ import annotations

import importlib.util
import tarfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
_SPEC = importlib.util.spec_from_file_location("release", ROOT / "scripts" / "release.py")
assert _SPEC is not None
assert _SPEC.loader is not None
release = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(release)


@pytest.mark.slow
def test_two_builds_are_the_same_to_the_byte(tmp_path: Path) -> None:
    first, second = release.built(tmp_path / "first"), release.built(tmp_path / "second")
    assert first == second
    assert len(first) == 2
    with tarfile.open(next((tmp_path / "first").glob("*.tar.gz"))) as sdist:
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
