"""A bow whose arrow is proven, and rows of tables of tuned rigs."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import yaml

EXAMPLES = Path(__file__).parents[2] / "examples"
STOCK = """\
item,kind,material,spine_mils,wood_spine_lb,gr_per_in,outside_diameter_in,inside_diameter_in,full_length_in,mass_gr,price,pack,in_hand,spine_tolerance_mils,mass_tolerance_gr,straightness_in,note
SECRET-500,shaft,carbon,500,,7.4,0.291,0.246,32,,9.00,1,4,10,2,0.003,
SECRET-400,shaft,carbon,400,,8.3,0.295,0.246,32,,9.00,1,0,10,2,0.003,
P175,point,,,,,,,,175,10.00,6,6,,,,
I25,insert,,,,,,0.246,,25,11.00,12,12,,,,
N246,nock,,,,,,0.246,,9,9.00,12,12,,,,
F3x4,fletching,,,,,,,,8,27.00,12,12,,,,
"""
BUILD = {"shaft": "SECRET-500", "length": 29.5, "point": "P175", "insert": "I25", "nock": "N246",
         "fletching": "F3x4"}  # fmt: skip
HEADER = ["rig", "archer.draw_length", "archer.release", "bow.kind", "bow.limbs", "bow.draw_weight.lb",
          "bow.draw_weight.at", "bow.brace_height", "bow.window.cut", "string.material", "spine", "length",
          "front", "reads", "seen_with", "source"]  # fmt: skip
FIRST = {"rig": "a", "archer.draw_length": "28", "archer.release": "split", "bow.kind": "recurve",
         "bow.limbs": "standard", "bow.draw_weight.lb": "45", "bow.draw_weight.at": "own_draw",
         "bow.brace_height": "7 3/4 in", "bow.window.cut": "to_centre", "string.material": "polyester",
         "spine": "600", "length": "29", "front": "175", "reads": "straight", "seen_with": "bare_shaft",
         "source": "invented"}  # fmt: skip


def proven_bow(parent: Path, ends: int = 3, **of_rig: Any) -> Path:
    """A bow for practice whose arrow flew straight so often; names that no row may tell."""
    bow = parent / "bow"
    bow.mkdir(parents=True)
    rig = yaml.safe_load((EXAMPLES / "heron_marsh/rig.yaml").read_text(encoding="utf-8"))
    rig |= {"rig": "old-johns-bow", "purpose": "practice", **of_rig}
    (bow / "rig.yaml").write_text(yaml.safe_dump(rig), encoding="utf-8")
    (bow / "stock.csv").write_text(STOCK, encoding="utf-8")
    end = {"kind": "bareshaft", "build": BUILD, "distance": "20 yd", "taped": True, "marks": "none",
           "fletched": [[0.5, -0.6], [-1.0, 0.9], [0.5, -0.3]],
           "bare": [{"at": [x, y], "tail": {"side": "straight", "up": "straight"}} for x, y in
                    ((-1.1, 0.7), (1.1, -0.7), (0.2, 0.1))]}  # fmt: skip
    noted = [
        end | {"date": f"2026-05-{i + 1:02d}", "remark": "by John on a windy day"}
        for i in range(ends)
    ]
    (bow / "notebook.yaml").write_text(
        "".join(f"- {json.dumps(one)}\n" for one in noted), encoding="utf-8"
    )
    return bow


def table_of(parent: Path, rows: list[dict[str, str]], header: list[str] = HEADER) -> Path:
    """A table of tuned rigs."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, header, lineterminator="\n", extrasaction="ignore", restval="")
    writer.writeheader()
    writer.writerows(rows)
    path = parent / "tuned.csv"
    path.write_text(stream.getvalue(), encoding="utf-8")
    return path
