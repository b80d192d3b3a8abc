"""The solver run so that Ctrl-C ends it and nothing else.

Left to itself the solver takes the signal over and, when it is done, leaves the process with no handler at
all: the next Ctrl-C would kill it, plan and all. So the solver runs in a thread of its own, while this one
waits and hears the signal as Python means it, thrown or counted.
"""

from __future__ import annotations

from collections.abc import Callable

from ortools.sat.python import cp_model

from optimizer import ctrl_c
from optimizer.packing.background import Background


@ctrl_c.counted()
def run_solver(
    solver: cp_model.CpSolver,
    model: cp_model.CpModel,
    watch: cp_model.CpSolverSolutionCallback | None = None,
    until: Callable[[], bool] = lambda: False,
) -> tuple[cp_model.CpSolverStatus, bool]:
    """Solve a model; tell its status, and whether Ctrl-C ended it. The best by then is in `solver`.

    `until` ends it as well, once it says so.
    """
    solver.parameters.catch_sigint_signal = False
    with Background(lambda: solver.solve(model, watch), solver.stop_search) as running:
        over = running.wait(until=until)
    return running.result, not over and ctrl_c.presses() > 0
