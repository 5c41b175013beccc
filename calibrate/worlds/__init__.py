"""Worlds that share nothing with the product's engine, and what the product is worth in them.

`python -m calibrate.worlds --help`; the product judged is the one that PYTHONPATH finds. Only `product`
(and the obeying archer of calibrate/archers) knows the product's interface, `launched` its launch physics.
"""

import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
# calibrate/archers is imported by its own name
sys.path.insert(1, str(Path(__file__).resolve().parents[1]))
