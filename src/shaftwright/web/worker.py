"""The shopping list worked out in a process of its own, so that it can be stopped at any instant.

`python -m shaftwright.web.worker` reads one JSON request from standard input (the texts of the files
and the wishes) and writes one JSON object a line: stages while it works, then the answer or the faults.
"""

from __future__ import annotations

import json
import math
import sys
from typing import Any, Final

from shaftwright.errors import InputError, NoAnswer
from shaftwright.web.workbook import FILES

STAGES: Final = (
    "reading rig, stock and notebook",
    "working out what your bow wants, with your shots",
    "choosing test shafts and the dozen",
    "writing the list",
)


def run(request: dict[str, Any]) -> None:
    """Work one request out, telling every stage: the files' texts, `arrows` and `budget`."""
    _tell({"stage": 0})
    from shaftwright.web.answers import Papers, read_text, scenario_of

    found: dict[str, Any] = {}
    for what, name in FILES.items():
        text = request.get(what)
        found[what] = None if text is None else read_text(what, text, name)
    _tell({"stage": 1})
    asked = scenario_of(Papers({}, faults={}, **found))
    _ = asked.plan
    _tell({"stage": 2})
    from shaftwright.answers.shop.shopping import Wishes, shopping

    answer = shopping(asked, Wishes(arrows=request["arrows"], budget=request["budget"]))
    _tell({"stage": 3})
    from shaftwright.render.screens.shop import csv_text, shop_text

    _tell({"answer": finite(answer.to_dict()), "csv": csv_text(answer), "text": shop_text(answer)})


def finite(value: Any) -> Any:
    """Plain data for JSON: NaN and infinities become null, numpy numbers plain ones.

    Examples
    --------
    >>> finite({"a": (1.0, float("nan"))})
    {'a': [1.0, None]}
    """
    if isinstance(value, dict):
        return {str(key): finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    if hasattr(value, "item") and getattr(value, "ndim", 1) == 0:
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _tell(message: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(message, allow_nan=False) + "\n")
    sys.stdout.flush()


def main() -> None:
    """Read the request, work, tell faults as data."""
    try:
        run(json.load(sys.stdin))
    except InputError as error:
        _tell({"faults": [str(fault) for fault in error.faults]})
    except NoAnswer as error:
        _tell({"faults": [str(error)]})


if __name__ == "__main__":
    main()
