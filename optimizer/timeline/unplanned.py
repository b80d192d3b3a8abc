"""What found no place in the plan, why, and what would change it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG
from optimizer.models.shots import Unplanned, UnplannedReason
from optimizer.models.targets import Target
from optimizer.packing.plan import Plan
from optimizer.problem import Problem, without_slack
from optimizer.problem.tasks import Task
from optimizer.sky.bodies import NightSky
from optimizer.sky.spans import WHOLE_NIGHT, Cause, Windows, intersect
from optimizer.sky.windows import SkyWindows
from optimizer.timeline.alone import frames_alone, most_alone, most_open_s, open_s
from optimizer.timeline.by_odds import WHILE_COUNTING, counting_only, counts_nothing, is_cut
from optimizer.timeline.held_back import HELD_BACK, held_back
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
# What the rules are called where one of them keeps closed what another, if eased, would open.
KEEPS_CLOSED: dict[Cause, str] = {
    "sun": "the Sun",
    "darkness": "its darkness",
    "floor": "its floor",
    "ceiling": "the ceiling",
    "skyline": "the local horizon",
    "moon_gap": "moon_gap_deg",
    "moonlight": "moonlight_mag",
    "clear": "night.clear",
    "blocked": "night.blocked",
}
STEP_S = 60.0  # for the numbers in sentences only
MOST_THOROUGH = 12  # targets for which more than one plan is tried
MOST_ALONE = 200  # targets for which any is: on a night of a thousand it would take longer than the search
Why = tuple[UnplannedReason, str]
NO_PLACE = "the plan has no place for it beside the other goals"
CLOSED = "what closes its windows (darkfill windows names it)"
ADVICE = "Fewer subs of other goals make room, a higher weight can bring it forward"

OVER: Why = (
    "blocked",
    "none of its windows tonight has a clear, unblocked second from this list's begin on; another night may",
)
NOT_TRIED: Why = (
    "night_full",
    f"{NO_PLACE}; what it would get alone was not worked out on a night of so many targets. {ADVICE}",
)


def explain_unplanned(
    request: Request,
    sky: NightSky,
    windows: SkyWindows,
    problem: Problem,
    plan: Plan,
    *,
    proven: bool = False,
) -> tuple[Unplanned, ...]:
    """Make one entry for each goal that the plan leaves short, in file order.

    It is `proven` where no plan of the night has more profit.

    A sentence says why, then after a semicolon what would change it; what holds for all such goals alike
    may follow as a sentence of its own.
    """
    planned = frames_planned(plan)
    short = [task for task in problem.tasks_in_file_order if task.frames_left > planned[task.index]]
    only = sum(task.frames_left > 0 for task in problem.tasks) == 1 and not problem.by_time
    names = list(dict.fromkeys(task.target.name for task in short))
    tried = set(names[:MOST_ALONE])
    by_odds = bool(request.night.clear_odds)
    counting = counting_only(problem) if by_odds else problem
    loose = without_slack(problem, request, windows) if short else problem
    easier_night = loose, counting_only(loose) if by_odds else loose
    told: dict[int, Why | None] = {}
    for task in short:
        alone, both = task.target.name in tried, (problem, counting)
        why = _by_windows(request, sky, windows, both, task, planned, most=proven and only, alone=alone)
        if why is not None and loose is not problem:
            # what holds without the slack as well is true as it stands; the rest is for the slack's sake
            easier = _by_windows(request, sky, windows, easier_night, task, planned, most=False, alone=alone)
            why = easier or _for_slack(request, planned[task.index])
        told[task.index] = why
    idle = held_back(problem, planned)
    told |= {task.index: HELD_BACK for task in short if task.index in idle and told[task.index] is None}
    by_target: dict[str, list[Task]] = {}
    for task in short:
        if told[task.index] is None:
            by_target.setdefault(task.target.name, []).append(task)
    for number, (name, tasks) in enumerate(by_target.items()):
        shared = NOT_TRIED
        if name in tried:
            shared = _beside_others(problem, counting, tasks, planned, thorough=number < MOST_THOROUGH)
        told |= dict.fromkeys((task.index for task in tasks), shared)
    return tuple(
        Unplanned(
            target=task.target.name,
            filter=task.goal.filter,
            exposure_s=task.goal.exposure_s,
            frames=task.frames_left - planned[task.index],
            reason=why[0],
            sentence=why[1],
        )
        for task in short
        if (why := told[task.index]) is not None
    )


def _by_windows(
    request: Request,
    sky: NightSky,
    windows: SkyWindows,
    problems: tuple[Problem, Problem],
    task: Task,
    planned: Counter[int],
    *,
    most: bool,
    alone: bool,
) -> Why | None:
    """Why a goal's own windows leave it short; None where other goals may have to do with it.

    `problems` are the night's own and the same with nothing but frames that count. `most`: no plan of the
    night holds more of its frames. `alone`: a plan for it alone is made.
    """
    problem, counting = problems
    target, frames = task.target, planned[task.index]
    open_windows = windows[target.name].shutter[task.goal.filter]
    if not open_windows:
        closed = why_no_window(request, sky, windows, target, task.goal.filter)
        return OVER if closed[0] == "blocked" and problem.start.is_begun else closed
    longest_s = max(math.floor(each.end_s) - math.ceil(each.start_s) for each in open_windows)
    if longest_s < task.shutter_s:
        return "window_too_short", (
            f"its longest window lasts {_minutes(longest_s)}, one sub takes {task.goal.exposure_s:g} s; "
            "a shorter exposure would fit"
        )
    if task.profit == 0:
        return counts_nothing(windows, task)
    if task.index not in problem.slots_by_task:
        return _no_side(task)
    if frames == 0 and (why := _least_visit(problem, target)) is not None:
        return why
    if most and frames:
        return "window_too_short", (
            f"no plan tonight holds more than {_these(frames)}; {CLOSED} would have to give way"
        )
    if most_alone(problem, task) <= frames:
        holds = f"hold no more than {_these(frames)}" if frames else "are over before it is on target"
        return "window_too_short", f"its windows tonight {holds}; {CLOSED} would have to give way"
    if is_cut(problem, counting, task):
        return _by_odds(counting, task, frames, alone=alone)
    if alone and not _fits_alone(problem, task, frames + 1):
        more = f"more than {_these(frames)}" if frames else "a sub of it"
        return "window_too_short", (
            f"even with nothing else tonight no plan was found that holds {more}, which is not proven; "
            f"{CLOSED} may have to give way"
        )
    return None


def _for_slack(request: Request, frames: int) -> Why:
    """What is left out although its windows would hold it, were it not for the slack asked for."""
    more = f"more than {_these(frames)}" if frames else "a sub of it"
    return "window_too_short", (
        f"no plan was found that holds {more} with the slack of {request.aim.slack_s} s asked for; "
        "a smaller slack_s may make room"
    )


def _by_odds(counting: Problem, task: Task, frames: int, *, alone: bool) -> Why | None:
    """Why the odds leave a goal short whose windows hold more frames; None where other goals may do so."""
    if most_alone(counting, task) <= frames:
        holds = f"hold no more than {_these(frames)}" if frames else "are over before it is on target"
        return "clear_odds", (
            f"its windows tonight {holds} {WHILE_COUNTING}; better odds or {CLOSED} would have to give way"
        )
    if alone and not _fits_alone(counting, task, frames + 1):
        more = f"more than {_these(frames)}" if frames else "a sub of it"
        return "clear_odds", (
            f"even with nothing else tonight no plan was found that holds {more} {WHILE_COUNTING}, which is "
            "not proven; better odds would make room"
        )
    return None


def _fits_alone(problem: Problem, task: Task, frames: int) -> bool:
    """Whether a plan with so many frames was found in a night without other targets.

    It may be that a least visit takes other goals of the target as well.
    """
    if frames_alone(problem, [task], enough=frames)[task.index] >= frames:
        return True
    name = task.target.name
    together = [other for other in problem.tasks if other.target.name == name and other.frames_left]
    return frames_alone(problem, together)[task.index] >= frames


def _beside_others(
    problem: Problem, counting: Problem, tasks: Sequence[Task], planned: Counter[int], *, thorough: bool
) -> Why:
    """Why goals of one target are short that have windows for more: one answer for all of them."""
    alone = frames_alone(counting, tasks, thorough=thorough)
    have_s, most_s = open_s(tasks, planned), open_s(tasks, alone)
    if most_s <= have_s and any(is_cut(problem, counting, task) for task in tasks):
        return "clear_odds", (
            "even with nothing else tonight no plan was found that holds more of its goals together while "
            "their subs count anything by the odds of clear sky given, which is not proven; better odds "
            "would make room"
        )
    if most_s <= have_s:
        return "window_too_short", (
            "even with nothing else tonight no plan was found that holds more of its goals together, which "
            "is not proven; fewer subs of its other goals would make room"
        )
    wanted = sum(task.frames_left for task in tasks)
    wanted_s = open_s(tasks, {task.index: task.frames_left for task in tasks})
    if len(tasks) == 1:
        number = f"all {wanted}" if most_s == wanted_s else f"at least {alone.total()} of {wanted}"
        fits = "this one sub would fit" if wanted == 1 else f"{number} subs still wanted would fit"
    else:
        filters = list(dict.fromkeys(task.goal.filter for task in tasks))
        names = f"{', '.join(filters[:-1])} and {filters[-1]}" if len(filters) > 1 else filters[0]
        number = "all" if most_s == wanted_s else f"at least {_hours(math.floor(most_s / 60))} of the"
        fits = f"{number} {_hours(math.ceil(wanted_s / 60))} still wanted in {names} would fit together"
    return "night_full", (f"{NO_PLACE}; alone tonight {fits}. {ADVICE}")


def why_no_window(
    request: Request, sky: NightSky, windows: SkyWindows, target: Target, filter_name: str
) -> Why:
    """Why the sky leaves a filter no second on a target tonight, with tonight's number beside the limit."""
    causes = windows[target.name].shutter_causes[filter_name]
    left = WHOLE_NIGHT
    for cause, reason in REASON_OF.items():
        if cause in causes:
            closer = intersect(left, causes[cause])
            if not closer:
                sentence = _no_window(request, sky, windows, target, filter_name, cause, left)
                others = {other: open_ for other, open_ in causes.items() if other != cause}
                if reason != "blocked" and cause != "sun" and (still := _first_to_close(others)):
                    keeps = f"{KEEPS_CLOSED[still]} keeps it closed"
                    sentence = f"{sentence.partition('; ')[0]}; easing that alone would not help, {keeps}"
                return reason, sentence
            left = closer
    raise AssertionError("the rules together leave a window")


