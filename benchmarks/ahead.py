"""Hours in the nights to come: how long they take to count, and how far from counting finely that is.

    python -m benchmarks.ahead [--targets N] [--nights N]

A list of targets all over the sky with five filters each, at 43 N. The planner's grid of 10 min and the
audit's of 2 min are timed, best of five, in processor seconds, and held against the planner's own count every
20 s. Compare within one run only.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from optimizer.ahead import hours as planner
from optimizer.ahead import nights as grid
from optimizer.ahead.hours import Hours, hours_ahead
from optimizer.audit.ahead import hours_ahead as audited
from optimizer.models.request import Request
from optimizer.sky.bodies import night_sky

FILTERS: list[dict[str, Any]] = [
    *({"name": name, "moonlight_mag": 0.5, "moon_gap_deg": 40.0} for name in ("L", "R", "G")),
    *(
        {
            "name": name,
            "kind": "narrowband",
            "darkness": "nautical",
            "moonlight_mag": 1.0,
            "moonlight_factor": 0.2,
            "moon_gap_deg": 25.0,
        }
        for name in ("Ha", "OIII")
    ),
]
FINE_STEP_S = 20
REPEATS = 5


def a_list(targets: int, nights: int) -> Request:
    """So many targets from 15 S to 80 N, each wanted through all filters."""
    chance = np.random.default_rng(27)
    goals = [{"filter": each["name"], "exposure_s": 120.0, "frames": 50} for each in FILTERS]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-10-10"},
            "site": {"latitude_deg": 43.1, "longitude_deg": 3.1, "elevation_m": 800.0, "floor_deg": 25.0},
            "mount": {"contact_min": 40.0, "flip_from_min": 5.0},
            "filters": FILTERS,
            "targets": [
                {
                    "name": f"T{number}",
                    "ra_deg": float(chance.uniform(0, 360)),
                    "dec_deg": float(chance.uniform(-15, 80)),
                    "goals": goals,
                }
                for number in range(targets)
            ],
            "aim": {"scarcity": 0.5, "look_ahead_nights": nights},
        }
    )


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--targets", type=int, default=30)
    arguments.add_argument("--nights", type=int, default=28)
    wanted = arguments.parse_args()
    request = a_list(wanted.targets, wanted.nights)
    sky = night_sky(request)
    coarse, coarse_s = timed(lambda: hours_ahead(request, sky))
    own, own_s = timed(lambda: {key: each.hours for key, each in audited(request).items()})
    fine = finely(request)
    print(f"{wanted.targets} targets x {len(FILTERS)} filters x {wanted.nights} nights\n")
    print("| who counts | processor s | off by at most h | root mean square h |")
    print("|---|---|---|---|")
    for name, hours, seconds in (("planner", coarse, coarse_s), ("audit", own, own_s)):
        off = [abs(hours[key] - fine[key]) for key in fine]
        rms = statistics.fmean(each**2 for each in off) ** 0.5
        print(f"| {name} | {seconds:.3f} | {max(off):.2f} | {rms:.2f} |")
    print(f"\nThe audit takes {own_s / coarse_s:.1f} times as long as the planner.")


def timed(count: Callable[[], Hours]) -> tuple[Hours, float]:
    """The hours, and the least processor seconds of some counts."""
    seconds = []
    for _ in range(REPEATS):
        began = time.process_time()
        hours = count()
        seconds.append(time.process_time() - began)
    return hours, min(seconds)


def finely(request: Request) -> Hours:
    """The hours counted every few seconds."""
    kept = grid.STEP_S
    try:
        grid.STEP_S = planner.STEP_S = FINE_STEP_S
        return hours_ahead(request, night_sky(request))
    finally:
        grid.STEP_S = planner.STEP_S = kept


if __name__ == "__main__":
    main()
