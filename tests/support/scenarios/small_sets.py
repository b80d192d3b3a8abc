"""Random small nights whose targets have filter sets: uneven frames in hand, goals beside the set, scarce goals."""

from __future__ import annotations

import random
from fractions import Fraction
from typing import Any

from tests.support.scenarios.small import MOST_FRAMES_IN_ALL, small_night

BALANCES = (0.3, 0.3, 0.3, 0.125, 0.5, 1.0)


def small_night_of_sets(seed: int) -> tuple[dict[str, Any], dict[tuple[str, int], Fraction]]:
    """The request of that seed as plain data, and the factors of its goals; half the nights have none."""
    night, rng = small_night(seed), random.Random(f"sets {seed}")
    night["aim"]["balance"] = rng.choice(BALANCES)
    filters = [each["name"] for each in night["filters"]]
    for target in night["targets"]:
        goals = target["goals"]
        in_all = sum(goal["frames"] - goal["done"] for each in night["targets"] for goal in each["goals"])
        if len(goals) == 1 and in_all < MOST_FRAMES_IN_ALL:
            exposure_s = rng.choice([50, 75.5, 110, 200])
            goals.append(
                {"filter": rng.choice(filters), "exposure_s": exposure_s, "frames": rng.randint(1, 2)}
            )
        for goal in goals:
            left = goal["frames"] - goal.get("done", 0)
            goal["done"] = rng.choice([0, 0, 1, 2, 5])
            goal["frames"] = left + goal["done"]
            goal["in_set"] = rng.random() < 0.9
        if rng.random() < 0.3:  # a goal that is complete, or cannot be shot tonight for its filter's sake
            goals.append({"filter": rng.choice(filters), "exposure_s": 30, "frames": rng.randint(1, 9)})
            goals[-1]["done"] = goals[-1]["frames"] + rng.randint(0, 2)
    scarce = rng.random() < 0.5
    factors = {
        (target["name"], place): Fraction(rng.randint(500, 2000), 1000)
        for target in night["targets"]
        for place in range(len(target["goals"]))
        if scarce
    }
    return night, factors
