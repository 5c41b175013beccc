"""The pages: what they show is what the commands print, every link leads somewhere, nothing is fetched."""

from __future__ import annotations

import importlib.util
import os
import re
import runpy
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import yaml

import shaftwright

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]
README = runpy.run_path(str(ROOT / "scripts" / "readme.py"))
LINK = re.compile(r"\]\(([^)\s]+)\)")


def script(name: str, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, f"scripts/{name}.py", *words],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


def run_pages() -> list[str]:
    marked = re.compile(r"^<!-- run -->$", re.M)
    found = (p for p in DOCS.rglob("*.md") if marked.search(p.read_text(encoding="utf-8")))
    return sorted(str(p.relative_to(ROOT)) for p in found)


@pytest.mark.slow
@pytest.mark.parametrize("page", ["README.md", *run_pages()])
def test_a_page_shows_what_its_commands_print(page: str) -> None:
    """`make readme` writes it anew."""
    told = (ROOT / page).read_text(encoding="utf-8")
    anew, pictures = README["renewed"](told, write=False)
    assert anew == told
    assert pictures == []


def test_the_tutorial_and_every_how_to_run_something() -> None:
    how_to = {str(p.relative_to(ROOT)) for p in (DOCS / "how-to").glob("*.md")}
    alone = {"docs/how-to/completion.md"}  # lines for a shell's own file
    assert how_to - alone | {"docs/tutorial.md", "docs/walk.md"} <= set(run_pages())


@pytest.mark.slow
def test_the_reference_has_not_drifted() -> None:
    run = script("reference", "--check")
    assert run.returncode == 0, run.stdout + run.stderr


def test_commands_in_pages_are_marked_to_be_run() -> None:
    """A console block that shows an answer but is not run could say anything."""
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        for block in re.finditer(r"(<!-- run -->\n)?```console\n(.*?)```", text, re.DOTALL):
            if re.search(r"^\$ shaftwright", block[2], re.M):
                assert block[1], f"{page.name}: {block[2][:60]}"


def anchors(page: Path) -> set[str]:
    heads = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.M)
    plain = (re.sub(r"[^\w\s-]", "", head.lower()).strip() for head in heads)
    return {re.sub(r"[-\s]+", "-", head) for head in plain}


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for link in LINK.findall(text):
        assert "://" not in link, f"{page.name}: {link} leads out of the repository"
        name, _, part = link.partition("#")
        there = (page.parent / name).resolve() if name else page
        assert there.exists(), f"{page.name}: {link}"
        assert not part or part in anchors(there), f"{page.name}: {link}"


def nav(part: object) -> set[str]:
    if isinstance(part, str):
        return {part}
    return set().union(*map(nav, part.values() if isinstance(part, dict) else part))  # type: ignore[attr-defined]


def test_every_page_stands_in_the_contents() -> None:
    told = nav(yaml.safe_load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"))["nav"])
    there = {str(p.relative_to(DOCS)) for p in DOCS.rglob("*.md")}
    assert told == there


def test_the_readme_is_a_screen_and_a_half() -> None:
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 115
    assert "make test" in " ".join(lines)


def test_pictures_are_small_and_have_words_to_compare() -> None:
    for picture in (DOCS / "pictures").iterdir():
        assert picture.stat().st_size < 150_000, picture.name
        if picture.suffix == ".svg":
            words = re.findall(r"<(?:text|tspan)\b[^>]*>[^<]+", picture.read_text(encoding="utf-8"))
            assert len(words) > 5, picture.name


@pytest.mark.slow
def test_the_site_is_built_and_fetches_nothing(tmp_path: Path) -> None:
    if importlib.util.find_spec("mkdocs") is None or importlib.util.find_spec("material") is None:
        pytest.skip("mkdocs-material is not installed: the docs extra, which make setup installs")
    run = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", tmp_path],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "NO_MKDOCS_2_WARNING": "1"},
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    fetched = re.compile(
        r"<(?:script|img|iframe|source)\b[^>]*\bsrc=[\"']?(?:https?:)?//"
        r"|<link\b(?![^>]*rel=[\"']?canonical)[^>]*href=[\"']?(?:https?:)?//"
        r"|@import|url\([\"']?(?:https?:)?//"
    )
    pages = [p for kind in ("*.html", "*.css") for p in tmp_path.rglob(kind)]
    assert len(pages) > 30
    for page in pages:
        found = fetched.search(page.read_text(encoding="utf-8"))
        assert found is None, f"{page.relative_to(tmp_path)}: {found and found[0]}"


def test_the_version_is_stated_in_one_place() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    assert project["tool"]["hatch"]["version"]["path"] == "src/shaftwright/__init__.py"
    cited = yaml.safe_load((ROOT / "CITATION.cff").read_text(encoding="utf-8"))
    assert cited["version"] == shaftwright.__version__


def test_every_dependency_is_argued() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    argued = (DOCS / "decisions" / "dependencies.md").read_text(encoding="utf-8")
    for line in (*project["dependencies"], *project["optional-dependencies"]["web"]):
        name = re.split(r"[<>=]", line)[0]
        assert re.search(rf"\b{name}\b", argued), name


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
@pytest.mark.slow
def test_the_shell_is_told_how_to_complete(shell: str) -> None:
    page = (DOCS / "how-to" / "completion.md").read_text(encoding="utf-8")
    assert f"_SHAFTWRIGHT_COMPLETE={shell}_source shaftwright" in page
    code = "from shaftwright.cli.main import cli; cli(prog_name='shaftwright')"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False,
        env={**os.environ, "_SHAFTWRIGHT_COMPLETE": f"{shell}_source"},
    )  # fmt: skip
    # bash below 4.4 is refused by click; its script is printed all the same
    assert "shaftwright" in run.stdout, run.stderr
