"""The benchmarks are tested too; they lie beside the packages and are not installed."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))
