"""The executor and the nights it runs lie elsewhere."""

import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
for folder in (TESTS / "broken_plans", TESTS / "modes", TESTS.parent / "benchmarks"):
    sys.path.insert(0, str(folder))
