"""The launch fitted to the archer's own bare shafts."""

import numpy as np
import pytest

from shaftwright.answers.launch.fit import Fit, fit, groups_of, offsets_of
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import ENTRY

RIG = "examples/heron_marsh/rig.yaml"
BUILD = {"spine": 500, "gr_per_in": 8, "length": 29.5, "front": 200, "tail": 25}


def entry(right_in, **more):
    return ENTRY.validate_python({
        "kind": "bareshaft", "build": BUILD, "distance": 20, "taped": True, "cant_deg": 0,
        "bare": [[right_in, 0]] * 3, "fletched": [[0, 0]] * 3, **more,
    })  # fmt: skip


def with_entries(*entries, **rig):
    return scenario(
        load_rig(RIG, tuple(f"archer.{k}={v}" for k, v in rig.items())), entries=entries
    )


@pytest.fixture(scope="module")
def asked():
    return scenario(load_rig(RIG, ()))


def test_stiff_lands_left_for_a_right_hander_and_right_for_a_left_hander():
    (right,) = groups_of(with_entries(entry(-4)))
    (left,) = groups_of(with_entries(entry(4), hand="left"))
    assert right.away_in == left.away_in == pytest.approx(4)
    assert right.sd_in == left.sd_in


def test_only_measured_groups_of_the_bow_as_it_stands_count():
    # the command writes how the bow stands into every entry
    entries = [
        entry(-4),
        ENTRY.validate_python({"kind": "change", "what": "limbs"}),
        entry(-2, marks="plate"),
        entry(-3.5, rig_state={"draw_weight": {"lb": 47, "at": "own_draw"}}),
        entry(-9, rig_state={"draw_weight": {"lb": 40, "at": "own_draw"}}),
        ENTRY.validate_python(
            {"kind": "bareshaft", "build": BUILD, "distance": 20, "reads": "stiff"}
        ),
        entry(-3),
    ]
    found = groups_of(with_entries(*entries))
    assert sorted(g.away_in for g in found) == pytest.approx([3, 3.5])


def test_an_untaped_bare_shaft_lacks_the_fletchings_mass():
    taped, bare = groups_of(with_entries(entry(-4), entry(-4, taped=False)))
    assert taped.builds.total_gr[0] - bare.builds.total_gr[0] == pytest.approx(15)


@pytest.mark.slow
def test_without_shots_all_draws_weigh_the_same(asked):
    found = fit(asked, ())
    assert np.allclose(found.weights, found.weights[0])
    assert found.effective == pytest.approx(len(found.weights))
    assert not found.strained


@pytest.mark.slow
def test_shots_draw_the_models_offset_toward_them(asked):
    """Bayes: the mean after a reading lies between the mean before and the reading."""
    prior = fit(asked, ())
    build = builds_by_numbers(500, 29.5, 200, 25, 8)
    before = offsets_of(prior.on, [build], [20])[0]
    start = float(before.mean())
    goal = float(np.percentile(before, 85))
    found = fit(asked, groups_of(with_entries(*[entry(-goal)] * 3)))
    after = float(found.weights @ offsets_of(found.on, [build], [20])[0])
    assert start < after < goal + 1
    assert abs(after - goal) < abs(start - goal) / 2
    assert found.effective < prior.effective


def test_resampling_keeps_the_weights():
    prior = fit_of_four()
    picked = prior.resampled(8)
    kept, counts = np.unique(picked.settings.side_fraction, return_counts=True)
    assert dict(zip(kept.tolist(), counts.tolist(), strict=True)) == {1.0: 4, 3.0: 4}


def fit_of_four():
    from shaftwright.answers.launch.rig import launch_rig

    asked = scenario(load_rig(RIG, ()))
    on = launch_rig(asked.rig, asked.demand(asked.reference_build()), asked.speeds(), 4)
    from dataclasses import replace

    marked = replace(on, settings=on.settings.changed(side_fraction=np.arange(4.0)))
    return Fit(marked, np.array([0.0, 0.5, 0.0, 0.5]), ())


def test_a_shaft_that_no_stock_has_is_left_out():
    named = entry(-4, build={"shaft": "NOWHERE", "length": 29.5})
    assert len(groups_of(with_entries(named, entry(-4)))) == 1


def test_an_arrow_that_ends_behind_the_plate_at_full_draw_is_left_out():
    """A draw of 27 3/4 in, told 1 3/4 in past the grip, reaches 26 in behind the plate."""
    short, just = (
        entry(-4).model_copy(
            update={"build": entry(-4).build.model_copy(update={"length_in": long})}
        )
        for long in (25.9, 26.1)
    )
    asked = with_entries(short, just)
    assert [float(g.builds.length_in[0]) for g in groups_of(asked)] == [26.1]
    assert fit(asked, groups_of(asked)).effective > 1
