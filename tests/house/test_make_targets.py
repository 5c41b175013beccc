"""What the Makefile promises is there to be run."""

import json
import runpy
import tomllib
from fnmatch import fnmatch
from pathlib import Path


def test_make_bench_finds_every_bench():
    """`pytest bench` takes only files whose names it is told to look for."""
    settings = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))
    patterns = settings["tool"]["pytest"]["ini_options"]["python_files"]
    benches = [
        p.name for p in Path("bench").glob("*.py") if p.name not in ("__init__.py", "conftest.py")
    ]
    assert len(benches) >= 8
    assert all(any(fnmatch(name, pattern) for pattern in patterns) for name in benches)


def test_the_page_of_speed_is_made_of_what_was_measured():
    """A figure typed in by hand, or one measured and not told."""
    made = runpy.run_path("bench/performance/page.py")["page"]
    kept = json.loads(Path("bench/performance/measured.json").read_text(encoding="utf-8"))
    assert Path("docs/performance.md").read_text(encoding="utf-8") == made(kept)


def test_the_page_of_trials_is_made_of_their_counts():
    made = runpy.run_path("trust/page.py")["page"]()
    assert Path("docs/trust.md").read_text(encoding="utf-8") == made
    assert "Not run yet" not in made
