"""A shortcut of the sampler changes nothing that could matter: where the false way is left out, it says next to nothing."""

import numpy as np

from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.inference.evidence import sampler
from shaftwright.records.notebook import ENTRY

RIG = "examples/heron_marsh/rig.yaml"


def learned(*told):
    entries = [ENTRY.validate_python({
        "kind": "bareshaft", "build": {"spine": spine, "length": 29.5, "front": 200, "gr_per_in": 8}, "distance": 20, "reads": reads,
    }) for spine, reads in told]  # fmt: skip
    return scenario(load_rig(RIG), None, None, entries, range(1, len(entries) + 1)).learned


def test_leaving_the_false_way_out_changes_nothing(monkeypatch):
    """On average under a hundredth of a score's spread."""
    told = ((600, "stiff"), (500, "slightly_stiff"))
    short = learned(*told)
    monkeypatch.setattr(sampler, "_weakest_safe", lambda terms: np.inf)
    whole = learned(*told)
    for name, scores in whole.belief.scores.items():
        assert np.mean(np.abs(short.belief.scores[name] - scores)) < 0.01, name
