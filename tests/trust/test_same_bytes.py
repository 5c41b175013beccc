"""The same files give the same bytes, whatever order Python keeps its sets in."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))
from random_notebooks import random_bow


@pytest.mark.slow
def test_no_answer_hangs_on_the_hash_seed(tmp_path):
    """Of this bow two signs were seen as often; `make trust` asks all commands (trust/same_bytes.py)."""
    folder = str(random_bow(10).write(tmp_path / "bow"))
    told = {
        subprocess.run(
            [sys.executable, "-m", "shaftwright", "bareshaft", folder, "--json"],
            env={**os.environ, "PYTHONHASHSEED": hashed}, capture_output=True, check=True,
        ).stdout
        for hashed in ("1", "777")
    }  # fmt: skip
    assert len(told) == 1
