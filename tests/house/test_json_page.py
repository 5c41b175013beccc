"""docs/json.md says what the commands print."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
def test_the_page_of_documents_has_not_drifted() -> None:
    run = subprocess.run(
        [sys.executable, "scripts/json_fields.py", "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
