"""A simple executor of shot lists that runs late: what happens at the mount when steps overrun?

It follows three rules and nothing else. An exposure whose `latest_start_utc` has passed is skipped. When the
time comes by which the mount must leave (the latest start of the next step that leaves the target, or the
latest end of a shutter directly before it, if sooner), whatever runs with a closed shutter is broken off and
the mount leaves, or stands still until download and overhead are over. A visit whose arrival is too late is
skipped, but for a flip that waited for those, and no longer than the exposure's row lasts.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from optimizer.models.shots import Step

LEAVES = ("slew", "flip", "park")


@dataclass(frozen=True)
class Span:
    """Something that lasted, in seconds after the list's first step, on a target and side if on one."""

    kind: str
    start: float
    end: float
    target: str | None
    side: str | None


@dataclass
class Night:
    """What happened: when the mount tracked what, when shutters were open, when it moved."""

    tracked: list[Span] = field(default_factory=list)
    opened: list[Span] = field(default_factory=list)
    moved: list[Span] = field(default_factory=list)
    open_s: float = 0.0


def seconds(step: Step, steps: Sequence[Step]) -> tuple[float, float, float]:
    """Planned start, planned length and latest start (infinite where none) after the first step's start."""
    zero = steps[0].start_utc
    latest = float("inf")
    if step.latest_start_utc is not None:
        latest = (step.latest_start_utc - zero).total_seconds()
    return (step.start_utc - zero).total_seconds(), float(step.seconds), latest


def run(steps: Sequence[Step], overrun: float, chance: random.Random) -> Night:
    """Execute a list in which each step lasts longer by `overrun` on average (exponentially distributed)."""
    night = Night()
    now, position = 0.0, 0
    planned = [seconds(step, steps) for step in steps]
    leave_by = [_leave_by(steps, planned, number) for number in range(len(steps))]
    tracking: tuple[str, str | None, float] | None = None  # target, side, since
    flips_until = float("-inf")  # a flip that waits for a tail may be as late as this

    def stop_tracking(at: float) -> None:
        nonlocal tracking
        if tracking is not None:
            night.tracked.append(Span("track", tracking[2], at, tracking[0], tracking[1]))
            tracking = None

    while position < len(steps):
        step = steps[position]
        start, length, latest = planned[position]
        begins = max(now, start)
        if tracking is not None and begins > leave_by[position]:
            begins = max(now, leave_by[position])  # it would have tracked too far: leave now, or stop
            if step.kind not in LEAVES and not (step.kind == "wait" and not step.tracking):
                now, position = begins, _next_leaving(steps, position)
                continue
        lasts = length * (1.0 + overrun * chance.expovariate(1.0))
        if step.kind in LEAVES or (step.kind == "wait" and not step.tracking):
            stop_tracking(begins)
            now = begins
            if step.kind == "wait":
                now = max(begins, start + length)
            elif step.kind == "park":
                night.moved.append(Span("park", begins, begins + lasts, None, None))
                now = begins + lasts
            elif begins > latest and not (step.kind == "flip" and begins <= flips_until):
                position = _next_leaving(steps, position + 1)
                continue
            else:
                night.moved.append(Span(step.kind, begins, begins + lasts, step.target, step.pier_side))
                now = begins + lasts
                tracking = (step.target or "", step.pier_side, now)
        elif step.kind == "expose":
            if begins > latest or tracking is None:
                position += 1
                continue
            shutter = step.exposure_s or 0.0
            night.opened.append(Span("expose", begins, begins + shutter, step.target, step.pier_side))
            night.open_s += shutter
            now = begins + max(lasts, shutter)
        elif tracking is not None:
            ends = start + length if step.kind == "wait" else begins + lasts
            if ends > leave_by[position]:  # broken off
                now, position = max(begins, leave_by[position]), _next_leaving(steps, position)
                continue
            now = max(begins, ends)
        position += 1
        if tracking is not None and now > leave_by[min(position, len(steps) - 1)]:
            # a tail runs on while the mount already stands
            stands_since = max(tracking[2], leave_by[min(position, len(steps) - 1)])
            flips_until = stands_since + length if step.kind == "expose" else float("-inf")
            stop_tracking(stands_since)
    stop_tracking(now)
    return night


def _next_leaving(steps: Sequence[Step], position: int) -> int:
    """The next step that leaves the target: slew, flip, park, or the wait before it that stops tracking."""
    while position < len(steps):
        step = steps[position]
        if step.kind in LEAVES or (step.kind == "wait" and not step.tracking):
            return position
        position += 1
    return position


def _leave_by(steps: Sequence[Step], planned: Sequence[tuple[float, float, float]], position: int) -> float:
    """When the mount must have left what it tracks at this step."""
    leaving = _next_leaving(steps, position)
    if leaving == len(steps):
        return float("inf")
    last = leaving - 1
    if last < 0 or steps[last].kind != "expose":
        return planned[leaving][2]
    return min(planned[leaving][2], planned[last][2] + (steps[last].exposure_s or 0.0))


HourAngle = Callable[[str, float], float]


def worst_hour_angle_s(night: Night, hour_angle_s: HourAngle) -> float:
    """Largest hour angle (s) to which anything tracked on the first side; -inf where nothing did."""
    ends = [
        hour_angle_s(span.target or "", span.end)
        for span in night.tracked
        if span.side == "west" and span.end > span.start
    ]
    return max(ends, default=float("-inf"))


def straddles(night: Night) -> int:
    """Exposures whose open shutter overlaps a flip or any other motion."""
    return sum(
        1
        for shot in night.opened
        for motion in night.moved
        if shot.start < motion.end and motion.start < shot.end
    )
