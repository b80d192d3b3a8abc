"""What is said of a night at an instant, held against the truth of a simulated one; an empty list where all is right.

The judge works by brute force, and with the executor of `executing` alone: how late a list may be is found by running
it so late, and a second more.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from optimizer.follow.moment import Moment
from optimizer.models.shots import ShotList, Step
from tests.support.executing import execute

EXEMPT = ("wait", "park")  # they are never late
FAR_S = 12 * 3600


def seconds(amount: float) -> dt.timedelta:
    return dt.timedelta(seconds=amount)


def by_mount(shots: ShotList) -> bool:
    """Whether the mount of a list flips by itself."""
    return shots.request.mount.flip_by == "mount"


def harms(shots: ShotList, rest: Sequence[Step], at: dt.datetime) -> bool:
    """Whether a rest that begins at an instant loses or breaks anything, or begins a step after its latest start.

    A flip that the mount makes by itself is on time however late the list is; it ends as late as the list.
    """
    exempt = (*EXEMPT, "flip") if by_mount(shots) else EXEMPT
    went = execute(rest, at, by_mount=by_mount(shots))
    undone = (*went.skipped, *(each.step for each in went.broken))
    return any(step.kind != "wait" for step in undone) or any(
        each.step.latest_start_utc is not None
        and each.step.kind not in exempt
        and each.start_utc > each.step.latest_start_utc
        for each in went.done
    )


def judged_moment(shots: ShotList, now: dt.datetime, told: Moment) -> Iterator[str]:
    """What is wrong in what is told of the plan alone."""
    steps = shots.steps
    phase = "before" if now < steps[0].start_utc else "after" if now >= steps[-1].end_utc else "during"
    running = [step for step in steps if step.start_utc <= now < step.end_utc]
    coming = [step for step in steps if step.start_utc > now]
    if told.phase != phase:
        yield f"phase {told.phase}, not {phase}"
    if ([] if told.running is None else [told.running]) != running:
        yield f"running {told.running}, not {running}"
    if told.next != _next(running, coming):
        yield f"next {told.next}"
    flips = [step for step in coming if step.kind == "flip"]
    if told.flip != (flips[0] if flips else None):
        yield f"flip {told.flip}, not {flips[:1]}"
    if flips and told.seconds_until(flips[0].start_utc) != int((flips[0].start_utc - now).total_seconds()):
        yield f"the flip is said to be in {told.seconds_until(flips[0].start_utc)} s"
    yield from _judged_slack(shots, coming, now, told.slack_s)


def _next(running: Sequence[Step], coming: Sequence[Step]) -> Step | None:
    """The first step to come that does something else than the one that runs; a dither is part of its run."""
    for step in coming:
        if not running:
            return step
        alike = step.kind == running[0].kind and step.goal_key == running[0].goal_key
        if step.kind == "dither" or alike or (step.kind == running[0].kind != "expose"):
            continue
        return step
    return None


def _judged_slack(
    shots: ShotList, coming: Sequence[Step], now: dt.datetime, slack_s: int | None
) -> Iterator[str]:
    if slack_s is None:
        if coming and harms(shots, coming, coming[0].start_utc + seconds(FAR_S)):
            yield "no slack is told, but the list may come too late"
        return
    on_time = coming[0].start_utc
    wait_s = 0.0
    before = shots.steps[coming[0].step - 2] if coming[0].step > 1 else None
    if before is not None and before.kind == "wait" and before.end_utc > now:
        wait_s = (on_time - now).total_seconds()
    if harms(shots, coming, on_time + seconds(slack_s - wait_s)):
        yield f"a slack of {slack_s} s is told, but so late the list loses or breaks something"
    if not harms(shots, coming, on_time + seconds(slack_s + 1 - wait_s)):
        yield f"a slack of {slack_s} s is told, but a second more harms nothing"
