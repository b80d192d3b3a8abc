"""Ctrl-C after and during the solver, in processes of their own."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.support.speeds import deep

pytestmark = deep

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


@pytest.mark.parametrize(
    ("code", "told"), [(AFTER, "False\nheard\n"), (DURING, "True True\n")], ids=["after", "during"]
)
def test_interrupt_is_heard_and_kills_nothing(code: str, told: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", SOLVE + code], capture_output=True, text=True, timeout=120, check=False
    )
    assert (done.stdout, done.returncode) == (told, 0), done.stderr
