"""Lists that run late by their slack: is any frame lost, any rule broken? And by a second more?

    python -m benchmarks.late_by_slack [--nights N] [--first SEED]

Plans random nights, each with some `aim.slack_s`, and runs each list late from its first step to its last: by
the slack asked for, by its least slack (`totals.least_slack_s`), and by a second more. Late steps are audited
as they stand, with all waits kept, and a simple executor counts the frames that it loses.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import random
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchmarks import executor
from optimizer.audit import audit_steps
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.night import Night
from optimizer.reading.load import request_from_data
from tests.support.scenarios.nights import random_night

HERE = Path(__file__).resolve().parent
SLACKS_S = (0, 1, 17, 60, 60, 60, 300)
LIMIT_S = 0.05  # of counted work: any plan will do
SAVED_EVERY = 100  # nights
# columns that tell of a step where it was planned, and a promise that a late step has used up
PLANNED = (
    "latest_start_utc",
    "hour_angle_h",
    "altitude_deg",
    "azimuth_deg",
    "airmass",
    "moon_separation_deg",
)
# as the sky turns on, the way from home to the first target grows or shrinks by a hair
FORGIVEN = ("slew_time",)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--nights", type=int, default=2000)
    arguments.add_argument("--first", type=int, default=0, help="seed of the first night")
    wanted = arguments.parse_args()
    counts: Counter[str] = Counter()
    for seed in range(wanted.first, wanted.first + wanted.nights):
        shots = planned(seed)
        found = judged(shots)
        counts.update(found)
        if found["lost or broken at slack"] or found["lost or broken at least slack"]:
            print(f"seed {seed}: {dict(found)}", flush=True)
        if counts["nights"] % SAVED_EVERY == 0 or seed + 1 == wanted.first + wanted.nights:
            save(counts)
    print(table(counts))


def save(counts: Counter[str]) -> None:
    """Write what was counted so far: a run of many nights may be broken off."""
    raw = {"date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"), **counts}
    (HERE / "results" / "late-by-slack.json").write_text(json.dumps(raw, indent=1) + "\n", encoding="utf-8")
    (HERE / "results" / "late-by-slack.md").write_text(table(counts) + "\n", encoding="utf-8")


def night_of(seed: int) -> Request:
    """A random night with some slack asked for."""
    data: dict[str, Any] = random_night(seed)
    slack_s = random.Random(f"slack {seed}").choice(SLACKS_S)
    data["aim"] |= {"slack_s": slack_s, "time_limit_s": LIMIT_S}
    return request_from_data(data, f"random night {seed}")


def planned(seed: int) -> ShotList:
    """The plan of a random night, the same on every run."""
    return Night(night_of(seed)).plan()


def judged(shots: ShotList) -> Counter[str]:
    """What becomes of a list that runs late: by the slack asked for, its least slack, and a second more."""
    found: Counter[str] = Counter(nights=1)
    least_s = shots.totals.least_slack_s
    if least_s is None:
        return found
    slack_s = shots.request.aim.slack_s
    found["lists"] = 1
    found["flips"] = sum(step.kind == "flip" for step in shots.steps)
    found["frames"] = sum(step.kind == "expose" for step in shots.steps)
    found["less slack than asked for"] = int(least_s < slack_s)
    harmed = {late_s: is_harmed(shots, late_s) for late_s in {slack_s, least_s, least_s + 1}}
    found["lost or broken at slack"] = int(harmed[slack_s])
    found["lost or broken at least slack"] = int(harmed[least_s])
    found["lost or broken a second later"] = int(harmed[least_s + 1])
    return found


def is_harmed(shots: ShotList, late_s: int) -> bool:
    """Whether a list that runs so late breaks a rule, or loses a frame to whoever executes it."""
    return lost_s(shots, late_s) > 0 or bool(broken(shots, late_s))  # the executor is the quicker one


def broken(shots: ShotList, late_s: int) -> set[str]:
    """The rules that the list breaks if all of it is so late."""
    report = audit_steps(shots.request, late_steps(shots, late_s))
    return {violation.rule for violation in report.violations} - set(FORGIVEN)


def late_steps(shots: ShotList, late_s: int) -> tuple[Step, ...]:
    """All steps so much later; a flip that the mount makes by itself begins on time, and lasts longer."""
    by_mount = shots.request.mount.flip_by == "mount"
    later, steps = dt.timedelta(seconds=late_s), list[Step]()
    for step in shots.steps:
        starts = step.start_utc + later
        if by_mount and step.kind == "flip":  # on time, if a wait before it takes up what is late
            if steps[-1].kind == "wait" and steps[-1].start_utc >= step.start_utc:
                steps.pop()
            waits = steps[-1].kind == "wait"
            starts = step.start_utc if waits else steps[-1].end_utc
            steps[-1] = steps[-1].model_copy(update={"end_utc": starts})
        columns = {**dict.fromkeys(PLANNED), "start_utc": starts, "end_utc": step.end_utc + later}
        steps.append(step.model_copy(update=columns))
    return tuple(step.model_copy(update={"step": number}) for number, step in enumerate(steps, start=1))


def lost_s(shots: ShotList, late_s: int) -> float:
    """Seconds of open shutter that a simple executor loses if it begins the list so late."""
    first = shots.steps[0]
    asleep = Step(
        step=1,
        kind="wait",
        start_utc=first.start_utc,
        end_utc=first.start_utc + dt.timedelta(seconds=late_s),
        tracking=False,
    )
    steps: Sequence[Step] = (asleep, *shots.steps) if late_s else shots.steps
    return round(shots.totals.open_shutter_s - executor.run(steps, 0.0, random.Random(0)).open_s, 3)


def table(counts: Counter[str]) -> str:
    """What was found, as a table."""
    harm, more = "lists that lose a frame or break a rule", counts["lost or broken a second later"]
    rows = [
        ("random nights", counts["nights"]),
        ("lists with steps", counts["lists"]),
        ("frames", counts["frames"]),
        ("flips", counts["flips"]),
        ("lists with less slack than asked for", counts["less slack than asked for"]),
        (f"late by `aim.slack_s`: {harm}", counts["lost or broken at slack"]),
        (f"late by their least slack: {harm}", counts["lost or broken at least slack"]),
        (f"late by a second more: {harm}", f"{more} ({more / max(1, counts['lists']):.1%})"),
    ]
    return "\n".join(["| what | count |", "|---|---|", *(f"| {what} | {number} |" for what, number in rows)])


if __name__ == "__main__":
    main()
