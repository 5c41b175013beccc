"""The list as CSV that a spreadsheet opens cleanly: no cell can be taken for a formula."""

from __future__ import annotations

import csv
import io

from shaftwright.answers.shop import ShopAnswer
from shaftwright.answers.shop_two import TwoAnswer
from shaftwright.render.shop_rows import Row, rows_of

HEADER = (
    "part",
    "item",
    "kind",
    "quantity",
    "packs",
    "pack",
    "unit_price",
    "price",
    "in_hand",
    "why",
)
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


def safe_cell(text: str) -> str:
    """Text that no spreadsheet takes for a formula, on one line.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The same, control characters taken out, with an apostrophe in front where it begins like a formula.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("MARSH-500"), safe_cell(" -2")
    ("'=1+1", 'MARSH-500', "' -2")
    """
    clean = "".join(c if c.isprintable() else " " for c in text)
    return f"'{clean}" if clean.lstrip().startswith(_RISKY) else clean


def csv_text(answer: ShopAnswer | TwoAnswer) -> str:
    """The test kits and the final list as CSV.

    Parameters
    ----------
    answer : ShopAnswer or TwoAnswer
        The answer.

    Returns
    -------
    str
        One header, one row a line, a total at the end; a missing price is an empty cell.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    for part, rows in rows_of(answer):
        for row in rows:
            writer.writerow(_cells(part, row))
    writer.writerow(["total", "", "", "", "", "", "", f"{answer.total_price:.2f}", "", ""])
    return out.getvalue()


def _cells(part: str, row: Row) -> list[str]:
    unit, price = row["unit_price"], row["price"]
    return [
        safe_cell(part), safe_cell(row["item"]), row["kind"], str(row["quantity"]), str(row["packs"]),
        str(row["pack"]), "" if unit is None else f"{unit:.2f}",
        "" if price is None else f"{price:.2f}",
        str(row["in_hand"]), safe_cell(row["why"]),
    ]  # fmt: skip
