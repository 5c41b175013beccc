"""Faults that archers found who only obeyed `next`; each is seen again with the code of before."""

import pytest
from plan_ends import asked, change, end, entry, have, owning, rig_with

from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.notebook_rig import rig_now


def test_a_bow_changed_twice_keeps_its_last_setting_though_the_file_says_the_first():
    """The plate went from 1/16 in to 1/8 and then to 3/16; nobody edited rig.yaml."""
    rig = rig_with()
    shot = end(weak=9, rig_state={"plate": 0.125})
    now, remarks = rig_now(rig, [change("plate", plate=0.125), shot, change("plate", plate=0.1875)])
    assert now.bow.plate.thickness_in == pytest.approx(3 / 16)
    assert len(remarks) == 1


def test_wood_too_weak_as_it_came_is_cut_first():
    """The kit says so when it is sold; once it is in hand the plan must not sell it again."""
    rig, stock = load_rig("examples/long_fen/rig.yaml"), load_stock("examples/long_fen/stock.csv")
    weight = rig.bow.draw_weight.model_copy(update={"no_scale": True})
    rig = rig.model_copy(update={"bow": rig.bow.model_copy(update={"draw_weight": weight})})
    told = scenario(rig, stock=stock, entries=()).plan.next
    assert told.kind == "buy"
    bought = [
        entry({"kind": "have", "item": line.item, "count": line.quantity}) for line in told.buy
    ]
    then = scenario(rig, stock=stock, entries=bought).plan.next
    assert then.kind in ("cut", "shoot")
    assert then.length_in < 32 or then.kind == "shoot"
    assert then.shaft in {line.item for line in told.buy}


@pytest.mark.slow
def test_broadheads_that_are_only_told_to_be_apart_ask_for_their_hits():
    """The third time nobody is sent to the spin test again."""
    apart = entry({
        "kind": "broadhead", "distance": "20 yd", "together": False,
        "build": {"shaft": "MARSH-500", "length": "31 in", "broadhead": "B175", "insert": "I25"},
    })  # fmt: skip
    straight = [end(length=31, point="P175", spread=0.5)] * 5
    second = [end(length=31, point="P175", spread=0.5, piece=2)] * 2
    rig = rig_with("hunting")
    stock = owning(MARSH_500=3, B175=3)
    for many in range(4):
        then = asked(*straight, *second, *[apart] * many, rig=rig, stock=stock).plan.next
        assert then.kind == "broadheads", (many, then.do)
        assert ("every hit" in then.do) == (many >= 2)
        assert ("Spin-test" in then.do) == (many == 1)


def test_a_count_without_a_length_is_what_there_is_in_all():
    """Two were bought; then it was told that one of them is 30 1/2 in and one 32."""
    told = asked(
        have("MARSH-500", 2), have("MARSH-500", 1, 30.5), have("MARSH-500", 1, 32), stock=owning()
    )
    assert sorted(p.length_in for p in told.held.of("MARSH-500")) == [30.5, 32]
