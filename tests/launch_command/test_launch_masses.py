"""The arrow that the launch model bends weighs what the build weighs."""

import pytest

from shaftwright.answers.launch.rig import launch_arrow
from shaftwright.records.builds import bare_of, builds_by_numbers

GRAIN_KG = 64.79891e-6  # the international grain, exact


def test_its_parts_weigh_what_the_build_does():
    builds = builds_by_numbers(500, 29.5, 200, tail_gr=40, gr_per_in=8)
    arrow = launch_arrow(builds)
    shaft = float(arrow.mass_per_length_kg_m[0] * arrow.length_m[0])
    parts = [float(p[0]) for p in (arrow.front_kg, arrow.tail_kg, arrow.fletching_kg)]
    assert shaft + sum(parts) == pytest.approx(float(builds.total_gr[0]) * GRAIN_KG)
    assert parts[0] == pytest.approx(200 * GRAIN_KG)
    bare = launch_arrow(bare_of(builds, taped=False))
    assert float(bare.fletching_kg[0]) == 0
    assert float(bare.tail_kg[0]) == pytest.approx(parts[1])
