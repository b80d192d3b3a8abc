"""Policies for tonight, and what comes of them: sampled seasons, each clear night planned as its policy says.

A policy says by which factors frames count tonight, from what is in hand and which night it is. It never
knows which of the later nights will be clear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from optimizer.ahead.factors import LEAST_FACTOR, LEAST_H, MOST_FACTOR
from optimizer.season.coarse import Paths, mixed
from optimizer.season.gathered import GatheredLaw
from optimizer.season.projects import Floats, Ints, Projects
from optimizer.season.weather import Bools

PolicyName = Literal["scarce hours", "own weights"]
LACKING = 0.5  # of a frame: a goal that lacks less is complete, as mixtures only come near to it
NEVER, BEFORE = -1, -2  # in place of the number of a night


@dataclass(eq=False)
class State:
    """Where sampled seasons stand: frames and weighted seconds in hand, [seasons, goals].

    `numbers` [seasons] tells which of the sampled seasons they are.
    """

    frames: Floats
    reached_s: Floats
    numbers: Ints

    def of(self, rows: Ints) -> State:
        """Some of the seasons."""
        return State(self.frames[rows], self.reached_s[rows], self.numbers[rows])


class Policy(Protocol):
    """How a clear night is planned."""

    law: GatheredLaw  # by which the night's plan is made

    def factors(self, night: int, state: State, wanted: Floats) -> Floats:
        """By how much a frame of each goal counts more tonight, [seasons, goals]."""


@dataclass(frozen=True, eq=False)
class Simulated:
    """Sampled seasons at their end: the state, and the night on which each goal was complete.

    `finished` [seasons, goals] is the number of a night, `NEVER` or `BEFORE` the season. `worths` and
    `lefts`, [states, tasks] for each night, tell what a second was worth and which frames were left in some
    of the states met.
    """

    state: State
    finished: Ints
    worths: tuple[Floats, ...]
    lefts: tuple[Ints, ...]


def wanted_of(projects: Projects) -> Floats:
    """Frames wanted of each goal, [goals]."""
    return np.array([float(goal.wanted) for goal in projects.goals])


def start_of(law: GatheredLaw) -> State:
    """What is in hand before the season, as the state of one."""
    return State(law.done_s[None] / law.frame_s, law.done_s[None], np.zeros(1, dtype=np.int64))


def last_night(finished: Ints) -> Ints:
    """The night on which the last of some goals was complete, [seasons]; `NEVER` where one never is."""
    return np.where((finished == NEVER).any(axis=1), NEVER, finished.max(axis=1, initial=BEFORE))


def finish_share(finished: Ints) -> float:
    """In what share of the seasons some goals are all complete."""
    return float(np.mean(last_night(finished) != NEVER))


def complete(frames: Floats, wanted: Floats) -> Bools:
    """Whether goals lack less than half a frame."""
    return np.asarray(frames > wanted - LACKING)


def frames_left(frames: Floats, wanted: Floats) -> Floats:
    """Frames that goals lack, none where they are complete."""
    return np.where(complete(frames, wanted), 0.0, wanted - frames)


def simulated(
    pools: Sequence[Paths],
    clear: Bools,
    policy: Policy,
    wanted: Floats,
    start: State,
    looks: int = 0,
) -> Simulated:
    """Let a policy plan every clear night of sampled seasons, [seasons, nights].

    `start` is the state of one season, [1, goals], or of each. With `looks`, so many states of each night are
    kept, for more paths to be found there (twice each: before the night and at its end).
    """
    seasons, goals = len(clear), len(wanted)
    state = State(
        np.broadcast_to(start.frames, (seasons, goals)).copy(),
        np.broadcast_to(start.reached_s, (seasons, goals)).copy(),
        np.arange(seasons),
    )
    finished = np.where(complete(state.frames, wanted), BEFORE, NEVER)
    worths = [np.zeros((2 * looks, pool.frames.shape[1])) for pool in pools]
    lefts = [np.zeros(each.shape, dtype=np.int64) for each in worths]
    for number, pool in enumerate(pools):
        rows = np.flatnonzero(clear[:, number])
        if not len(rows):
            continue
        own = state.of(rows)
        left = frames_left(own.frames, wanted)
        factors = policy.factors(number, own, wanted)
        frames, gathered, slope = mixed(pool, policy.law, own.reached_s, left, factors)
        if looks:
            some = np.linspace(0, len(rows) - 1, looks).astype(int)
            first = policy.law.slope(own.reached_s, factors) * factors * (left > 0)
            tasks = np.arange(goals) if pool.goals is None else pool.goals
            worths[number][:] = np.concatenate([first[some], slope[some]])[:, tasks]
            lefts[number][:] = np.concatenate([np.ceil(left[some])] * 2)[:, tasks]
        state.frames[rows] += frames
        state.reached_s[rows] += gathered
        ends = (finished[rows] == NEVER) & complete(state.frames[rows], wanted)
        finished[rows] = np.where(ends, number, finished[rows])
    return Simulated(state, finished, tuple(worths), tuple(lefts))


class ScarceHours:
    """Scarce hours first, as a night is planned by itself: factors by hours ahead, to a power.

    With a power of 0 frames count as the weights of their targets say.
    """

    def __init__(self, law: GatheredLaw, ahead_h: Floats, power: float) -> None:
        """Take the hours ahead of each goal as they are counted on each night, [nights, goals]."""
        self.law, self.ahead_h, self.power = law, ahead_h, power

    @property
    def name(self) -> PolicyName:
        """What the policy is called."""
        return "scarce hours" if self.power else "own weights"

    def factors(self, night: int, state: State, wanted: Floats) -> Floats:
        """The median hours of the goals still wanted by each goal's own, to the power, [seasons, goals]."""
        hours = self.ahead_h[night]
        least_h = np.maximum(LEAST_H, hours)
        counted = (hours > 0) & ~complete(state.frames, wanted)
        by_hours = np.sort(np.where(counted, least_h, np.inf), axis=1)
        count = np.maximum(1, counted.sum(axis=1))
        rows = np.arange(len(count))
        median_h = (by_hours[rows, (count - 1) // 2] + by_hours[rows, count // 2]) / 2
        factors = np.where(hours > 0, (median_h[:, None] / least_h) ** self.power, 1.0)
        return np.clip(np.where(np.isfinite(factors), factors, 1.0), LEAST_FACTOR, MOST_FACTOR)
