"""The best plan and the least bound known so far, shared by all that look for better ones side by side."""

from __future__ import annotations

import threading
from collections.abc import Callable

from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of
from optimizer.problem import Problem

Hear = Callable[[int, int], None]  # profit and bound, in units of profit


class Incumbent:
    """What a search stands at: a plan with its profit, and a bound that no plan exceeds.

    Threads offer plans and bounds as they find them; `hear` is told of each better one, in whatever thread
    that is.
    """

    def __init__(self, problem: Problem, bound: int, hear: Hear | None = None) -> None:
        """Begin with the empty plan."""
        self.problem, self.plan, self.profit, self.bound = problem, Plan(), 0, bound
        self._hear, self._lock = hear, threading.RLock()

    @property
    def is_near(self) -> bool:
        """Whether the plan is as near to the bound as the request asks."""
        return self.problem.near(self.profit, self.bound)

    def offer(self, plan: Plan) -> bool:
        """Take a plan if it is better; whether it is. Raises DoesNotFit where it breaks a rule."""
        profit = profit_of(self.problem, plan)
        with self._lock:
            better = profit > self.profit
            if better:
                self.plan, self.profit = plan, profit
                self.tell()
        return better

    def limit(self, bound: int) -> None:
        """Take a bound if it is lower."""
        with self._lock:
            if bound < self.bound:
                self.bound = bound
                self.tell()

    def tell(self) -> None:
        """Say what there is, better or not."""
        if self._hear is not None:
            self._hear(self.profit, self.bound)
