"""The compiled loops of a choice: one plan of each night, by what all of them are worth together.

Each night has some plans, of which one is chosen; of a goal no more counts than is left, and what is too much
may cost. The choice climbs night by night, is changed in a few nights at random, and climbs again (iterated
local search).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import Floats, Ints, compiled, copy_all, inner
from optimizer.packing.search.set_loops import Sets

LEAST_GAIN = 1e-9  # of the value: less is rounding


class Choices(NamedTuple):
    """The plans of all nights, one after the other, and the goals that each of them serves.

    `frames` and `gathered` (profit) of the entries are weighted by the odds of the plan's night.
    """

    nights: Ints  # [nights + 1], where the plans of each begin
    plans: Ints  # [plans + 1], where the entries of each begin
    goal: Ints  # [entries]
    frames: Floats
    gathered: Floats
    left: Floats  # [goals] frames
    plain: Floats  # [goals] what profit counts by itself
    sets: Sets
    beyond: float  # what each frame too much costs, as a share of the mean profit of a frame


class Totals(NamedTuple):
    """What a choice comes to; `share` and `order` are room to work in, as long as the largest set."""

    frames: Floats  # [goals]
    gathered: Floats  # [goals]
    counted: Floats  # [goals] profit within what is left
    progress: Floats  # [sets]
    share: Floats
    order: Ints
    seen: Ints  # [sets] the latest turn in which each was looked at
    turn: Ints  # [1]

    @classmethod
    def of(cls, choices: Choices) -> Totals:
        """Room for what a choice comes to."""
        goals, sets = len(choices.left), len(choices.sets.half)
        size = int(np.diff(choices.sets.starts).max(initial=1))
        return cls(
            frames=np.zeros(goals),
            gathered=np.zeros(goals),
            counted=np.zeros(goals),
            progress=np.zeros(sets),
            share=np.zeros(size),
            order=np.zeros(size, dtype=np.int64),
            seen=np.zeros(sets, dtype=np.int64),
            turn=np.zeros(1, dtype=np.int64),
        )


@inner
def _counted(frames: float, gathered: float, left: float, beyond: float) -> float:
    return gathered if frames <= left else gathered * (left - beyond * (frames - left)) / frames


@inner
def _progress(sets: Sets, totals: Totals, number: int) -> float:
    """How far the slowest half of a set is, in profit."""
    share, order, size = totals.share, totals.order, 0
    for place in range(sets.starts[number], sets.starts[number + 1]):
        goal = sets.members[place]
        mine = min(1.0, (sets.in_hand[goal] + totals.counted[goal]) / sets.wanted[goal])
        other = size
        while other > 0 and share[other - 1] > mine:
            share[other], order[other] = share[other - 1], order[other - 1]
            other -= 1
        share[other], order[other] = mine, goal
        size += 1
    left, progress = sets.half[number], 0.0
    for place in range(size):
        part = min(sets.wanted[order[place]], left)
        progress += part * share[place]
        left -= part
    return progress


@inner
def _put(choices: Choices, totals: Totals, plan: int, sign: float) -> float:
    """Take a plan in (1) or out (-1); by how much the worth changes."""
    sets, change = choices.sets, 0.0
    totals.turn[0] += 1
    for entry in range(choices.plans[plan], choices.plans[plan + 1]):
        goal = choices.goal[entry]
        totals.frames[goal] += sign * choices.frames[entry]
        totals.gathered[goal] += sign * choices.gathered[entry]
        before = totals.counted[goal]
        totals.counted[goal] = _counted(
            totals.frames[goal], totals.gathered[goal], choices.left[goal], choices.beyond
        )
        change += choices.plain[goal] * (totals.counted[goal] - before)
    for entry in range(choices.plans[plan], choices.plans[plan + 1]):
        number = sets.of_task[choices.goal[entry]]
        if number >= 0 and totals.seen[number] != totals.turn[0]:
            totals.seen[number] = totals.turn[0]
            progress = _progress(sets, totals, number)
            change += 2.0 * sets.balance * (progress - totals.progress[number])
            totals.progress[number] = progress
    return change


@inner
def _gain(choices: Choices, totals: Totals, plan: int) -> float:
    """By how much the worth would grow with one more plan."""
    sets, gain = choices.sets, 0.0
    first, after = choices.plans[plan], choices.plans[plan + 1]
    for entry in range(first, after):
        goal = choices.goal[entry]
        frames = totals.frames[goal] + choices.frames[entry]
        gathered = totals.gathered[goal] + choices.gathered[entry]
        counted = _counted(frames, gathered, choices.left[goal], choices.beyond)
        gain += choices.plain[goal] * (counted - totals.counted[goal])
        totals.counted[goal] = counted
    totals.turn[0] += 1
    for entry in range(first, after):
        number = sets.of_task[choices.goal[entry]]
        if number >= 0 and totals.seen[number] != totals.turn[0]:
            totals.seen[number] = totals.turn[0]
            gain += 2.0 * sets.balance * (_progress(sets, totals, number) - totals.progress[number])
    for entry in range(first, after):
        goal = choices.goal[entry]
        totals.counted[goal] = _counted(
            totals.frames[goal], totals.gathered[goal], choices.left[goal], choices.beyond
        )
    return gain


@inner
def _stand(choices: Choices, totals: Totals, choice: Ints) -> float:
    """Fill in what a choice comes to; its worth."""
    sets, total = choices.sets, 0.0
    for goal in range(len(totals.frames)):
        totals.frames[goal], totals.gathered[goal], totals.counted[goal] = 0.0, 0.0, 0.0
    for number in range(len(totals.progress)):
        totals.progress[number] = _progress(sets, totals, number)
        total += 2.0 * sets.balance * totals.progress[number]
    for night in range(len(choice)):
        total += _put(choices, totals, choice[night], 1.0)
    return total - sets.nothing


@inner
def _climb(choices: Choices, totals: Totals, choice: Ints) -> float:
    """Choose night by night what is best beside all others, until no night has a better plan; the worth."""
    value, since, night = _stand(choices, totals, choice), 0, 0
    while since < len(choice):
        mine = choice[night]
        lost = -_put(choices, totals, mine, -1.0)
        best, most = mine, lost + LEAST_GAIN * (abs(value) + 1.0)
        for plan in range(choices.nights[night], choices.nights[night + 1]):
            gain = _gain(choices, totals, plan)
            if gain > most:
                best, most = plan, gain
        value += _put(choices, totals, best, 1.0) - lost
        since = 1 if best != mine else since + 1
        choice[night], night = best, (night + 1) % len(choice)
    return value


@compiled
def choose(
    choices: Choices, totals: Totals, choice: Ints, kicks: int, most_kicked: int, threshold: float, seed: int
) -> float:
    """Make a choice (a plan of each night, [nights]) as good as so many kicks make it; what it is worth.

    A kick changes two nights or more, at most `most_kicked`. One that costs less than a share of the value,
    which falls from `threshold` to none, is gone on from.
    """
    np.random.seed(seed)
    value = _climb(choices, totals, choice)
    at, other = np.empty_like(choice), np.empty_like(choice)
    copy_all(choice, at)
    best, stands = value, value
    for kick in range(kicks):
        copy_all(at, other)
        for _ in range(2 + int(np.random.random() * (most_kicked - 1))):
            night = int(np.random.random() * len(other))
            size = choices.nights[night + 1] - choices.nights[night]
            other[night] = choices.nights[night] + int(np.random.random() * size)
        value = _climb(choices, totals, other)
        if value > stands - threshold * (1.0 - (kick + 1) / kicks) * abs(best):
            copy_all(other, at)
            stands = value
        if value > best * (1.0 + LEAST_GAIN):
            copy_all(other, choice)
            best = value
    return best
