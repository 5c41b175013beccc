"""The afternoon as one HTML file: a sheet to print, and on a phone, offline, a face to tap shots on."""

from __future__ import annotations

import hashlib
import json
from importlib.resources import files
from typing import Any

from shaftwright.answers.sheet.result import Row, Sheet
from shaftwright.parameters import setting
from shaftwright.render.page.environment import saved_page
from shaftwright.render.sheet.text import (
    again_told,
    arrow_told,
    goes_to,
    how_to,
    in_order,
    lines,
    side_told,
)
from shaftwright.units import distance_told


def sheet_html(sheet: Sheet) -> str:
    """The whole file."""
    rows = [_row(sheet, row) for row in sheet.rows]
    rig = sheet.question.rig
    nocking = rig.bow.nocking_point
    data = {
        "rows": rows, "stop": sheet.stop_in, "height": sheet.height_in,
        "cant": rig.bow.cant_deg or 0.0, "metric": rig.units == "metric",
        "void": setting("evidence.void_sd_in"), "step": setting("diagnosis.nocking_step_in"),
        "nocking": None if nocking is None else nocking.above_square_in,
    }  # fmt: skip
    told = json.dumps(data, ensure_ascii=True)
    # another sheet on the same phone keeps its own shots
    name = hashlib.sha256(f"{rig.name} {told}".encode()).hexdigest()[:12]
    code = (files("shaftwright.render") / "templates" / "sheet.js").read_text(encoding="utf-8")
    # nothing that a stock's names hold can end the script
    script = f'const KEY = "sheet-{name}";\nconst SHEET = {told.replace("<", chr(92) + "u003c")};\n{code}'
    return saved_page(
        "sheet.html", "sheet.css", script, sheet=sheet, rows=rows, rig=rig, how=how_to(sheet),
        twenty=distance_told(20, rig.units),
    )  # fmt: skip


def _row(sheet: Sheet, row: Row) -> dict[str, Any]:
    """A row as page and face need it."""
    here, units = row.distance_yd, sheet.question.rig.units
    far = abs(here - 20) > 0.1
    return {
        "number": row.number, "arrow": arrow_told(row), "same": str(row.own), "again": again_told(row),
        "yards": here,
        "distance": distance_told(here, units), "within": row.within_in,
        "ways": [
            {"go": goes_to(sheet, row, way), "row": way.row, "side": side_told(sheet, way), "to": way.to_in}
            for way in in_order(row)
        ],
        "lines": [
            {"told": told, "at20": at20 if far else "", "go": go}
            for (told, go), (at20, _) in zip(lines(sheet, row, here), lines(sheet, row, 20), strict=True)
        ],
        "entry": {k: v for k, v in row.entry.items() if k != "distance_yd"}, "change": row.change,
    }  # fmt: skip
