"""Nights begun anywhere: a plan cut at some second, as mount and camera then stand, or as they might."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.site import night_span
from optimizer.packing.schedule import Act, Schedule, ScheduledVisit
from optimizer.problem import Problem

TRACKED = ("centre", "settle", "rotate", "filter", "focus", "expose", "dither")
ACQUIRED = ("expose", "dither")  # by then every act of an arrival is over


@dataclass(frozen=True)
class Cut:
    """The rest of a night: its request, how it begins, and the frames taken before by task."""

    request: Request
    begin: Begin
    taken: Mapping[int, int]


def cut_at(request: Request, problem: Problem, schedule: Schedule, at_s: int, **changes: Any) -> Cut:
    """Cut a plan at a second at which no frame is being taken; `changes` are of how things then stand.

    `still_s` among them: the mount stands still for so many seconds.
    """
    done = [(visit, act) for visit in schedule for act in visit.acts if act.end <= at_s]
    taken = Counter(act.task for _, act in done if act.kind == "expose" and act.task is not None)
    origin = night_span(request.night, request.site.longitude_deg, request.site.time_zone)[0]
    now = origin + dt.timedelta(seconds=at_s)
    begin = {"utc": now, **_state(problem, done, origin), **changes}
    if (still_s := begin.pop("still_s", None)) is not None and begin.get("target") is not None:
        begin |= {"stands_since_utc": now - dt.timedelta(seconds=still_s), "acquired": False}
    return Cut(_rest(request, problem, taken, now), Begin.model_validate(begin), dict(taken))


def _state(problem: Problem, done: list[tuple[ScheduledVisit, Act]], origin: dt.datetime) -> dict[str, Any]:
    """How mount and camera stand after some acts of a plan."""
    if not done:
        return {}
    last, acts = done[-1][0], [act for _, act in done]
    mine = [act for visit, act in done if visit is last]
    focused = [act.end for act in acts if act.kind == "focus"]
    filters = [
        problem.tasks[act.task].goal.filter for act in acts if act.kind == "filter" and act.task is not None
    ]
    exposed = [act.task for act in mine if act.kind == "expose" and act.task is not None]
    return {
        "target": last.slot.target.name,
        "pier_side": last.slot.side,
        "acquired": any(act.kind in ACQUIRED for act in mine),
        "filter": filters[-1] if filters else None,
        "focused_utc": origin + dt.timedelta(seconds=focused[-1]) if focused else None,
        "undithered": _undithered(mine),
        "open_s": sum(problem.tasks[task].goal.exposure_s for task in exposed),
    }


def _undithered(acts: list[Act]) -> int:
    """Frames since the latest dither or focus run of the run that is going on."""
    count = 0
    for act in reversed(acts):
        if act.kind != "expose":
            return count
        count += 1
    return count


def _rest(request: Request, problem: Problem, taken: Mapping[int, int], now: dt.datetime) -> Request:
    """The request with what was taken in hand, and nothing open before now."""
    by_goal = {(task.target.name, task.goal_index): taken.get(task.index, 0) for task in problem.tasks}
    targets = tuple(
        target.model_copy(
            update={
                "goals": tuple(
                    goal.model_copy(update={"done": goal.done + by_goal[target.name, place]})
                    for place, goal in enumerate(target.goals)
                )
            }
        )
        for target in request.targets
    )
    before = (now - dt.timedelta(days=2), now)
    night = request.night.model_copy(update={"blocked": (*request.night.blocked, before)})
    return request.model_copy(update={"targets": targets, "night": night})


def random_cut(request: Request, problem: Problem, schedule: Schedule, rng: random.Random) -> Cut | None:
    """A plan cut at the end of one of its acts, or a little later, things mostly as they then stand.

    None where the plan has no acts.
    """
    ends = [act.end for visit in schedule for act in visit.acts]
    if not ends:
        return None
    late_s = rng.choice([0, 0, 0, rng.randint(1, 400)])
    at_s = rng.choice(ends[: max(1, len(ends) * 3 // 4)]) + late_s
    under_way = [
        act.end
        for visit in schedule
        for act in visit.acts
        if act.kind == "expose" and act.start < at_s < act.end
    ]
    return cut_at(request, problem, schedule, max([at_s, *under_way]), **_changes(request, rng))


def _changes(request: Request, rng: random.Random) -> dict[str, Any]:
    """Mostly nothing; else the mount parked, on another target or side, or less known of it."""
    drawn = rng.random()
    if drawn < 0.5:
        return {}
    if drawn < 0.6:
        return {"target": None, "pier_side": None, "acquired": False, "undithered": 0, "open_s": 0.0}
    if drawn < 0.7:
        return {"filter": None}
    if drawn < 0.8:
        return {"focused_utc": None}
    if drawn < 0.83:
        return {"acquired": False}
    if drawn < 0.85:
        return {"focus_due": True}
    if drawn < 0.88:
        return {"still_s": rng.choice([0, 200, 3000])}
    if drawn < 0.9:
        return {"undithered": rng.randint(1, 3)}
    sides = ["west", "east"] if request.mount.flips else [None]
    name = rng.choice([target.name for target in request.targets])
    return {"target": name, "pier_side": rng.choice(sides), "acquired": rng.random() < 0.7, "open_s": 0.0}
