"""What a night is worth: twelve invented nights, planned by three aims side by side.

    python -m benchmarks.worth [--nights 1,3-5] [--time-limit S] [--workers N] [--render]

By plain hours of open shutter; by depth with scarce goals first; and by that with balanced filter sets and
slack, the defaults of a request. Raw figures and table are kept in benchmarks/results/worth.json and
worth.md. What an imager would object to was written by hand after a look at the plans, in
benchmarks/results/worth-said.toml; a sentence on a plan that has changed since is marked. `--render` makes
the table anew from the raw figures.
"""

from __future__ import annotations

import argparse
import datetime as dt
import hashlib
import json
import tomllib
from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from typing import Any

import numpy as np

from benchmarks.compare import numbers, raw_text
from benchmarks.plain_aim import PLAIN_AIM
from benchmarks.surroundings import RESULTS, surroundings
from benchmarks.worth_nights import BROADBAND, TWELVE, WorthNight
from benchmarks.worth_table import worth_text
from optimizer.models.shots import ShotList, Step
from optimizer.models.targets import Goal
from optimizer.night import Night
from optimizer.problem.filter_sets import progress_of
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import NightSky

AIMS: dict[str, dict[str, Any]] = {
    "hours": PLAIN_AIM,
    "depth, scarcity": {**PLAIN_AIM, "value": "depth", "scarcity": 0.5},
    "with balance": {"value": "depth", "scarcity": 0.5, "balance": 0.3, "slack_s": 60},
}
SUN_DEG = -18.0
Run = dict[str, Any]


def main() -> None:
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--nights", type=numbers, help="such as 1,5-9; all twelve if not given")
    arguments.add_argument("--time-limit", type=float, default=20.0, help="of each search, in seconds")
    arguments.add_argument("--workers", type=int, default=0, help="1 is deterministic")
    arguments.add_argument("--render", action="store_true", help="only make the table anew")
    wanted = arguments.parse_args()
    path = RESULTS / "worth.json"
    if not wanted.render:
        raw = {
            "date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
            **surroundings(("ortools", "astropy", "numpy", "pyerfa")),
            "time_limit_s": wanted.time_limit,
            "workers": wanted.workers,
            "runs": [],
        }
        for night in TWELVE:
            if wanted.nights and night.number not in wanted.nights:
                continue
            for name, aim in AIMS.items():
                limits = {"time_limit_s": wanted.time_limit, "workers": wanted.workers}
                raw["runs"].append(planned(night, name, {**aim, **limits}))
                print(json.dumps({**raw["runs"][-1], "visits": None}), flush=True)
        path.write_text(raw_text(raw), encoding="utf-8")
    raw = json.loads(path.read_text(encoding="utf-8"))
    said = tomllib.loads((RESULTS / "worth-said.toml").read_text(encoding="utf-8"))
    (RESULTS / "worth.md").write_text(worth_text(raw, said, tuple(AIMS)), encoding="utf-8")


def planned(which: WorthNight, name: str, aim: dict[str, Any]) -> Run:
    """One night by one aim, in figures: nothing in them depends on what the aim counts."""
    night = Night(request_from_data(which.request(aim), f"night {which.number}"))
    shots = night.plan()
    shares = set_shares(shots)
    touched = {step.target for step in shots.steps if step.kind == "expose"}
    moonless_s, in_it = moonless_dark(shots, night.sky)
    return {
        "night": which.number,
        "evening": which.evening,
        "kind": which.kind,
        "aim": name,
        "moon_lit": round(shots.night.moon_illuminated, 2),
        "targets": len(which.targets),
        "touched": len(touched),
        "shares": {target: [round(float(each), 4) for each in shares[target]] for target in sorted(shares)},
        "touched_shares": [
            [round(float(e), 4) for e in shares[target]] for target in sorted(shares) if target in touched
        ],
        "moonless_s": moonless_s,
        "broadband_s": sum(seconds for filter_name, seconds in in_it.items() if filter_name in BROADBAND),
        "narrowband_s": sum(
            seconds for filter_name, seconds in in_it.items() if filter_name not in BROADBAND
        ),
        "open_s": shots.totals.open_shutter_s,
        "value": shots.proof.objective,
        "gap": shots.proof.gap,
        "status": shots.proof.status,
        "seconds": round(shots.proof.seconds, 1),
        "least_slack_s": least_slack_s(shots.steps),
        "violations": sorted({each.rule for each in shots.audit_report.violations}),
        "plan": digest(shots),
        "visits": list(_visits(shots)),
    }


