"""Nights in which everything competes: drawn by a seed, or crowded; their optimum by the plain model."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pytest
from ortools.sat.python import cp_model

import optimizer.packing.model.build as model_build
from optimizer.packing.bound.bounds import NightBound, first_bounds
from optimizer.packing.bound.columns import ColumnRuns
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.model.build import build_model
from optimizer.packing.model.rules import night_length
from optimizer.packing.model.value import make_value
from optimizer.packing.parameters import BoundParameters
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.solve import solve
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal


class PathRun(NamedTuple):
    """A run of a path: `window` is the number of its window among those of its task in the slot."""

    slot: int
    task: int
    window: int
    frames: int
    begins: int
    arrives: bool = False
    refocused: bool = False


def random_problem(seed: int, *, most_targets: int = 3, **aim: Any) -> Problem:
    """A night of an hour or so in which everything competes; every mode of the request mixed in."""
    rng = random.Random(seed)
    goals: dict[str, list[dict[str, Any]]] = {}
    keys: dict[str, dict[str, Any]] = {}
    places: list[Place] = []
    task = 0
    for name in "ABCD"[: rng.randint(1, most_targets)]:
        wanted: dict[tuple[str, float], dict[str, Any]] = {}
        for _ in range(rng.randint(1, 2)):
            each = goal(rng.choice("LR"), rng.choice([40.0, 60.5, 130.0]), rng.randint(1, 6))
            wanted[each["filter"], each["exposure_s"]] = each
        goals[name] = list(wanted.values())
        keys[name] = {
            "weight": rng.choice([1.0, 0.8, 1.25]),
            "least_min": rng.choice([0.0, 0.0, 0.0, 1.5, 3.0]),
        }
        meridian = rng.randint(500, 5000)
        for side, low, high in (("west", 0, meridian), ("east", meridian + rng.choice([1, 300]), 5000)):
            if high - low > 400 and rng.random() < 0.8:
                shutter = {number: _windows(rng, low, high) for number in range(task, task + len(wanted))}
                quiet = (max(low, high - 400), high) if side == "west" and rng.random() < 0.4 else None
                places.append(
                    Place(name, (low, high), shutter, side, (low, high), quiet, rng.uniform(-40, 80))  # type: ignore[arg-type]
                )
        task += len(wanted)
    return a_problem(
        places,
        goals,
        keys=keys,
        camera={
            "download_s": rng.choice([0.0, 3.0, 9.5]),
            "dither_every": rng.choice([0, 1, 3]),
            "overhead_s": random.Random(f"overhead {seed}").choice([0.0, 0.0, 0.5, 8.0]),
        },
        focus={
            "every_min": rng.choice([0.0, 2.2, 4.0, 9.0]),
            "run_s": rng.choice([30.0, 150.0]),
            "on_new_target": rng.random() < 0.5,
            "on_filter_change": rng.random() < 0.5,
            "leaves_target": rng.random() < 0.4,
        },
        mount={
            "contact_min": 30.0,
            "flip_by": rng.choice(["plan", "plan", "mount", "never"]),
            "refocus_after_flip": rng.random() < 0.5,
            "turn_rotator_after_flip": rng.random() < 0.3,
            "slew_deg_s": rng.choice([2.0, 30.0]),
        },
        aim={"time_limit_s": 30.0, **aim},
    )


def _windows(rng: random.Random, low: int, high: int) -> tuple[tuple[int, int], ...]:
    edges = sorted(rng.sample(range(low, high + 1), rng.choice([2, 2, 4])))
    return tuple(zip(edges[::2], edges[1::2], strict=True)) if rng.random() < 0.7 else ((low, high),)


def optimum(problem: Problem, *, rows: bool) -> int:
    """The greatest profit in the model with or without the rows that only carry the bound."""
    rules = [rule for rule in model_build.RULES if rows or rule is not night_length]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(model_build, "RULES", tuple(rules))
        model, night = build_model(problem)
    model.maximize(make_value(model, night).scaled)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    optimum: int = round(solver.objective_value)
    return optimum


def bound_night(graph: RunGraph, seconds: float, *, counted: bool = True) -> NightBound:
    """The first bound as it stands after about so many seconds."""
    *_, found = first_bounds(graph, Budget(seconds, deterministic=counted))
    return found


def without(cut: str) -> BoundParameters:
    """Parameters of the bound with all cuts but one."""
    return BoundParameters(cuts=tuple(name for name in BoundParameters().cuts if name != cut))


def crowded(**aim: Any) -> Problem:
    """Four targets that want more than the night holds: far from proven at once, as focus runs are carried."""
    goals = {name: [goal("L", 60.0, 12), goal("R", 130.0, 6)] for name in "ABCD"}
    places = [Place(name, (1000 + 300 * number, 5000 + 400 * number)) for number, name in enumerate("ABCD")]
    focus = {"every_min": 9.0, "on_new_target": False, "on_filter_change": False}
    return a_problem(places, goals, aim={"time_limit_s": 20.0, **aim}, focus=focus)


def outline() -> list[Any]:
    """What a search decides, to the second; the search ends by its limit, not by a proof."""
    solution = solve(crowded(workers=1, gap=0.0, time_limit_s=1.0))
    return [
        solution.profit,
        solution.bound,
        solution.status,
        [[v.slot.index, [[a.kind, a.start, a.end, a.task] for a in v.acts]] for v in solution.schedule],
    ]


def first_path(seed: int) -> tuple[RunGraph, tuple[PathRun, ...]]:
    """A drawn night and its first plan as a path; the test is skipped where nothing can be done."""
    problem = random_problem(seed)
    plan = constructed(problem)
    if not plan:
        pytest.skip("nothing can be done on this night")
    return RunGraph(problem), draft_of(problem, plan)


def column_runs(graph: RunGraph, runs: Sequence[PathRun]) -> ColumnRuns:
    """Runs as the cuts of the bound take them."""
    nodes = np.array([graph.node_of[run.slot, run.task, run.window] for run in runs])
    slots, frames = graph.node_slot[nodes], np.array([run.frames for run in runs])
    profits = np.array([float(graph.nodes[node].task.profit) for node in nodes.tolist()])
    return ColumnRuns(
        options=graph.option_starts[nodes] + frames - 1,
        slots=slots,
        before=np.concatenate([[-1], slots[:-1]]),
        arrives=np.array([run.arrives for run in runs]),
        refocused=np.array([run.refocused for run in runs]),
        profits=profits * frames,
    )


def check_draft(problem: Problem, draft: Plan) -> None:
    """It keeps the caps; the plan along it keeps the rules and is no better than the best."""
    used: Counter[int] = Counter()
    for visit in draft:
        for run in visit.runs:
            used[run.task] += run.frames
    assert all(used[task.index] <= task.frames_left for task in problem.tasks)
    plan = following(problem, draft)
    scheduled(problem, plan)  # raises where the plan breaks a rule
    assert profit_of(problem, plan) <= optimum(problem, rows=True)


def draft_of(problem: Problem, plan: Plan) -> tuple[PathRun, ...]:
    """A plan as a path tells it."""
    found = []
    for visit in plan:
        slot = problem.slots[visit.slot]
        for place, run in enumerate(visit.runs):
            span = slot.shutter[run.task].index(run.span)
            # one focus run more than a fresh run needs counts as one before it
            least = problem.run_lengths.fewest_segments(problem.tasks[run.task], np.array(run.frames))
            again = place > 0 and (run.focus_first or len(run.segments) > int(least))
            index = slot.index - slot.copy
            found.append(PathRun(index, run.task, span, run.frames, 0, place == 0, again))
    return tuple(found)
