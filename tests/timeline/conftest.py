"""The random nights are shared with other tests."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "scenarios"))
