"""A good plan early: runs put in by the second, in a thread beside the first bound, or for a while before it.

Not where times make the worth: runs that lie as soon as may be say little there, and a bound needs the time.
"""

from __future__ import annotations

import threading
from types import TracebackType

import numpy as np

from optimizer import ctrl_c
from optimizer.packing.bound import WORK_PER_SECOND
from optimizer.packing.choice import Choice
from optimizer.packing.first_plan import plan_along
from optimizer.packing.graph import NightGraph
from optimizer.packing.insertion import Insertions
from optimizer.packing.layout import worth_of
from optimizer.packing.relaxation import Relaxation

STEP_S = 60  # of the grid on which worths are looked up
BEAR = 0.003  # of the worth, that a try may lose
TRIES = 1000  # of each search: from the best plan so far it begins anew
SHARE = 0.1  # of the time at most, for what is done before all else
MOST_IN_VAIN = 3  # searches on end, of these


class Opening:
    """Within its `with` block a plan grows better in a thread of its own; `plan` is the best so far.

    `worth`: of it, or of one a little worse.
    """

    def __init__(self, graph: NightGraph, start: Choice, seconds: float, *, counted: bool) -> None:
        """`counted`: all is done now and nothing beside, so that all runs give the same."""
        self.plan, self.problem = start, graph.problem
        self.worth = worth_of(graph.problem, start)
        idle = not graph.entries or graph.problem.by_depth
        self._insertions = None if idle else Insertions(Relaxation(graph, STEP_S))
        self._halt = np.zeros(1, dtype=np.bool_)
        self._left = seconds * WORK_PER_SECOND
        self._seed = self.problem.request.aim.seed
        self._thread = None if counted else threading.Thread(target=self._beside, daemon=True)
        if counted:
            self._before()

    def _before(self) -> None:
        least, in_vain = (1.0 - SHARE) * self._left, 0
        while self._left > least and in_vain < MOST_IN_VAIN and self._wants_more() and not ctrl_c.presses():
            in_vain = 0 if self._search(self._left - least) else in_vain + 1

    def _beside(self) -> None:
        while self._left > 0 and not self._halt[0] and self._wants_more():
            self._search(self._left)

    def _wants_more(self) -> bool:
        return self._insertions is not None and self.worth < self.problem.most_worth

    def _search(self, work: float) -> bool:
        """Search once, for so much work at most; whether the plan got better."""
        assert self._insertions is not None
        of_try = self._insertions.work(self.plan)
        tries = int(max(1.0, min(TRIES, work / of_try)))
        path = self._insertions.improved(self.plan, tries, BEAR, self._seed, self._halt)
        self._left -= tries * of_try
        self._seed += 1
        plan = () if path is None else plan_along(self.problem, path)
        worth = worth_of(self.problem, plan)
        better = worth > self.worth
        if better:
            self.plan, self.worth = plan, worth
        return better

    def __enter__(self) -> Opening:
        """Begin."""
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End it, whether or not it is done."""
        self._halt[0] = True
        if self._thread is not None:
            self._thread.join()
