"""The invented nights of the timeline and the random small ones lie elsewhere."""

import sys
from pathlib import Path

for folder in ("timeline", "scenarios"):
    sys.path.insert(0, str(Path(__file__).parents[1] / folder))
