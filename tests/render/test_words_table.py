"""The plain table, which a library draws, against columns padded by hand."""

from hypothesis import given
from hypothesis import strategies as st

from shaftwright.render.words import table

CELLS = st.sampled_from(["", "a", "-1.5", " x ", "a long word", "é…", "1/4", "  before", "12 %"])
HEADERS = st.sampled_from(["", "a", "shaft", "gr/lb", "a long head"])


def by_hand(rows, headers, align):
    lines = [[cell.strip() for cell in row] for row in ([headers, *rows] if headers else rows)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    padded = [
        [c.rjust(w) if a == "r" else c.ljust(w) for c, w, a in
         zip(cells, widths, align.ljust(len(widths)), strict=True)]
        for cells in lines
    ]  # fmt: skip
    return "\n".join((">" + "|".join(cells)).rstrip() for cells in padded)


@st.composite
def tables(draw):
    width = draw(st.integers(1, 6))
    rows = draw(st.lists(st.lists(CELLS, min_size=width, max_size=width), min_size=1, max_size=6))
    headers = draw(st.lists(HEADERS, min_size=width, max_size=width).filter(any) | st.just([]))
    align = draw(st.text("lr", min_size=width, max_size=width) | st.just(""))
    return rows, headers, align


@given(tables())
def test_every_column_is_as_wide_as_its_widest_cell(drawn):
    rows, headers, align = drawn
    assert table(rows, headers, align, "|", ">") == by_hand(rows, headers, align)


def test_no_control_character_gets_into_a_table():
    assert "\x1b" not in table([["red\x1b[31m", "b"]], ["one", "two"])
