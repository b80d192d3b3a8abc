"""The request of a rest of a night: what its older list asked for, less what was done and what is lost."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence

from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.models.site import night_span
from optimizer.models.targets import GoalKey, Target, goal_key
from optimizer.replan.standing import NEEDS_SKY, Standing, shutter_closes, works
from optimizer.replan.told import Span, Told

UNTIMED = ("wait", "park")  # they take up what is late


def rest_request(older: ShotList, standing: Standing, told: Told, slack_s: int) -> Request:
    """Make the request that the new list answers.

    In hand is besides what was taken tonight; everything before the new list begins is blocked, as are the
    blocks told and all that comes after `told.until`. Targets left out are gone, but for the one that the
    mount is on: that one stays, and counts as complete.
    """
    request, begin = older.request, standing.begin
    taken = taken_tonight(older, standing)
    targets = [_with_done(target, taken) for target in request.targets]
    kept = [
        _complete(target) if target.name in told.left_out else target
        for target in targets
        if target.name not in told.left_out or target.name == begin.target
    ]
    first, last = night_span(request.night, request.site.longitude_deg, request.site.time_zone)
    blocked = _blocked(request.night.blocked, (first, begin.utc), last, told)
    return request.model_copy(
        update={
            "night": request.night.model_copy(update={"blocked": blocked}),
            "targets": tuple(kept),
            "aim": request.aim.model_copy(update={"slack_s": slack_s}),
        }
    )


def taken_tonight(older: ShotList, standing: Standing) -> Counter[GoalKey]:
    """Count the subs of the steps done, by goal."""
    done = set(standing.done)
    return Counter(step.goal_key for step in older.steps if step.kind == "expose" and step.step in done)


def slack_left_s(older: ShotList, standing: Standing, told: Told) -> int:
    """Seconds by which the rest of the older list may still run late, no more than its `aim.slack_s`.

    A list that is late goes on at once and makes up for it in its waits. Nothing is asked of subs that come
    too late by then, nor of steps under a sky that is told to be closed or on targets that are left out.
    Where the mount is elsewhere, the list can go on only from its next slew.
    """
    asked_s, at, spare_s = older.request.aim.slack_s, standing.begin.utc, []
    goes_on = standing.as_listed
    by_mount = older.request.mount.flip_by == "mount"
    for step in steps_left(older, standing):
        goes_on = goes_on or step.kind == "slew"
        if not goes_on:
            continue
        if step.target in told.left_out or (step.kind in NEEDS_SKY and told.closed(*works(step))):
            continue
        starts = max(step.start_utc, at)
        latest = step.latest_start_utc
        if step.kind == "expose" and latest is not None and starts > latest:
            continue
        at = max(step.end_utc, at) if step.kind == "wait" else starts + (step.end_utc - step.start_utc)
        exempt = step.kind in UNTIMED or (by_mount and step.kind == "flip")
        if not exempt and latest is not None:
            spare_s.append(int((latest - starts).total_seconds()))
    return max(0, min([asked_s, *spare_s]))


def steps_left(older: ShotList, standing: Standing) -> Sequence[Step]:
    """The steps of the older list that were not done and come after all that were, to its end."""
    last = max(standing.done, default=0)
    left = [step for step in older.steps if step.step > last and step.kind != "park"]
    if standing.running is not None and not standing.let_end and standing.running.kind == "expose":
        left = [step for step in left if step.step != standing.running.step]
    return left


def is_open(step: Step, told: Told) -> bool:
    """Whether a sub may still be taken as the older list has it, as far as what is told goes."""
    return step.target not in told.left_out and not told.closed(step.start_utc, shutter_closes(step))


def _with_done(target: Target, taken: Mapping[GoalKey, int]) -> Target:
    """The target with its subs of tonight in hand; no two of its goals ask for the same subs."""
    goals = []
    for goal in target.goals:
        goals.append(goal.model_copy(update={"done": goal.done + taken.get(goal_key(target, goal), 0)}))
    return target.model_copy(update={"goals": tuple(goals)})


def _complete(target: Target) -> Target:
    goals = [goal.model_copy(update={"done": max(goal.done, goal.frames)}) for goal in target.goals]
    return target.model_copy(update={"goals": tuple(goals)})


def _blocked(before: Sequence[Span], past: Span, night_ends: dt.datetime, told: Told) -> tuple[Span, ...]:
    """All blocked spans in order; those wholly in the past are part of it."""
    spans = [span for span in (*before, *told.blocks) if span[1] > past[1]]
    if told.until is not None and told.until < night_ends:
        spans.append((told.until, night_ends))
    if past[1] > past[0]:
        spans.append(past)
    return tuple(sorted(set(spans)))
