"""Every story is opened and asked for its plan once."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from story import Story

import shaftwright

Told = tuple[Path, dict[str, Any], shaftwright.Bow]


@pytest.fixture(scope="session")
def told(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Story], Told]:
    """The bow's folder, its plan and the bow, of a story in its first form."""
    made: dict[str, Told] = {}

    def of(story: Story) -> Told:
        if story.name not in made:
            folder = story.write(tmp_path_factory.mktemp("bow"), story.forms[0])
            bow = shaftwright.open(folder)
            made[story.name] = folder, bow.next().to_dict(), bow
        return made[story.name]

    return of
