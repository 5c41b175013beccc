"""A short count of what `calibrate/shop.py` counts in full: is the kit's promise kept, is it cheaper."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

PATH = Path(__file__).resolve().parents[2] / "calibrate" / "shop.py"


@pytest.fixture(scope="module")
def counted():
    spec = importlib.util.spec_from_file_location("calibrate_shop", PATH)
    module = importlib.util.module_from_spec(spec)
    sys.modules["calibrate_shop"] = module
    spec.loader.exec_module(module)
    return module, module.run(50)


@pytest.mark.slow
def test_promised_chance_is_met_within_sampling_error(counted):
    module, archers = counted
    for chance in module.CHANCES:
        promised, share, error = module.kept(archers, chance, module.RULES)
        assert promised >= chance
        assert abs(share - promised) < 3 * error


@pytest.mark.slow
def test_promise_holds_over_many_truths_of_the_stated_spread(counted):
    module, archers = counted
    for chance in module.CHANCES:
        some = module.kits_of(archers, chance)
        promised = np.mean([k.promised for k in some])
        for world, (group, _) in module.WORLDS.items():
            if group == "stated":
                assert abs(module.often(some, world) - promised) < 0.025, world


@pytest.mark.slow
def test_wider_worlds_keep_less_and_stricter_ones_too(counted):
    module, archers = counted
    some = module.kits_of(archers, 0.95)
    rules = module.often(some, module.RULES)
    wider = module.often(some, "a quarter wider")
    assert module.often(some, "half as wide again") < wider < rules
    assert module.often(some, "closer tolerance") < rules


@pytest.mark.slow
def test_kit_costs_less_than_three_and_two_and_two_at_the_same_success(counted):
    module, archers = counted
    price = np.mean([k.price for k in module.kits_of(archers, module.CHANCES[-1])])
    for _, mean in module.same_success(archers).values():
        assert price < mean
