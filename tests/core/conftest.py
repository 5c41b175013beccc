"""One thread for these tests: the arrays are small, and waiting threads only cost time."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
