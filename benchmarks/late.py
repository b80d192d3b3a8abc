"""Running late: simulated nights with steps that overrun. Is the mount ever unsafe, how much time is lost?

    python -m benchmarks.late [--nights N] [--seed S]

Plans the first demo night on many evenings, its targets moved along with the season so that they transit when
they do in the demo, under four mounts (roomy, tight, one that must stand still around the meridian, one that
flips by itself), then executes each list many times with random overruns.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import random
import statistics
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.executor import run, straddles, worst_hour_angle_s
from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.mount.zones import SIDEREAL_RATE, clearance_from_s
from optimizer.night import Night
from optimizer.reading.load import load_request
from optimizer.sky.bodies import night_sky

HERE = Path(__file__).resolve().parent
REQUEST = HERE.parent / "plans" / "first-night" / "request.toml"
MOUNTS: dict[str, dict[str, Any]] = {
    "roomy": {"contact_min": 60.0, "clearance_min": 15.0},
    "tight": {"contact_min": 22.0, "clearance_min": 12.0},
    "standstill": {"contact_min": 10.0, "clearance_min": 12.0},
    "by itself": {"contact_min": 40.0, "flip_by": "mount"},
}
EVENINGS = [dt.date(2026, 1, 5) + dt.timedelta(days=15 * number) for number in range(24)]
SEASON_DEG = 360 / 365.2422  # by which the midnight sky moves in a day
OVERRUNS = (0.0, 0.05, 0.10, 0.20)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--nights", type=int, default=12000, help="simulated nights for each overrun")
    arguments.add_argument("--seed", type=int, default=1)
    wanted = arguments.parse_args()
    plans = {
        mount: [plan for evening in EVENINGS if (plan := planned(mount, evening)).steps] for mount in MOUNTS
    }
    rows = []
    for overrun in OVERRUNS:
        for mount, mine in plans.items():
            rows.append(simulate(mount, mine, overrun, wanted.nights // len(MOUNTS), wanted.seed))
            print(json.dumps(rows[-1]), flush=True)
    print()
    print(table(rows, wanted.seed))
    raw = {"date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"), "seed": wanted.seed, "rows": rows}
    (HERE / "results" / "late.json").write_text(json.dumps(raw, indent=1) + "\n", encoding="utf-8")
    (HERE / "results" / "late.md").write_text(table(rows, wanted.seed) + "\n", encoding="utf-8")


def planned(mount: str, evening: dt.date, time_limit_s: float = 2.0) -> ShotList:
    """The demo night under one of the mounts; deterministic."""
    season_deg = (evening - load_request(REQUEST).request.night.evening).days * SEASON_DEG
    loaded = load_request(REQUEST, evening=evening)
    targets = [
        each.model_copy(update={"name": f"like {each.name}", "ra_deg": (each.ra_deg + season_deg) % 360})
        for each in loaded.request.targets
    ]
    request = loaded.request.model_copy(
        update={
            "targets": tuple(targets),
            "mount": loaded.request.mount.model_copy(update=MOUNTS[mount]),
            "aim": loaded.request.aim.model_copy(
                update={**PLAIN_AIM, "time_limit_s": time_limit_s, "workers": 1, "gap": 0.02}
            ),
        }
    )
    shots = Night(request).plan()
    assert not shots.audit_report.violations, shots.audit_report.violations
    return shots


def simulate(mount: str, plans: list[ShotList], overrun: float, nights: int, seed: int) -> dict[str, Any]:
    """Execute the plans in turn, so many nights in all; worst cases and what was lost."""
    chance = random.Random(f"{seed} {mount} {overrun}")
    beyond_s, lost, shots_over_flip, flips = float("-inf"), [], 0, 0
    angles = [HourAngles(plan) for plan in plans]
    for number in range(nights):
        plan, angle = plans[number % len(plans)], angles[number % len(plans)]
        night = run(plan.steps, overrun, chance)
        flips += sum(span.kind == "flip" for span in night.moved)
        beyond_s = max(beyond_s, worst_hour_angle_s(night, angle) - clearance_from_s(plan.request.mount))
        shots_over_flip += straddles(night)
        lost.append(1 - night.open_s / plan.totals.open_shutter_s)
    return {
        "mount": mount,
        "overrun": overrun,
        "nights": nights,
        "plans": len(plans),
        "flips": flips,
        "worst_past_clearance_s": round(beyond_s, 2),
        "exposures_over_motion": shots_over_flip,
        "lost_mean": round(statistics.mean(lost), 4),
        "lost_p95": round(statistics.quantiles(lost, n=20)[-1], 4),
    }


class HourAngles:
    """Hour angle of a list's targets at seconds after its first step.

    Carried on evenly from the middle of the list: within 0.02 s over a night for a fixed star.
    """

    def __init__(self, plan: ShotList) -> None:
        request: Request = plan.request
        sky = night_sky(request)
        first, last = (sky.clock.seconds(step.start_utc) for step in (plan.steps[0], plan.steps[-1]))
        self.middle_s = (last - first) / 2
        at = np.array([first + self.middle_s])
        self.there = {
            target.name: float(sky.star(target.ra_deg, target.dec_deg).hour_angle_s(at)[0])
            for target in request.targets
        }

    def __call__(self, target: str, after_s: float) -> float:
        unwrapped_s = self.there[target] + SIDEREAL_RATE * (after_s - self.middle_s)
        return (unwrapped_s + 43200) % 86400 - 43200


def table(rows: list[dict[str, Any]], seed: int) -> str:
    """One row for each overrun and mount."""
    lines = [
        f"Running late, seed {seed}. Worst: seconds of hour angle past the clearance to which anything "
        "tracked on the first side (below 0: never reached it).",
        "",
        "| overrun | mount | nights | flips | worst past clearance, s | exposures over a motion "
        "| lost, mean | lost, 95 % |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        lines.append(
            f"| {100 * row['overrun']:.0f} % | {row['mount']} | {row['nights']} | {row['flips']} | "
            f"{row['worst_past_clearance_s']} | {row['exposures_over_motion']} | "
            f"{100 * row['lost_mean']:.1f} % | "
            f"{100 * row['lost_p95']:.1f} % |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    main()
