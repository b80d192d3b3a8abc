"""Loops that are not on the disk yet are compiled by other processes, or by this one where those cannot."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from numba import njit
from numba.core import event

from optimizer import ctrl_c
from optimizer.packing import compiled, preparation
from optimizer.packing.bound.bounds import NightBound
from optimizer.packing.compiling import COMPILING
from optimizer.packing.model.search import Answer
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.plan import Plan
from optimizer.packing.preparation import Preparation
from optimizer.packing.schedule import profit_of
from optimizer.packing.solve import solve
from optimizer.packing.warming import PARTS, run_loops
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal

FAILS, ENDS, STAYS = "raise SystemExit(1)", "pass", "import time; time.sleep(600)"


@pytest.fixture(autouse=True)
def heeded() -> Iterator[None]:
    """Ctrl-C is heard, whatever shell started the tests."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def cold(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """As on an empty cache; what is returned fills with the parts that this process compiles."""
    parts: list[str] = []
    monkeypatch.setattr(preparation, "_ready", set())
    monkeypatch.setattr(Preparation, "_loaded", lambda _: False)

    def recorded(part: str, *, by_time: bool) -> None:
        parts.append(part)
        run_loops(part, by_time=by_time)

    monkeypatch.setattr(preparation, "run_loops", recorded)
    return parts


def others(monkeypatch: pytest.MonkeyPatch, code: str) -> list[subprocess.Popen[bytes]]:
    """Let this be what the other processes do; what is returned fills with them."""
    started: list[subprocess.Popen[bytes]] = []
    popen = subprocess.Popen

    def recorded(*args: Any, **kwargs: Any) -> subprocess.Popen[bytes]:
        started.append(popen(*args, **kwargs))
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", recorded)
    monkeypatch.setattr(preparation, "_command", lambda part, by_time: [sys.executable, "-S", "-c", code])
    return started


def night(**aim: Any) -> Problem:
    """Far more is wanted than fits, so that no sum says that a plan is the best."""
    spans = {"A": (1000, 4000), "B": (1500, 6000), "C": (3000, 7000), "D": (2000, 6500)}
    places = [Place(name, span, side="east" if name > "B" else "west") for name, span in spans.items()]
    goals = {name: [goal(exposure_s=170, frames=9), goal("R", exposure_s=230, frames=7)] for name in spans}
    return a_problem(places, goals, aim={"time_limit_s": 0.5, "gap": 0.0, "workers": 2, **aim})


@pytest.mark.parametrize("code", [FAILS, ENDS])
def test_what_other_processes_leave_out_is_compiled_here(
    code: str, cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    started, before = others(monkeypatch, code), COMPILING.seconds
    with Preparation(by_time=False) as going:
        assert COMPILING.is_going_on
        assert COMPILING.kept
        going.finish()
    assert len(started) == len(PARTS)
    assert cold == list(PARTS)
    assert not COMPILING.is_going_on
    assert COMPILING.seconds > before
    with Preparation(by_time=False) as going:  # and never again
        assert not COMPILING.is_going_on
        going.finish()
    assert len(started) == len(cold) == len(PARTS)


def no_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "kept_in", lambda: None)


def another_application(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/opt/observatory/control")


def no_interpreter(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/nowhere/python3")


@pytest.mark.parametrize("hinder", [no_folder, another_application, no_interpreter])
def test_without_other_processes_all_is_compiled_here(
    hinder: Callable[[pytest.MonkeyPatch], None], cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    hinder(monkeypatch)
    started = others(monkeypatch, FAILS) if hinder is not no_interpreter else []
    told: list[float] = []
    solution = solve(night(), lambda seconds, value, bound: told.append(value))
    assert started == []
    assert cold == list(PARTS)
    assert solution.profit > 0


def test_the_first_plan_is_told_before_the_loops_are_ready(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    others(monkeypatch, ENDS)
    told: list[tuple[float, bool, int]] = []
    solve(night(), lambda seconds, value, bound: told.append((value, COMPILING.is_going_on, len(cold))))
    value, compiling, parts = told[0]
    assert value > 0
    assert not compiling
    assert parts == 0


def test_ctrl_c_ends_the_waiting_and_the_other_processes_and_keeps_the_plan(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    started = others(monkeypatch, STAYS)
    sleep = time.sleep

    def pressed(seconds: float) -> None:
        signal.raise_signal(signal.SIGINT)
        sleep(seconds)

    monkeypatch.setattr(time, "sleep", pressed)
    solution = solve(night(workers=1))
    assert solution.status == "stopped"
    assert solution.plan
    assert [child.returncode is not None for child in started] == [True] * len(PARTS)
    assert cold == []
    assert not COMPILING.is_going_on


def test_ctrl_c_while_the_constraint_model_searches_beside_the_compiler(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    started = others(monkeypatch, STAYS)
    right: Any = vars(Preparation)["is_going_on"]
    asked: list[int] = []

    def pressed(going: Preparation) -> bool:
        asked.append(1)
        if len(asked) == 2:  # first before the search, then while it waits for the solver
            signal.raise_signal(signal.SIGINT)
        return bool(right.fget(going))

    monkeypatch.setattr(Preparation, "is_going_on", property(pressed))
    solution = solve(night())
    assert solution.status == "stopped"
    assert solution.plan
    assert [child.returncode is not None for child in started] == [True] * len(PARTS)


def test_the_constraint_model_may_prove_a_plan_before_the_loops_are_ready(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    started = others(monkeypatch, STAYS)

    def proven(problem: Problem, start: Plan, *_: object, **__: object) -> Answer:
        return Answer(start, start, profit_of(problem, start), stopped=False)

    monkeypatch.setattr("optimizer.packing.phases.search", proven)
    assert solve(night(), parameters=replace(DEFAULT, ties=False)).status == "optimal"
    assert cold == []
    assert [child.returncode is not None for child in started] == [True] * len(PARTS)


def test_with_one_worker_the_plan_is_the_same_whatever_is_on_the_disk(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    others(monkeypatch, ENDS)
    first = solve(night(workers=1))
    assert cold == list(PARTS)
    second = solve(night(workers=1))
    assert cold == list(PARTS)
    assert (first.plan, first.bound, first.status) == (second.plan, second.bound, second.status)


def test_waiting_for_the_compiler_counts_for_no_limit(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three times the limit is waited for, and the search after it still lowers the bound."""
    others(monkeypatch, "import time; time.sleep(1.5)")
    before, problem = COMPILING.seconds, night()
    solution = solve(problem, parameters=replace(DEFAULT, constraint_model=False))
    assert cold == list(PARTS)
    assert COMPILING.seconds >= before + 1.5
    assert solution.bound < NightBound.trivial(problem).bound


def _machine_code(module: str) -> Any:
    def twice(number: int) -> int:
        return 2 * number

    twice.__module__ = module
    compiler: Any = njit
    return compiler(twice)


def test_the_look_at_what_is_there_compiles_nothing_of_ours_and_hinders_nobody_else() -> None:
    theirs, ours = _machine_code("elsewhere"), _machine_code("optimizer.anything")
    with event.install_listener("numba:compile", preparation._Refusal()):
        assert theirs(2) == 4
        with pytest.raises(preparation._MissingError):
            ours(2)
    assert ours(2) == 4
    assert ctrl_c.presses() == 0