def _first_to_close(causes: Mapping[Cause, Windows]) -> Cause | None:
    """The rule with which nothing is left open any more, one after the other; None where something is."""
    left = WHOLE_NIGHT
    for cause in REASON_OF:
        if cause in causes and not (left := intersect(left, causes[cause])):
            return cause
    return None


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
        reached = f"{highest:.1f}°".replace("-", "−")
        return (
            f"it reaches {reached} while it is dark enough, its floor is "
            f"{request.floor_deg(target):g}°; a lower floor or another season would open it"
        )
    if cause == "ceiling":
        return (
            f"it stands above the ceiling of {request.site.ceiling_deg:g}° while it is dark enough; "
            "a higher ceiling or another season would open it"
        )
    if cause == "skyline":
        return (
            "the local horizon hides it while it is dark enough and above its floor; "
            "another spot or another season would open it"
        )
    if cause == "moon_gap":
        widest = float(np.max(track.separation_deg(sky.moon, times)))
        return (
            f"the Moon is up and within {widest:.1f}° all the while, a gap of {chosen.moon_gap_deg:g}° is "
            "asked for; another night or a smaller moon_gap_deg would open it"
        )
    if cause == "moonlight":
        # a band that is narrow already gains nothing against moonlight by being narrower
        other = "" if chosen.kind == "narrowband" else "a narrower filter, "
        return (
            f"moonlight brightens its sky by more than {chosen.moonlight_mag:g} mag all the while; "
            f"{other}a larger moonlight_mag or a night with less Moon would open it"
        )
    return "no clear, unblocked span meets its windows; check night.clear and night.blocked"


