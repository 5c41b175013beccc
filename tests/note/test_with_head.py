"""A broadhead noted without its name is the one that weighs what the proven point does."""

import pytest

from shaftwright.answers.note.noting import Arrow, with_head
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import BuildSpec

SHOP = load_stock("examples/heron_marsh/stock.csv")


@pytest.mark.parametrize(("point", "head"), [("P175", "B175"), ("P125", "B125"), ("P160", None)])
def test_the_head_weighs_what_the_point_does_and_is_no_glue_on_for_wood(point, head):
    arrow = Arrow(BuildSpec.model_construct(shaft="MARSH-500", point=point, insert="I25"), 2)
    found = with_head(arrow, SHOP)
    assert (found.build.broadhead, found.build.point) == (head, None if head else point)
    assert (found.piece, with_head(arrow, None)) == (2, arrow)
