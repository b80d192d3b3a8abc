"""Work beside the main thread: its error comes out once, and it is told to stop only while it goes on."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import numpy as np
import pytest

from optimizer.packing.background import Background
from optimizer.packing.budget import Budget
from optimizer.packing.incumbent import Incumbent
from optimizer.packing.parameters import MultiStartParameters
from optimizer.packing.plan import Plan
from optimizer.packing.search.construct import constructed
from optimizer.packing.search.multi_start import MultiStart
from tests.support.packing_random import crowded


class WorkError(Exception):
    """What goes wrong in the work."""


class Breaks:
    """A search whose turn breaks down in one of two threads, while the other one goes on."""

    def __init__(self) -> None:
        self.turns, self.lock = 0, threading.Lock()

    def work_of_try(self, plan: Plan) -> float:
        return 1.0

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        with self.lock:
            self.turns += 1
            if self.turns == 3:
                raise WorkError
        time.sleep(0.001)
        return plan


def broken() -> None:
    raise WorkError


@pytest.mark.parametrize("beside", [True, False])
def test_an_error_of_the_work_comes_out_at_the_end_of_the_block(beside: bool) -> None:
    reached = []
    with pytest.raises(WorkError), Background(broken, lambda: None, beside=beside) as working:  # noqa: PT012
        assert working.wait(5.0)
        reached.append(working.is_over)
    assert reached == [True]


def test_an_error_of_the_block_comes_before_one_of_the_work() -> None:
    with pytest.raises(KeyError), Background(broken, lambda: None):
        raise KeyError


def test_an_error_in_one_of_two_threads_ends_the_search_and_comes_out() -> None:
    problem = crowded()
    start, threads = constructed(problem), threading.active_count()
    parameters = MultiStartParameters(most_threads=2, most_in_vain=50)
    search = MultiStart(Breaks(), Incumbent(problem, problem.most_profit), parameters)
    with pytest.raises(WorkError):
        search.improve(start, Budget(30.0, deterministic=False), np.random.default_rng(1))
    assert threading.active_count() == threads


@pytest.mark.parametrize("work", [lambda: None, broken])
def test_work_that_is_over_is_not_told_to_stop(work: Callable[[], None]) -> None:
    """To stop it would end what else shares its budget; its thread may take a moment to end."""
    stopped: list[bool] = []

    class Lingering(Background[None]):
        def _run(self) -> None:
            super()._run()
            time.sleep(0.05)

    def block() -> None:
        with Lingering(work, lambda: stopped.append(True)) as working:
            while not working.is_over:
                time.sleep(0.001)

    if work is broken:
        with pytest.raises(WorkError):
            block()
    else:
        block()
    assert stopped == []
