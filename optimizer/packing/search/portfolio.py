"""Searches that take turns on the best plans, side by side: which goes on from which plan is drawn.

A few of the best plans of different profit are kept; each turn of a search begins at one of them, drawn at
random, so that one plan that leads nowhere does not hold up the rest.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer import ctrl_c
from optimizer.packing.background import Background
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.protocol import Search

MOST_PLANS = 4  # the best of different profit, at which searches begin
MOST_IN_VAIN = 200  # turns on end that bring nothing better
LONGEST = 0.1  # share of the time that one turn may take
MOST_SIDE_BY_SIDE = 2


@dataclass(frozen=True)
class Turns:
    """A search of the portfolio: how often its turn comes, and of how many tries a turn is drawn."""

    search: Search
    share: float
    tries: tuple[int, ...]


class Portfolio:
    """A search made of others; `incumbent` hears of each better plan and says when one is good enough."""

    def __init__(self, turns: Sequence[Turns], incumbent: Incumbent) -> None:
        """Take the searches with their shares; those whose share is 0 are left out."""
        self._turns = [each for each in turns if each.share > 0]
        shares = np.array([each.share for each in self._turns])
        self._shares = shares / shares.sum() if self._turns else shares
        self._incumbent, self._lock = incumbent, threading.Lock()

    def work_of_try(self, plan: Plan) -> float:
        """As much as the cheapest try of its searches."""
        return min((each.search.work_of_try(plan) for each in self._turns), default=np.inf)

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Let the searches take turns until the budget is over, the plan is near the bound, or all is vain.

        With a deterministic budget one turn follows the other, else two go on side by side.
        """
        if not self._turns:
            return plan
        self._in_vain, self._plans = 0, [(profit_of(self._incumbent.problem, plan), plan)]
        count = 1 if budget.deterministic else min(MOST_SIDE_BY_SIDE, os.cpu_count() or 1)
        if count == 1:
            self._take_turns(budget, rng)
        else:
            with ExitStack() as all_of_them:
                for one in rng.spawn(count):
                    work = partial(self._take_turns, budget, one)
                    beside = all_of_them.enter_context(Background(work, budget.stop))
                beside.wait()
            ctrl_c.heed()
        return self._plans[0][1]

    def _take_turns(self, budget: Budget, rng: np.random.Generator) -> None:
        while not (budget.is_over or self._incumbent.is_near or self._in_vain >= MOST_IN_VAIN):
            if budget.deterministic:
                ctrl_c.heed()
            with self._lock:
                turn = self._turns[int(rng.choice(len(self._turns), p=self._shares))]
                start = self._plans[int(rng.integers(len(self._plans)))][1]
                most = int(rng.choice(turn.tries)) * turn.search.work_of_try(start)
                part = budget.part(LONGEST, most)
            self._keep(turn.search.improve(start, part, rng))
            with self._lock:
                budget.spend(part.work)

    def _keep(self, plan: Plan) -> None:
        profit = profit_of(self._incumbent.problem, plan)
        with self._lock:
            self._in_vain = 0 if profit > self._plans[0][0] else self._in_vain + 1
            if plan and all(profit != other for other, _ in self._plans):
                self._plans = sorted([*self._plans, (profit, plan)], key=lambda each: -each[0])[:MOST_PLANS]
        self._incumbent.offer(plan)
