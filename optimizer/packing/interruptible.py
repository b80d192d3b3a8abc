"""The solver run so that Ctrl-C ends it and nothing else.

Left to itself the solver takes the signal over and, when it is done, leaves the process with no handler at
all: the next Ctrl-C would kill it, plan and all. So the solver runs in a thread of its own, while this one
waits and hears the signal as Python means it, thrown or counted.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from ortools.sat.python import cp_model

from optimizer import ctrl_c


@ctrl_c.counted()
def run_solver(
    solver: cp_model.CpSolver,
    model: cp_model.CpModel,
    watch: cp_model.CpSolverSolutionCallback | None = None,
) -> tuple[cp_model.CpSolverStatus, bool]:
    """The solver's status, and whether Ctrl-C ended the search; what it has found by then is in `solver`."""
    solver.parameters.catch_sigint_signal = False
    stopped = False
    with ThreadPoolExecutor(max_workers=1) as thread:
        running = thread.submit(solver.solve, model, watch)
        while True:
            try:
                return running.result(timeout=ctrl_c.POLL_S), stopped
            except TimeoutError:
                stopped = stopped or ctrl_c.presses() > 0
                if stopped:  # said again until heard: it may not have begun when it was said first
                    solver.stop_search()
            except KeyboardInterrupt:
                stopped = True
