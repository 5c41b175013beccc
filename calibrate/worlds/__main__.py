"""`python -m calibrate.worlds bands --first 70000 --archers 200`: judge the product that PYTHONPATH finds."""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

from calibrate.worlds import bands, product
from calibrate.worlds.world import TRIALS, WORLDS


def main() -> None:
    """Run what is asked and print its table."""
    parser = argparse.ArgumentParser(prog="python -m calibrate.worlds", description=__doc__)
    parser.add_argument("what", choices=["bands"], help="what to measure")
    parser.add_argument("--first", type=int, default=70_000, help="first seed")
    parser.add_argument("--archers", type=int, default=200, help="how many in each world")
    parser.add_argument("--worlds", nargs="+", choices=[*WORLDS, *TRIALS], default=list(WORLDS))
    parser.add_argument("--rows", type=Path, help="keep every archer here, one JSON line each")
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.archers)
    started = time.process_time()
    rows: list[dict[str, Any]] = [bands.archer(seed, given.worlds) for seed in seeds]
    if given.rows:
        given.rows.write_text(
            "".join(json.dumps(r, default=bool) + "\n" for r in rows), encoding="utf-8"
        )
    print(
        f"{product.which()}; seeds {seeds[0]} to {seeds[-1]}; {time.process_time() - started:.0f} s"
    )
    print(bands.text(rows, given.worlds))


if __name__ == "__main__":
    main()
