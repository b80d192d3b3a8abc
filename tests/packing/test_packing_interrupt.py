"""Ctrl-C after and during the solver, in processes of their own, and while the bound is made tighter."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

import pytest

from optimizer import ctrl_c
from optimizer.packing import phases
from optimizer.packing.bound.bounds import NightBound
from optimizer.packing.parameters import SearchParameters
from optimizer.packing.solve import solve
from tests.support.packing_random import crowded
from tests.support.speeds import deep

SOLVE = """
import os, signal, sys, threading, time
from ortools.sat.python import cp_model
from optimizer.packing.model.interruptible import run_solver

def solver():
    found = cp_model.CpSolver()
    found.parameters.num_workers = 2
    found.parameters.max_time_in_seconds = 60
    return found

easy = cp_model.CpModel()
easy.maximize(easy.new_int_var(0, 5, "x"))
"""
AFTER = """
print(run_solver(solver(), easy)[1])
try:
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(5)
except KeyboardInterrupt:
    print("heard")
"""
# a hard one: no two of many numbers may differ by the same, and the last shall be least (Golomb 1972)
DURING = """
marks = [hard.new_int_var(0, 400, "") for _ in range(16)] if (hard := cp_model.CpModel()) else []
for one, two in zip(marks, marks[1:]):
    hard.add(one < two)
hard.add_all_different([two - one for n, one in enumerate(marks) for two in marks[n + 1 :]])
hard.minimize(marks[-1])
signals = [threading.Timer(after, os.kill, (os.getpid(), signal.SIGINT)) for after in (2.0, 2.1)]
for each in signals:
    each.start()
began = time.monotonic()
print(run_solver(solver(), hard)[1], time.monotonic() - began < 30)
"""


@deep
@pytest.mark.parametrize(
    ("code", "told"), [(AFTER, "False\nheard\n"), (DURING, "True True\n")], ids=["after", "during"]
)
def test_interrupt_is_heard_and_kills_nothing(code: str, told: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", SOLVE + code], capture_output=True, text=True, timeout=120, check=False
    )
    assert (done.stdout, done.returncode) == (told, 0), done.stderr


def test_ctrl_c_ends_a_tighter_bound_that_comes_before_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """With one worker the bound has its share of the time first, in the main thread."""
    asked: list[int] = []

    def bounds(graph: object, found: NightBound, *_: object) -> Iterator[NightBound]:
        for number in range(50):
            asked.append(number)
            yield found

    monkeypatch.setattr(phases, "tighter_bounds", bounds)
    monkeypatch.setattr(ctrl_c, "presses", lambda: int(len(asked) > 1))
    problem = crowded(workers=1, gap=0.0, time_limit_s=2.0)
    solution = solve(problem, parameters=SearchParameters(constraint_model=False))
    assert solution.status == "stopped"
    assert asked == [0, 1]
