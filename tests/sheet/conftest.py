"""The sheet of the first example before its first shot, worked out once."""

from pathlib import Path

import pytest

import shaftwright

HERON = Path(__file__).parents[2] / "examples" / "heron_marsh"


@pytest.fixture(scope="session")
def bow():
    return shaftwright.open(HERON, notebook_file="-")


@pytest.fixture(scope="session")
def shown(bow):
    return bow.sheet()


@pytest.fixture(scope="session")
def sheet(shown):
    return shown.result