def _never_dark(lowest_deg: float, filter_name: str, limit_deg: float) -> str:
    if lowest_deg > TWILIGHT_LIMIT_DEG["sunset"]:
        return "the Sun does not set tonight; another season would open it"
    lowest, limit = f"{lowest_deg:.1f}°".replace("-", "−"), f"{limit_deg:g}°".replace("-", "−")
    words = f"the Sun sinks to {lowest} tonight, filter {filter_name} asks for {limit}; "
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


def _no_side(task: Task) -> Why:
    if task.target.sides != "either":
        return "wrong_side", (
            f'sides = "{task.target.sides}" leaves no window for one sub; "either" would allow the '
            "other side as well"
        )
    return "forbidden_zone", (
        "outside the zone around the meridian where the mount may not track, no window holds one sub; "
        "a larger contact_min (measured!) or a shorter exposure would open it"
    )


def _least_visit(problem: Problem, target: Target) -> Why | None:
    """Whether the target, alone tonight, is kept out by its least visit and by nothing else."""
    if not target.least_min:
        return None
    tasks = [task for task in problem.tasks if task.target.name == target.name and task.frames_left]
    if frames_alone(problem, tasks) or not frames_alone(problem, tasks, least_min=0.0):
        return None
    longest_s = max(most_open_s(problem, slot) for slot in problem.slots if slot.target.name == target.name)
    # goals that count nothing by the odds have no slot, although their subs would make a visit longer
    all_known = all(task.index in problem.slots_by_task for task in tasks)
    found = "reaches" if all_known and longest_s < 60 * target.least_min else "was found that reaches"
    return "least_visit", (
        f"no visit tonight {found} the {target.least_min:g} min of open shutter that least_min asks for; "
        "a smaller least_min would make one possible"
    )


def _these(frames: int) -> str:
    return f"these {frames} subs" if frames > 1 else "this one sub" if frames else "none"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.1f} min"


def _hours(minutes: int) -> str:
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
