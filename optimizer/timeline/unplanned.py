"""What found no place in the plan, why, and what would change it."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from optimizer.models.request import Request
from optimizer.models.shots import Unplanned, UnplannedReason
from optimizer.models.targets import Target
from optimizer.mount.sides import permitted_sides
from optimizer.packing.choice import Choice, cut_into_segments, first_segment_most, most_frames, run_s
from optimizer.problem import Problem, Slot, Task
from optimizer.sky.bodies import NightSky
from optimizer.sky.spans import Cause, Windows, intersect, total_s
from optimizer.sky.windows import SkyWindows
from optimizer.timeline.totals import frames_planned

REASON_OF: dict[Cause, UnplannedReason] = {
    "night": "window_too_short",
    "sun": "never_dark",
    "darkness": "never_dark",
    "floor": "too_low",
    "skyline": "too_low",
    "moon_gap": "moon_too_near",
    "moonlight": "moonlight",
    "clear": "blocked",
    "blocked": "blocked",
    "zone": "forbidden_zone",
}
# Which rule is named where several together leave nothing: the one that people can change least comes first.
ORDER: tuple[Cause, ...] = (
    "darkness",
    "sun",
    "floor",
    "skyline",
    "moon_gap",
    "moonlight",
    "clear",
    "blocked",
)


def explain_unplanned(
    request: Request, sky: NightSky, windows: SkyWindows, problem: Problem, choice: Choice
) -> tuple[Unplanned, ...]:
    """One entry for each goal that the plan leaves short, in file order."""
    planned = frames_planned(choice)
    found = []
    for task in problem.tasks:
        short = task.frames_left - planned[task.index]
        if short <= 0:
            continue
        reason, sentence = _why(request, sky, windows, problem, task, planned[task.index])
        found.append(
            Unplanned(
                target=task.target.name,
                filter=task.goal.filter,
                exposure_s=task.goal.exposure_s,
                frames=short,
                reason=reason,
                sentence=sentence,
            )
        )
    return tuple(found)


def _why(
    request: Request, sky: NightSky, windows: SkyWindows, problem: Problem, task: Task, planned: int
) -> tuple[UnplannedReason, str]:
    open_windows = windows[task.target.name].shutter[task.goal.filter]
    if not open_windows:
        return why_no_window(request, sky, windows, task.target, task.goal.filter)
    if total_s(open_windows) < task.shutter_s:
        return "window_too_short", _too_short(total_s(open_windows), task)
    slots = [slot for slot in problem.slots if task.index in slot.shutter and not slot.copy]
    if not slots:
        return _no_side(request, task)
    could = sum(_most_in(problem, slot, task) for slot in slots)
    least_s = task.target.least_min * 60
    if planned == 0 and could * task.goal.exposure_s < least_s and len(task.target.goals) == 1:
        return "least_visit", (
            f"its windows hold {_minutes(could * task.goal.exposure_s)} of exposures, less than the least "
            f"visit of {task.target.least_min:g} min; a smaller least_min would let it in"
        )
    if could <= planned:
        return "window_too_short", (
            f"its windows tonight hold no more than {planned} frames; a lower floor or looser limits of the "
            "filter would open more time"
        )
    return "night_full", (
        f"the hours went to what is worth as much or more; alone tonight {_count(could, task)} would fit. "
        "A higher weight would bring it forward"
    )


def _what_leaves_nothing(causes: Mapping[Cause, Windows]) -> Cause:
    """The first rule, in `ORDER`, with which the windows so far become empty."""
    left: Windows | None = None
    for cause in ORDER:
        if cause in causes:
            left = causes[cause] if left is None else intersect(left, causes[cause])
            if not left:
                return cause
    raise AssertionError("the rules together leave a window")


def why_no_window(
    request: Request, sky: NightSky, windows: SkyWindows, target: Target, filter_name: str
) -> tuple[UnplannedReason, str]:
    """Why the sky leaves a filter no second on a target tonight, with tonight's number beside the limit."""
    cause = _what_leaves_nothing(windows[target.name].shutter_causes[filter_name])
    return REASON_OF[cause], _no_window(request, sky, windows, target, filter_name, cause)


def _no_window(
    request: Request, sky: NightSky, windows: SkyWindows, target: Target, filter_name: str, cause: Cause
) -> str:
    chosen = request.filter_named(filter_name)
    track = windows[target.name].track
    night = np.arange(0.0, 86401.0, 60.0)
    sun_deg = sky.sun.geometric_altitude_deg(night)
    if cause in ("darkness", "sun"):
        lowest = float(np.min(sun_deg))
        return (
            f"the Sun sinks to {lowest:.1f}° tonight, filter {chosen.name} asks for "
            f"{chosen.sun_limit_deg:g}°; darkness = {math.ceil(lowest)} or another season would open it"
        )
    dark = sun_deg <= chosen.sun_limit_deg
    if cause in ("floor", "skyline"):
        highest = float(np.max(track.altitude_deg(night)[dark]))
        hides = (
            "the skyline hides it" if cause == "skyline" else f"its floor is {request.floor_deg(target):g}°"
        )
        return (
            f"it reaches {highest:.1f}° while it is dark, {hides}; "
            "a lower floor or another season would open it"
        )
    if cause == "moon_gap":
        widest = float(np.max(track.separation_deg(sky.moon, night)[dark]))
        return (
            f"the Moon is up and within {widest:.0f}° all the while, filter {chosen.name} asks for "
            f"{chosen.moon_gap_deg:g}°; another night or a smaller moon_gap_deg would open it"
        )
    if cause == "moonlight":
        return (
            f"moonlight brightens its sky by more than {chosen.moonlight_mag:g} mag all the while; "
            "a narrower filter, a larger moonlight_mag or a night with less Moon would open it"
        )
    return "no clear, unblocked span meets its windows; check night.clear and night.blocked"


def _no_side(request: Request, task: Task) -> tuple[UnplannedReason, str]:
    if task.target.sides != "either" and (None not in permitted_sides(request, task.target)):
        return "wrong_side", (
            f'sides = "{task.target.sides}" leaves no window on that side; "either" would allow the other one'
        )
    return "forbidden_zone", (
        "what the sky leaves lies in the zone around the meridian where the mount may not track; "
        "a larger contact_min (measured!) or a shorter exposure would open it"
    )


def _too_short(seconds: float, task: Task) -> str:
    return (
        f"its windows last {_minutes(seconds)} in all, one exposure takes {task.goal.exposure_s:g} s; "
        "a shorter exposure or a lower floor would fit"
    )


def _most_in(problem: Problem, slot: Slot, task: Task) -> int:
    """Most frames that this goal alone could get in one slot."""
    return sum(_most_between(problem, task, last - first) for first, last in slot.shutter[task.index])


def _most_between(problem: Problem, task: Task, seconds: int) -> int:
    first_most = first_segment_most(problem, task)
    frames = min(task.frames_left, most_frames(problem, task, seconds))
    while frames > 0 and run_s(problem, task, cut_into_segments(problem, task, frames, first_most)) > seconds:
        frames -= 1
    return frames


def _count(could: int, task: Task) -> str:
    return "all" if could >= task.frames_left else f"{could} of {task.frames_left} frames"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min"
