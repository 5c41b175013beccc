"""The plain table against a general-purpose library for tables."""

import tabulate
from hypothesis import given
from hypothesis import strategies as st

from shaftwright.render.words import table

ROW = tabulate.DataRow("", " ", "")
PLAIN = tabulate.TableFormat(None, None, None, None, ROW, ROW, 0, None)
CELLS = st.sampled_from(["", "a", "-1.5", " x ", "a long word", "é…", "1/4", "  before", "12 %"])
HEADERS = st.sampled_from(["", "a", "shaft", "gr/lb", "a long head"])


def by_tabulate(rows, headers, align):
    words = {"l": "left", "r": "right"}
    padding, tabulate.MIN_PADDING = tabulate.MIN_PADDING, 0
    try:
        text = tabulate.tabulate(
            rows, headers=headers, tablefmt=PLAIN, disable_numparse=True,
            colalign=[words[a] for a in align] or None,
        )  # fmt: skip
    finally:
        tabulate.MIN_PADDING = padding
    return "\n".join(line.rstrip() for line in text.splitlines())


@st.composite
def tables(draw):
    width = draw(st.integers(1, 6))
    rows = draw(st.lists(st.lists(CELLS, min_size=width, max_size=width), min_size=1, max_size=6))
    headers = draw(st.lists(HEADERS, min_size=width, max_size=width).filter(any) | st.just([]))
    align = draw(st.text("lr", min_size=width, max_size=width) | st.just(""))
    return rows, headers, align


@given(tables())
def test_table_is_as_tabulate_draws_it(drawn):
    rows, headers, align = drawn
    # a last line without any text is nobody's business
    assert table(rows, headers, align).rstrip() == by_tabulate(rows, headers, align).rstrip()


def test_no_control_character_gets_into_a_table():
    assert "\x1b" not in table([["red\x1b[31m", "b"]], ["one", "two"])
