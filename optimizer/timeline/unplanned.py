"""What found no place in the plan, why, and what would change it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG
from optimizer.models.shots import Unplanned, UnplannedReason
from optimizer.models.targets import Target
from optimizer.packing.choice import Choice
from optimizer.packing.first_plan import first_plan
from optimizer.problem import Problem, only_tasks
from optimizer.sky.bodies import NightSky
from optimizer.sky.spans import WHOLE_NIGHT, Cause, Windows, intersect
from optimizer.sky.windows import SkyWindows
from optimizer.tasks import Task
from optimizer.timeline.totals import frames_planned

# Which rule is named where several together leave nothing: the one that people can change least comes first.
REASON_OF: dict[Cause, UnplannedReason] = {
    "sun": "never_dark",
    "darkness": "never_dark",
    "floor": "too_low",
    "ceiling": "too_high",
    "skyline": "too_low",
    "moon_gap": "moon_too_near",
    "moonlight": "moonlight",
    "clear": "blocked",
    "blocked": "blocked",
}
STEP_S = 60.0  # for the numbers in sentences only


def explain_unplanned(
    request: Request, sky: NightSky, windows: SkyWindows, problem: Problem, choice: Choice
) -> tuple[Unplanned, ...]:
    """One entry for each goal that the plan leaves short, in file order."""
    planned = frames_planned(choice)
    found = []
    for task in problem.tasks_in_file_order:
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
    target = task.target
    open_windows = windows[target.name].shutter[task.goal.filter]
    if not open_windows:
        return why_no_window(request, sky, windows, target, task.goal.filter)
    longest_s = max(math.floor(each.end_s) - math.ceil(each.start_s) for each in open_windows)
    if longest_s < task.shutter_s:
        return "window_too_short", (
            f"its longest window lasts {_minutes(longest_s)}, one exposure takes {task.goal.exposure_s:g} s; "
            "a shorter exposure or a lower floor would fit"
        )
    if not any(task.index in slot.shutter for slot in problem.slots):
        return _no_side(task)
    if planned == 0 and _least_visit_forbids(problem, target):
        return "least_visit", (
            f"no visit tonight reaches the {target.least_min:g} min of open shutter that least_min asks for; "
            "a smaller least_min would let it in"
        )
    alone = _frames_alone(problem, [task])
    if alone <= planned:
        return "window_too_short", (
            f"its windows tonight hold no more than {_these(planned)}; what closes them, as `darkfill "
            "windows` names it, would have to give way"
        )
    fit = "all" if alone >= task.frames_left else f"{alone} of {task.frames_left} frames"
    return "night_full", (
        f"the hours went to what is worth as much or more; alone tonight {fit} would fit. "
        "A higher weight would bring it forward"
    )


def why_no_window(
    request: Request, sky: NightSky, windows: SkyWindows, target: Target, filter_name: str
) -> tuple[UnplannedReason, str]:
    """Why the sky leaves a filter no second on a target tonight, with tonight's number beside the limit."""
    causes = windows[target.name].shutter_causes[filter_name]
    left = WHOLE_NIGHT
    for cause, reason in REASON_OF.items():
        if cause in causes:
            closer = intersect(left, causes[cause])
            if not closer:
                return reason, _no_window(request, sky, windows, target, filter_name, cause, left)
            left = closer
    raise AssertionError("the rules together leave a window")


def _no_window(
    request: Request,
    sky: NightSky,
    windows: SkyWindows,
    target: Target,
    filter_name: str,
    cause: Cause,
    left: Windows,
) -> str:
    """The sentence; its number is taken where the rules before this one leave time."""
    chosen = request.filter_named(filter_name)
    track, times = windows[target.name].track, _times_in(left)
    if cause in ("sun", "darkness"):
        return _never_dark(
            float(np.min(sky.sun.geometric_altitude_deg(times))), filter_name, chosen.sun_limit_deg
        )
    if cause == "floor":
        highest = float(np.max(track.altitude_deg(times)))
        return (
            f"it reaches {highest:.1f}° while it is dark enough, its floor is "
            f"{request.floor_deg(target):g}°; a lower floor or another season would open it"
        )
    if cause == "ceiling":
        return (
            f"it stands above the ceiling of {request.site.ceiling_deg:g}° while it is dark enough; "
            "a higher ceiling or another season would open it"
        )
    if cause == "skyline":
        return (
            "the skyline hides it while it is dark enough and above its floor; "
            "another spot or another season would open it"
        )
    if cause == "moon_gap":
        widest = float(np.max(track.separation_deg(sky.moon, times)))
        return (
            f"the Moon is up and within {widest:.1f}° all the while, filter {filter_name} asks for "
            f"{chosen.moon_gap_deg:g}°; another night or a smaller moon_gap_deg would open it"
        )
    if cause == "moonlight":
        return (
            f"moonlight brightens its sky by more than {chosen.moonlight_mag:g} mag all the while; "
            "a narrower filter, a larger moonlight_mag or a night with less Moon would open it"
        )
    return "no clear, unblocked span meets its windows; check night.clear and night.blocked"


def _never_dark(lowest_deg: float, filter_name: str, limit_deg: float) -> str:
    if lowest_deg > TWILIGHT_LIMIT_DEG["sunset"]:
        return "the Sun does not set tonight; another season would open it"
    words = f"the Sun sinks to {lowest_deg:.1f}° tonight, filter {filter_name} asks for {limit_deg:g}°; "
    easier = math.ceil(lowest_deg)
    return (
        words
        + (f"darkness = {easier} or another season" if easier < 0 else "another season")
        + " would open it"
    )


def _times_in(windows: Windows) -> np.ndarray:
    """Times inside windows: both ends and every `STEP_S` between."""
    parts = [np.append(np.arange(each.start_s, each.end_s, STEP_S), each.end_s) for each in windows]
    return np.concatenate(parts)


def _no_side(task: Task) -> tuple[UnplannedReason, str]:
    if task.target.sides != "either":
        return "wrong_side", (
            f'sides = "{task.target.sides}" leaves no window on that side; "either" would allow the other one'
        )
    return "forbidden_zone", (
        "what the sky leaves lies in the zone around the meridian where the mount may not track; "
        "a larger contact_min (measured!) or a shorter exposure would open it"
    )


def _least_visit_forbids(problem: Problem, target: Target) -> bool:
    """Whether the target, alone tonight, is kept out by its least visit and by nothing else."""
    if not target.least_min:
        return False
    tasks = [task for task in problem.tasks if task.target.name == target.name]
    return not _frames_alone(problem, tasks) and bool(_frames_alone(problem, tasks, least_min=0.0))


def _frames_alone(problem: Problem, tasks: Sequence[Task], least_min: float | None = None) -> int:
    """Frames that a plan with nothing but these tasks gets (constructed, so at least so many fit)."""
    lonely = only_tasks(problem, {task.index for task in tasks})
    if least_min is not None:
        slots = (
            replace(slot, target=slot.target.model_copy(update={"least_min": least_min}))
            for slot in lonely.slots
        )
        lonely = replace(lonely, slots=tuple(slots))
    return sum(frames_planned(first_plan(lonely)).values())


def _these(frames: int) -> str:
    return f"these {frames} frames" if frames > 1 else "this one frame" if frames else "none"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.1f} min"
