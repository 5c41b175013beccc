"""The sheet of the first example before its first shot, worked out once."""

from pathlib import Path

import pytest

import shaftwright
from shaftwright.answers.arrows import outlook
from shaftwright.answers.plan import plan

HERON = Path(__file__).parents[2] / "examples" / "heron_marsh"


@pytest.fixture(scope="session")
def bow():
    return shaftwright.open(HERON, notebook_file="-")


@pytest.fixture(scope="session")
def counted(bow):
    """The sheet, how often an arrow was put together for it, and how often the plan was asked."""
    made, asked = [], []
    resolve, next_ = outlook.resolve_build, plan._next
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            outlook, "resolve_build", lambda spec, stock: made.append(1) or resolve(spec, stock)
        )
        patch.setattr(plan, "_next", lambda where: asked.append(1) or next_(where))
        return bow.sheet(), len(made), len(asked)


@pytest.fixture(scope="session")
def shown(counted):
    return counted[0]


@pytest.fixture(scope="session")
def sheet(shown):
    return shown.result
