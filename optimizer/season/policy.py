"""Policies for tonight, and what comes of them: sampled seasons, each clear night planned as its policy says.

A policy says by which factors frames count tonight, from what is in hand and which night it is. It never
knows which of the later nights will be clear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from optimizer.season.coarse import Paths, mixed
from optimizer.season.gathered import GatheredLaw
from optimizer.season.projects import Floats, Ints
from optimizer.season.weather import Bools

COMPLETE = 0.999  # of a goal: mixtures come near to it
NEVER, BEFORE = -1, -2  # in place of the number of a night


@dataclass(eq=False)
class State:
    """Where sampled seasons stand: frames and weighted seconds in hand, [seasons, goals], and their numbers."""

    frames: Floats
    reached_s: Floats
    numbers: Ints

    def of(self, rows: Ints) -> State:
        """Some of the seasons."""
        return State(self.frames[rows], self.reached_s[rows], self.numbers[rows])


class Policy(Protocol):
    """How a clear night is planned."""

    law: GatheredLaw  # by which the night's plan is made

    def factors(self, night: int, state: State, wanted: Floats) -> Floats | float:
        """By how much a frame of each goal counts more tonight, [seasons, goals] or [goals]."""

    def in_view_s(self, night: int, state: State) -> Floats:
        """Weighted seconds taken as in hand beside those that are, [seasons, goals] or 0."""


@dataclass(frozen=True, eq=False)
class Simulated:
    """Sampled seasons at their end: the state, and the night on which each goal was complete.

    `finished` [seasons, goals] is the number of a night, `NEVER` or `BEFORE` the season. `slopes` and
    `lefts` [nights, looks, goals] tell what a second was worth and which frames were left, at some states met.
    """

    state: State
    finished: Ints
    worths: Floats
    lefts: Ints


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
    finished = np.where(state.frames >= COMPLETE * wanted, BEFORE, NEVER)
    worths, lefts = np.zeros((len(pools), 2 * looks, goals)), np.zeros((len(pools), 2 * looks, goals), np.int64)
    for number, pool in enumerate(pools):
        rows = np.flatnonzero(clear[:, number])
        if not len(rows):
            continue
        own = state.of(rows)
        left = np.maximum(0.0, wanted - own.frames)
        factors = policy.factors(number, own, wanted)
        reached = own.reached_s + policy.in_view_s(number, own)
        frames, gathered, slope = mixed(pool, policy.law, reached, left, factors)
        if looks:
            some = np.linspace(0, len(rows) - 1, looks).astype(int)
            first = policy.law.slope(reached, factors) * factors * (left > 0)
            worths[number] = np.concatenate([first[some], slope[some]])
            lefts[number] = np.concatenate([np.ceil(left[some])] * 2)
        state.frames[rows] += frames
        state.reached_s[rows] += gathered
        ends = (finished[rows] == NEVER) & (state.frames[rows] >= COMPLETE * wanted)
        finished[rows] = np.where(ends, number, finished[rows])
    return Simulated(state, finished, worths, lefts)


class ScarceHours:
    """Scarce hours first: factors by hours ahead, over each night's own span, to a power.

    `hours` [nights, goals] are counted from each night on. With an exponent of 0 all frames count as their
    targets' weights say.
    """

    name = "scarce hours"

    def __init__(self, law: GatheredLaw, hours: Floats, exponent: float) -> None:
        self.law, self.hours, self.exponent = law, hours, exponent

    def factors(self, night: int, state: State, wanted: Floats) -> Floats | float:
        """The median of the goals still wanted, by each goal's hours, to the power."""
        hours = self.hours[night]
        open_ = (hours > 0) & (state.frames < COMPLETE * wanted)
        least = np.maximum(1.0, hours)
        with np.errstate(all="ignore"):
            median = np.array([np.median(least[row]) if row.any() else 1.0 for row in open_])
        factors = np.clip((median[:, None] / least) ** self.exponent, 0.001, 1000.0)
        return np.where(hours > 0, factors, 1.0)

    def in_view_s(self, night: int, state: State) -> Floats:
        """Nothing."""
        return np.zeros(1)
