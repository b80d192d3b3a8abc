"""The small nights lie elsewhere."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "scenarios"))
