"""What holds for all tests: where the benchmarks lie, and how many threads the algebra takes."""

import os
import sys
from pathlib import Path

# The benchmarks are tested too; they lie beside the packages and are not installed.
sys.path.append(str(Path(__file__).parents[1]))

# Read when numpy is first loaded. The matrices here are thin, and on a busy machine threads that
# wait for each other take several times the time of one.
for library in ("OPENBLAS", "MKL", "OMP"):
    os.environ.setdefault(f"{library}_NUM_THREADS", "1")
