"""The random small nights and the exact oracle are shared with other tests."""

import sys
from pathlib import Path

for folder in ("scenarios", "optimum"):
    sys.path.insert(0, str(Path(__file__).parents[1] / folder))
