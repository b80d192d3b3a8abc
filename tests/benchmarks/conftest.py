"""The nights, the rivals and the tables lie elsewhere."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
