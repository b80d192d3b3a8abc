"""What frames are worth beside others of their filter set; compiled, in floating-point profit.

The progress of a set grows by twice what a goal gathers while all of the goal lies in the slowest half of the
set, by less where a part of it does, and not at all beyond: the law of `problem/filter_sets.py`, walked along
the members by their shares. Where a search decides by it, plans are judged by that law itself.
"""

from __future__ import annotations

from typing import NamedTuple

from optimizer.packing.compiled import Floats, Ints, inner


class Sets(NamedTuple):
    """The filter sets of a night; none where nothing is balanced."""

    of_task: Ints  # the number of each task's set, -1: in none
    starts: Ints  # [sets + 1], where the members of each begin
    members: Ints  # tasks, set by set
    wanted: Floats  # [tasks] profit of all frames of the goal
    in_hand: Floats  # [tasks] of those in hand before the night
    half: Floats  # [sets] of what the whole set wants
    balance: float
    nothing: float  # what the sets count before anything is gathered


class Standing(NamedTuple):
    """Where the sets stand with what a sequence gathers."""

    gathered: Floats  # [tasks] profit
    share: Floats  # [tasks] in hand, 0 to 1
    order: Ints  # members, set by set, the slowest first


@inner
def stand(sets: Sets, standing: Standing) -> None:
    """Fill shares and orders from what is gathered."""
    share, order = standing.share, standing.order
    for place in range(len(order)):
        task = order[place]
        reached = (sets.in_hand[task] + standing.gathered[task]) / sets.wanted[task]
        share[task] = min(1.0, reached)
    for number in range(len(sets.half)):
        first = sets.starts[number]
        for place in range(first + 1, sets.starts[number + 1]):
            task, other = order[place], place
            while other > first and share[order[other - 1]] > share[task]:
                order[other] = order[other - 1]
                other -= 1
            order[other] = task


@inner
def worth(sets: Sets, standing: Standing) -> float:
    """What all that is gathered is worth."""
    stand(sets, standing)
    total, progress = 0.0, 0.0
    for task in range(len(standing.gathered)):
        in_set = sets.of_task[task] >= 0
        total += standing.gathered[task] * (1.0 - sets.balance if in_set else 1.0)
    for number in range(len(sets.half)):
        left = sets.half[number]
        for place in range(sets.starts[number], sets.starts[number + 1]):
            task = standing.order[place]
            part = min(sets.wanted[task], left)
            progress += part * standing.share[task]
            left -= part
    return total + 2.0 * sets.balance * progress - sets.nothing


@inner
def worth_of_more(sets: Sets, standing: Standing, task: int, more: float) -> float:
    """By how much the worth grows where so much more profit of one task is gathered."""
    number = sets.of_task[task]
    if number < 0 or more <= 0.0:
        return more
    whole, at, left, progress = sets.wanted[task], standing.share[task], sets.half[number], 0.0
    until = min(1.0, at + more / whole)
    for place in range(sets.starts[number], sets.starts[number + 1]):
        other = standing.order[place]
        if other == task:
            continue
        share = standing.share[other]
        if share > at:
            reach = min(share, until)
            progress += min(left, whole) * (reach - at)
            at = reach
            if at >= until:
                break
        left -= sets.wanted[other]
        if left <= 0.0:
            break
    if left > 0.0 and at < until:
        progress += min(left, whole) * (until - at)
    return (1.0 - sets.balance) * more + 2.0 * sets.balance * progress


@inner
def more_to_level(sets: Sets, standing: Standing, task: int) -> float:
    """Profit that a task may still gather until a frame of it is worth less than the next one is now.

    No end of it where that is never so, or where the task is beyond the slowest half already.
    """
    number = sets.of_task[task]
    if number < 0:
        return 1e18
    whole, at, left = sets.wanted[task], standing.share[task], sets.half[number]
    for place in range(sets.starts[number], sets.starts[number + 1]):
        other = standing.order[place]
        if other == task:
            continue
        fewer = left - sets.wanted[other]
        if standing.share[other] > at and fewer < whole:
            return float((standing.share[other] - at) * whole)
        left = fewer
        if left <= 0.0:
            break
    return 1e18


@inner
def beyond_level(sets: Sets, standing: Standing, task: int) -> float:
    """Profit of a task beyond the share at which the slowest half of its set ends."""
    number = sets.of_task[task]
    if number < 0:
        return 0.0
    left, level = sets.half[number], 0.0
    for place in range(sets.starts[number], sets.starts[number + 1]):
        level = standing.share[standing.order[place]]
        left -= sets.wanted[standing.order[place]]
        if left <= 0.0:
            break
    return float((standing.share[task] - level) * sets.wanted[task])
