"""One planner on one night: python -m benchmarks.one_run '{"night": 3, "planner": ...}' prints JSON.

A process of its own keeps memory honest. Times count from the moment the night is ready (sky, windows,
integer problem), which all planners need alike and which is told apart as `prepare_s`. Before that each
planner has planned a small night, so that what is imported or loaded on first use counts for nobody.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchmarks import hand_rules
from benchmarks.judging import Ready, judged, judged_plan, made_ready
from benchmarks.nights import Size, night, with_frames_in_hand
from optimizer.packing.parameters import DEFAULT, SearchParameters
from optimizer.packing.schedule import profit_of_visits
from optimizer.packing.solve import solve

DARKFILL = "darkfill"
PROVEN = 0.01  # the gap whose time is told
WARM_NIGHT, WARM_SIZE, WARM_S = 13, Size(targets=2, filters=2), 1.0  # planned before; for so long at most
Event = tuple[float, float | None, float | None]  # seconds, value, bound (weighted seconds)


def main() -> None:
    print(json.dumps(measured(json.loads(sys.argv[1]))))


def measured(spec: dict[str, Any]) -> dict[str, Any]:
    """Everything that one run tells: `spec` holds night, size, planner, seed, time limit and value.

    It may hold the balance of filter sets, and `done`: "uneven" for frames in hand before the night.

    For darkfill it may hold the number of workers and the search's parameters that are not the usual ones.
    """
    size = Size(**spec["size"])
    size = (
        size if size.exposures_s is None else Size(**{**spec["size"], "exposures_s": tuple(size.exposures_s)})
    )
    which = night(spec["night"], size)
    if spec.get("done") == "uneven":
        which = with_frames_in_hand(which)
    aim = {"time_limit_s": spec["time_limit_s"], "seed": spec["seed"], "value": spec["value"], "gap": 0.0}
    aim |= {"balance": spec.get("balance", 0.0), "workers": spec.get("workers", 0)}
    parameters = replace(DEFAULT, **spec.get("parameters", {}))
    load = os.getloadavg()[0]
    small = made_ready(night(WARM_NIGHT, WARM_SIZE), {**aim, "time_limit_s": WARM_S})
    _planned(small, spec["planner"], parameters)
    began = time.monotonic()
    ready = made_ready(which, aim)
    prepare_s = time.monotonic() - began
    found = _planned(ready, spec["planner"], parameters)
    return {
        **spec,
        "size": which.size.words(),
        "facts": which.facts,
        "slots": len(ready.problem.slots),
        "tasks": len(ready.problem.tasks),
        "prepare_s": round(prepare_s, 3),
        "warmed": True,
        "load": round(load, 2),
        "peak_mib": round(peak_mib(), 1),
        **{key: round(value, 6) if isinstance(value, float) else value for key, value in found.items()},
    }


def _planned(ready: Ready, planner: str, parameters: SearchParameters) -> dict[str, Any]:
    """What a planner tells of a night, and what is judged of its plan; `parameters` are darkfill's."""
    if planner == DARKFILL:
        return darkfill(ready, parameters)
    if planner in hand_rules.RULES:
        began = time.monotonic()
        plan = hand_rules.by_hand(ready.problem, planner)
        return {"seconds": time.monotonic() - began, **judged_plan(ready, plan)}
    return _rival(planner, ready)


def darkfill(ready: Ready, parameters: SearchParameters = DEFAULT) -> dict[str, Any]:
    """Value, bound and the anytime curve, from darkfill's own search."""
    events: list[Event] = []
    began = time.monotonic()

    def note(_: float, value: float, bound: float) -> None:
        events.append((round(time.monotonic() - began, 3), value, bound))

    weighted = ready.problem.weighted_seconds
    solution = solve(ready.problem, note, parameters=parameters)
    seconds = time.monotonic() - began
    if profit_of_visits(ready.problem, solution.schedule) != solution.profit:
        raise RuntimeError("the profit that the search tells is not that of its exposures")
    value, bound = weighted(solution.profit), weighted(solution.bound)
    note(seconds, value, bound)
    curve = anytime(events)
    return {
        "seconds": seconds,
        "value": value,
        "bound": bound,
        "gap": solution.gap,
        "status": solution.status,
        "ended": solution.ended,
        "workers": solution.workers,
        "peak_solve_mib": round(peak_mib(), 1),
        "first_plan_s": next((at for at, known, _ in curve if known > 0), None),
        "proven_s": next((at for at, known, most in curve if most - known <= PROVEN * known), None),
        "curve": curve,
        **judged(ready, solution.schedule),
    }


def anytime(events: list[Event]) -> list[tuple[float, float, float]]:
    """Best value and best bound known at each instant; before there is a bound it is 'no end'."""
    curve: list[tuple[float, float, float]] = []
    value, bound = 0.0, 1e18
    for seconds, found, most in events:
        value = max(value, found or 0.0)
        bound = min(bound, most if most is not None else bound)
        curve.append((seconds, value, bound))
    return curve


def _rival(planner: str, ready: Ready) -> dict[str, Any]:
    from benchmarks import circuit_rival, slot_rival

    rivals = {slot_rival.NAME: slot_rival.planned, circuit_rival.NAME: circuit_rival.planned}
    aim = ready.request.aim
    plan, told = rivals[planner](ready.problem, aim.time_limit_s, aim.seed)
    return {**told, **judged_plan(ready, plan)}


def peak_mib() -> float:
    """The most memory that this process ever held."""
    status = Path("/proc/self/status")
    if status.exists():  # getrusage would count what the parent held before this process took its place
        for line in status.read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    unit = 1024**2 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


if __name__ == "__main__":
    main()
