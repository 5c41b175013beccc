"""A short count of what `calibrate/shop.py` counts in full: is the kit's promise kept, is it cheaper."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

PATH = Path(__file__).resolve().parents[2] / "calibrate" / "shop.py"


@pytest.fixture(scope="module")
def outcomes():
    spec = importlib.util.spec_from_file_location("calibrate_shop", PATH)
    module = importlib.util.module_from_spec(spec)
    sys.modules["calibrate_shop"] = module
    spec.loader.exec_module(module)
    return module, module.run(60)


@pytest.mark.slow
def test_promised_chance_is_met_within_sampling_error(outcomes):
    module, all_outcomes = outcomes
    for chance in module.CHANCES:
        some = [o for o in all_outcomes if o.asked == chance]
        promised, share, error = module.kept(some)
        assert promised >= chance
        assert abs(share - promised) < 3 * error


@pytest.mark.slow
def test_promise_holds_over_many_truths_of_the_stated_spread(outcomes):
    module, all_outcomes = outcomes
    for chance in module.CHANCES:
        some = [o for o in all_outcomes if o.asked == chance]
        promised = np.mean([o.promised for o in some])
        kept = dict(zip(module.FRESH_WORLDS, np.mean([o.fresh for o in some], axis=0), strict=True))
        for world in ("as the rules say", "flat, same spread", "fat tails"):
            assert abs(kept[world] - promised) < 0.02, world


@pytest.mark.slow
def test_kit_costs_less_than_three_and_two_and_two_at_the_same_success(outcomes):
    module, all_outcomes = outcomes
    some = [o for o in all_outcomes if o.asked == module.CHANCES[-1]]
    price = np.mean([o.price for o in some])
    for _, mean in module.same_success(all_outcomes).values():
        assert price < mean
