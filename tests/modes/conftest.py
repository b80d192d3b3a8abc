"""The hand-laid nights and the outside almanac of the broken plans serve here as well."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "broken_plans"))
