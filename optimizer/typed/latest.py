"""The last second at which each step of a list may start, for lists that do not tell it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimizer.audit import audit_steps
from optimizer.models.request import Request
from optimizer.models.shots import Step
from optimizer.mount.sides import SideWindows, side_windows
from optimizer.sky.bodies import night_sky
from optimizer.sky.clock import SPAN_S
from optimizer.sky.spans import Windows
from optimizer.sky.windows import sky_windows

LEAVES = ("slew", "flip", "park")


def told_or_worked_out(request: Request, steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps as they are if their subs tell when they may start at latest, else with the latest starts.

    Those that the audit refuses, which works by another route, are left out: they are not known then.
    """
    if all(step.latest_start_utc is not None for step in steps if step.kind == "expose"):
        return tuple(steps)
    made = with_latest_starts(request, steps)
    refused = {each.step for each in audit_steps(request, made).violations if each.rule == "latest_start"}
    return tuple(
        step.model_copy(update={"latest_start_utc": None}) if step.step in refused else step for step in made
    )


def with_latest_starts(request: Request, steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps with the last second at which each may start, by the windows of sky and mount.

    A step that lies in no window, or that names no target where it needs one, gets its own start: nothing
    later is any better. Nothing presses a wait that stands still, or a park, where nothing tracks before it.
    """
    return _Latest(request).of(steps)


class _Latest:
    """Windows of the targets on their pier sides, each worked out once."""

    def __init__(self, request: Request) -> None:
        self._request = request
        self._sky = night_sky(request)
        self._windows = sky_windows(request, self._sky)
        self._targets = {target.name: target for target in request.targets}
        self._sides: dict[tuple[str, str | None], SideWindows] = {}

    def of(self, steps: Sequence[Step]) -> tuple[Step, ...]:
        made: list[Step] = []
        visit: Step | None = None  # a step of what was tracked before
        tracks = of_flip = False
        for place, step in enumerate(steps):
            stands = step.kind == "park" or (step.kind == "wait" and not step.tracking)
            of_flip = step.kind == "flip" or (of_flip and step.kind not in ("expose", "slew"))
            latest: int | None = None
            if not stands:
                latest = self._by_itself(step, visit, of_flip=of_flip)
            if visit is not None and (stands or step.kind in LEAVES):
                crosses = step.kind == "flip" and step.target == visit.target
                if tracks or crosses:
                    latest = self._leaves(step, visit, latest, tracks=tracks)
            if step.kind == "wait" and step.tracking and self._before_flip(steps, place):
                latest = self._waits(step, visit, latest)
            start = round(self._sky.clock.seconds(step.start_utc))
            shown = None if latest is None else self._sky.clock.utc(max(latest, start))
            made.append(step.model_copy(update={"latest_start_utc": shown}))
            if stands:
                tracks = False
            else:
                tracks, visit = True, step if step.target is not None else visit
        return tuple(made)

    def _side(self, step: Step) -> SideWindows | None:
        target = self._targets.get(step.target or "")
        if target is None or (self._request.mount.flips and step.pier_side is None):
            return None
        key = (target.name, step.pier_side)
        if key not in self._sides:
            self._sides[key] = side_windows(self._request, self._windows, target, step.pier_side)
        return self._sides[key]

    def _by_itself(self, step: Step, visit: Step | None, *, of_flip: bool) -> int:
        """The last start by the sky, the zone and the quiet time; the step's own where it breaks them."""
        start, end = (round(self._sky.clock.seconds(each)) for each in (step.start_utc, step.end_utc))
        named = step if step.target is not None else visit
        side = None if named is None else self._side(named)
        if side is None:
            return start
        if step.kind == "expose":
            length_s = math.ceil(step.exposure_s or 0.0)
            latest = _last(side.shutter.get(step.filter or "", ()), start, length_s)
            return min(latest, SPAN_S - (end - start))  # the night holds the download too
        length_s = end - start
        if step.kind in ("slew", "flip"):  # what it arrives at must be open as it ends
            latest = _last(side.work, end, 0) - length_s
        else:
            latest = _last(side.work, start, length_s)
        leaves = step.kind == "focus" and self._request.focus.leaves_target and not of_flip
        if step.kind == "slew" or leaves:
            for quiet in side.quiet:
                if end <= quiet.start_s:
                    latest = min(latest, math.floor(quiet.start_s) - length_s)
                    break
        return latest

    def _leave_by(self, visit: Step) -> int | None:
        """When tracking on the side of a visit must have ended; None where there are no sides."""
        side = self._side(visit)
        if side is None or visit.pier_side is None:
            return None
        start = self._sky.clock.seconds(visit.start_utc)
        return next(
            (math.floor(each.end_s) for each in side.zone if each.start_s <= start + 1 <= each.end_s), None
        )

    def _leaves(self, step: Step, visit: Step, latest: int | None, *, tracks: bool) -> int | None:
        """The latest start of what leaves a target that was tracked until then."""
        start = round(self._sky.clock.seconds(step.start_utc))
        if step.kind == "flip" and self._request.mount.flip_by == "mount":
            return start  # it flips by itself, and no later
        leave_by = self._leave_by(visit)
        if leave_by is None:
            return start if tracks and self._request.mount.flips else latest
        if not tracks and start > leave_by:
            return latest  # the side had to be left before the flip may begin: nothing presses any more
        return leave_by if latest is None else min(latest, leave_by)

    def _before_flip(self, steps: Sequence[Step], place: int) -> bool:
        return place + 1 < len(steps) and steps[place + 1].kind == "flip"

    def _waits(self, step: Step, visit: Step | None, latest: int | None) -> int | None:
        """The latest start of a wait that tracks on to a flip, which is to begin in time."""
        leave_by = None if visit is None else self._leave_by(visit)
        if leave_by is None:
            return latest
        last = leave_by - step.seconds
        return last if latest is None else min(latest, last)


def _last(windows: Windows, start: int, length_s: int) -> int:
    """The last start in the window that holds a start; the start itself where none does."""
    for window in windows:
        if window.start_s <= start + 1 and start + length_s <= window.end_s + 1:
            return math.floor(window.end_s) - length_s
    return start
