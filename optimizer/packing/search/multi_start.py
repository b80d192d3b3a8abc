"""A search begun again and again from one of the best plans so far, in two threads where that is allowed.

A few of the best plans of different profit are kept (an elite set); each turn begins at one of them, drawn at
random, so that one plan that leads nowhere does not hold up the rest.
"""

from __future__ import annotations

import os
import threading
from contextlib import ExitStack
from functools import partial

import numpy as np

from optimizer import ctrl_c
from optimizer.packing.background import Background
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.parameters import DEFAULT, MultiStartParameters
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.protocol import TriedSearch


class MultiStart:
    """A search made of many short ones.

    The incumbent hears of each better plan and says when one is as near to the bound as is asked.
    """

    def __init__(
        self, search: TriedSearch, incumbent: Incumbent, parameters: MultiStartParameters = DEFAULT.turns
    ) -> None:
        """Take the search whose turns these are; several threads call it at once."""
        self._search, self._incumbent, self._parameters = search, incumbent, parameters
        self.in_vain = False  # whether turns that brought nothing better have ended the latest search

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Take turns until the budget is over, the plan is near the bound, or turns go on in vain.

        With a deterministic budget one turn follows the other, else two go on side by side, and those that
        take longer than was thought are halted, with whatever else shares the budget, when its time is over.
        """
        elite = _Elite(self._incumbent, plan, self._parameters)
        if budget.deterministic:
            self._take_turns(elite, budget, rng)
            self.in_vain = elite.is_in_vain
            return elite.best
        threads = min(self._parameters.most_threads, os.cpu_count() or 1)
        with ExitStack() as block:
            works = [partial(self._take_turns, elite, budget, one) for one in rng.spawn(threads)]
            beside = [block.enter_context(Background(work, budget.stop)) for work in works]
            for each in beside:  # all of them: to stop one would end whatever else shares the budget
                each.wait(budget.left_s)
        ctrl_c.heed()
        self.in_vain = elite.is_in_vain
        return elite.best

    def _take_turns(self, elite: _Elite, budget: Budget, rng: np.random.Generator) -> None:
        parameters = self._parameters
        tries = parameters.tries_by_depth if self._incumbent.problem.by_time else parameters.tries
        while not (budget.is_over or self._incumbent.is_near or elite.is_in_vain):
            ctrl_c.heed()
            start = elite.drawn(rng)
            most_work = int(rng.choice(tries)) * self._search.work_of_try(start)
            turn = budget.part(parameters.longest_turn, most_work)
            elite.add(self._search.improve(start, turn, rng))
            with elite.lock:
                budget.spend(turn.work)


class _Elite:
    """The best plans of different profit, and how many turns on end brought no better one."""

    def __init__(self, incumbent: Incumbent, plan: Plan, parameters: MultiStartParameters) -> None:
        self._incumbent, self._parameters = incumbent, parameters
        self._plans = [(profit_of(incumbent.problem, plan), plan)]
        self._in_vain, self.lock = 0, threading.Lock()

    @property
    def is_in_vain(self) -> bool:
        return self._in_vain >= self._parameters.most_in_vain

    @property
    def best(self) -> Plan:
        return self._plans[0][1]

    def drawn(self, rng: np.random.Generator) -> Plan:
        plans = self._plans  # `add` puts another list in its place
        return plans[int(rng.integers(len(plans)))][1]

    def add(self, plan: Plan) -> None:
        profit = profit_of(self._incumbent.problem, plan)
        with self.lock:
            self._in_vain = 0 if profit > self._plans[0][0] else self._in_vain + 1
            if all(profit != other for other, _ in self._plans):
                plans = [*self._plans, (profit, plan)]
                self._plans = sorted(plans, key=lambda each: -each[0])[: self._parameters.most_plans]
        self._incumbent.offer(plan)