def set_shares(shots: ShotList) -> dict[str, tuple[Fraction, Fraction]]:
    """The share in hand of each target's filter set before and after the night, by hours, whatever the sky.

    It is the mean share of the slowest half of the set, a sub as good as any other of its goal.
    """
    planned_frames = Counter(
        (step.target, step.filter, step.exposure_s) for step in shots.steps if step.kind == "expose"
    )
    found = {}
    for target in shots.request.targets:
        own = [goal for goal in target.goals if goal.in_set]
        wanted = [_seconds(goal, goal.frames) for goal in own]
        before = [_seconds(goal, goal.done) for goal in own]
        after = [
            _seconds(goal, goal.done + planned_frames[target.name, goal.filter, goal.exposure_s])
            for goal in own
        ]
        whole = sum(wanted)
        found[target.name] = (progress_of(wanted, before) / whole, progress_of(wanted, after) / whole)
    return found


def _seconds(goal: Goal, frames: int) -> Fraction:
    return Fraction(repr(goal.exposure_s)) * min(frames, goal.frames)


def moonless_dark(shots: ShotList, sky: NightSky) -> tuple[int, dict[str, float]]:
    """Seconds with the Sun below -18 degrees and the Moon's upper limb down; open shutter in them by filter.

    A sub counts by its middle, which is wrong by no more than half of it at each end of the dark.
    """
    seconds = np.arange(0.0, 86400.0)
    dark = (sky.sun.geometric_altitude_deg(seconds) <= SUN_DEG) & ~sky.moon.is_up(seconds)
    given: dict[str, float] = {}
    for step in shots.steps:
        if step.kind == "expose" and step.filter is not None and step.exposure_s is not None:
            middle = sky.clock.seconds(step.start_utc) + step.exposure_s / 2
            open_s = step.exposure_s * bool(dark[round(middle)])
            given[step.filter] = given.get(step.filter, 0.0) + open_s
    return int(dark.sum()), given


def least_slack_s(steps: Iterable[Step]) -> int | None:
    """How late the list may run before a row that is no wait and no park misses its latest start."""
    left = [
        (step.latest_start_utc - step.start_utc).total_seconds()
        for step in steps
        if step.latest_start_utc is not None and step.kind not in ("wait", "park")
    ]
    return int(min(left)) if left else None


def digest(shots: ShotList) -> str:
    """A short mark of the plan: the same subs of the same goals in the same order."""
    subs = [(step.target, step.filter, step.exposure_s) for step in shots.steps if step.kind == "expose"]
    return hashlib.sha256(json.dumps(subs).encode()).hexdigest()[:8]


def _visits(shots: ShotList) -> Iterable[str]:
    """The runs in order, for whoever judges the plan: `21:04 Cradle L 40 at 61 to 70`."""
    runs: list[list[Step]] = []
    for step in shots.steps:
        if step.kind != "expose":
            continue
        if runs and (runs[-1][-1].target, runs[-1][-1].filter) == (step.target, step.filter):
            runs[-1].append(step)
        else:
            runs.append([step])
    for run in runs:
        first, last = run[0], run[-1]
        yield (
            f"{first.start_utc:%H:%M} {first.target} {first.filter} {len(run)}"
            f" at {first.altitude_deg:.0f} to {last.altitude_deg:.0f}"
        )


if __name__ == "__main__":
    main()
