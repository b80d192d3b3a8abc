"""The nodes of the time-expanded graph: windows of goals, each with the runs that fit into it."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.models.rig import SIDES
from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task
from optimizer.problem.transitions import prepared_s, transition


@dataclass(frozen=True)
class Node:
    """One window of one task in one slot; its instants count from the night's origin, in seconds."""

    slot: int  # position among the slots of the graph
    task: Task
    window: int  # its number among those of the task in the slot
    opens: int
    opens_on_arrival: int
    closes: int  # a run's last tail has ended by then
    within_visit_s: int | None  # least time between runs of one visit; None: no other run can come before
    filter_shared: bool  # with another goal of the slot: a run may come before this one without a change
    lengths_s: tuple[int, ...]  # least lengths of runs of 1, 2, ... frames, last tail included


def nodes_of(problem: Problem, position: int, slot: Slot) -> list[Node]:
    """All windows of a slot, which stands at this position among those of the graph."""
    nodes = []
    for index, spans in slot.shutter.items():
        task = problem.tasks[index]
        arrival_s = _first_arrival_s(problem, slot, task)
        shares = _filter_shared(problem, slot, task)
        for number, (opens, closes) in enumerate(spans):
            most = min(task.frames_left, (closes - opens + task.tail_s) // task.frame_s)
            lengths_s = problem.run_lengths.least_runs_s(task, most)
            nodes.append(
                Node(
                    slot=position,
                    task=task,
                    window=number,
                    opens=opens,
                    opens_on_arrival=max(opens, arrival_s),
                    closes=closes + task.tail_s,
                    within_visit_s=_within_visit_s(problem, slot, task, shares=shares),
                    filter_shared=shares,
                    lengths_s=tuple((lengths_s[lengths_s <= closes - opens] + task.tail_s).tolist()),
                )
            )
    return nodes


def _within_visit_s(problem: Problem, slot: Slot, task: Task, *, shares: bool) -> int | None:
    """Least time between another run's last tail and this task's first shutter, in one visit."""
    if len(slot.shutter) == 1:
        return None
    focus_s = problem.rules.focus_s if problem.rules.focus_on_filter_change else 0
    return 0 if shares else task.change_s + focus_s


def _filter_shared(problem: Problem, slot: Slot, task: Task) -> bool:
    others = [problem.tasks[index] for index in slot.shutter if index != task.index]
    return any(other.goal.filter == task.goal.filter for other in others)


def least_arrival_s(problem: Problem, slot: Slot, task: Task) -> int:
    """Least time from the target's first second to the first shutter after an arrival, by slew or by flip."""
    acquire_s = problem.rules.centre_s + problem.rules.settle_s
    by_slew = task.change_s + _focus_s(problem, flips=False, changes=True)
    if slot.side != SIDES[1]:
        return acquire_s + by_slew
    return acquire_s + min(by_slew, _focus_s(problem, flips=True, changes=False))


def _first_arrival_s(problem: Problem, slot: Slot, task: Task) -> int:
    """The soonest second at which a task's first shutter may open in any visit of a slot.

    Whoever goes elsewhere first is there no sooner than by the straight way, as far as axes, centring, filter
    and focus go; but all that may lie before the slot's first second. Only where a visit may go on, its
    dither could take longer than to leave and come back.
    """
    start, anyhow_s = problem.start, slot.work[0] + least_arrival_s(problem, slot, task)
    if not start.is_begun:
        return anyhow_s
    ready_s = start.at_s + prepared_s(problem, slot, task)
    if start.stays_in(slot):
        return min(ready_s, anyhow_s)
    return max(ready_s + problem.slew_seconds(start.slot, start.left_s, slot, start.at_s), anyhow_s)


def arc_s(problem: Problem, before: Slot, after: Slot, task: Task) -> int:
    """Least time from the last tail in one slot to the first shutter in another."""
    flips = problem.flips_between(before, after)
    seconds = transition(problem, before, after).at_once_s + problem.acquisition_s(before, after)
    changes = not flips or all(
        problem.tasks[index].goal.filter != task.goal.filter for index in before.shutter
    )
    return seconds + (task.change_s if changes else 0) + _focus_s(problem, flips=flips, changes=changes)


def _focus_s(problem: Problem, *, flips: bool, changes: bool) -> int:
    return problem.rules.focus_s if problem.focuses_on_arrival(flips, changes) else 0
