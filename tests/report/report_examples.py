"""Reports of the examples."""

import datetime
from pathlib import Path

from shaftwright.answers.report import report
from shaftwright.answers.scenario import scenario
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
DAY = datetime.date(2026, 5, 3)


def told(rig="heron_marsh", stock=True, notebook=False):
    shelf = load_stock([str(EXAMPLES / "heron_marsh/stock.csv")]) if stock else None
    book = load_notebook(EXAMPLES / "heron_marsh/notebook.yaml") if notebook else None
    entries, lines = (book.entries, book.lines) if book is not None else ((), ())
    asked = scenario(load_rig(EXAMPLES / f"{rig}/rig.yaml"), None, shelf, entries, lines)
    return report(asked, DAY)
