"""What is drawn of the bow's energy is as wide as the speed model says, whatever share of it is the weight's."""

import numpy as np
import pytest

from shaftwright.answers.launch.rig import _drawn
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig

RIG = "examples/heron_marsh/rig.yaml"


def test_energy_without_readings_is_as_doubtful_as_the_speed_model_says():
    asked = scenario(load_rig(RIG))
    demand, speed = asked.demand_without_speed(asked.reference_build()), asked.speeds()
    assert speed.reference_kg is None
    force, energy, virtual = _drawn(demand, speed, 4000, 20)
    force_sd, own = np.std(np.log(force)), speed.energy_sd_j / speed.energy_j
    assert own > force_sd > 0
    assert np.std(np.log(energy)) == pytest.approx(own, rel=0.05)
    # what is not the weight's is the bow's own
    apart = np.std(np.log(energy) - np.log(force))
    assert apart == pytest.approx(np.sqrt(own**2 - force_sd**2), rel=0.05)
    assert np.corrcoef(np.log(energy) - np.log(force), virtual)[0, 1] == pytest.approx(
        speed.correlation, abs=0.05
    )
