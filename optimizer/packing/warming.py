"""The search's loops run on a tiny night: they are then compiled, or loaded from where they are kept.

They are compiled once after an installation, which takes some ten seconds of processor time, and later read
from the disk, which takes a part of a second. Within a search the one would look like the search's own time.

    python -m optimizer.packing.warming bound hours

compiles one part of them for one aim, in a process of its own that ends when its stdin does.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable
from fractions import Fraction

import numpy as np

from optimizer import ctrl_c
from optimizer.models.request import Request
from optimizer.models.rig import SIDES
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import one_at_a_time
from optimizer.packing.search.choice_loops import Choices, Totals, choose
from optimizer.packing.search.construct import constructed
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate, sets_of
from optimizer.problem import VISITS_PER_SIDE, Limits, Problem, Rules, Slot, Span
from optimizer.problem.tasks import Task, frame_s

OPENS, MERIDIAN, CLOSES = 600, 3000, 6000  # seconds of the tiny night
EXPOSURE_S, FRAMES = 60.0, 20
STEP_S = 60


def _bound(problem: Problem) -> None:
    TimeExpandedGraph(RunGraph(problem), STEP_S).best_columns(1)
    _choice(problem)


def _choice(problem: Problem) -> None:
    """Choose the one plan of one night, which is empty."""
    one, none = np.array([0, 1]), np.zeros(0)
    plans, sets = np.zeros(2, dtype=np.int64), sets_of(problem.worth, 1)
    choices = Choices(one, plans, plans[:0], none, none, np.ones(1), np.ones(1), sets, 0.0)
    choose(choices, Totals.of(choices), plans[:1], 0, 2, 0.0, 1)


def _search(problem: Problem) -> None:
    budget, rng = Budget(1e-6, deterministic=True), np.random.default_rng(1)
    RuinAndRecreate(RunGraph(problem)).improve(constructed(problem), budget, rng)


# Each calls loops of its own and takes about as long: two processes compile all of them side by side.
PARTS: dict[str, Callable[[Problem], None]] = {"bound": _bound, "search": _search}


@ctrl_c.counted()  # an exception inside the compiler or its files can end the whole process
def run_loops(part: str, *, by_time: bool) -> None:
    """Run the loops of one of `PARTS` once, as nights of this aim call them."""
    PARTS[part](_tiny_night(by_time=by_time))


def main(part: str, aim: str) -> None:
    """Compile the loops of a part, unless another process has done so or is doing it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches this process too; its parent ends it
    threading.Thread(target=_end_with_stdin, daemon=True).start()
    with one_at_a_time(part):
        run_loops(part, by_time=aim == "depth")


def _end_with_stdin() -> None:
    """End the process where its parent has gone, however that came about."""
    while os.read(0, 1):
        pass
    os._exit(1)


def _tiny_night(*, by_time: bool) -> Problem:
    """Two targets with two goals each, on both sides of the meridian."""
    goals = [{"filter": name, "exposure_s": EXPOSURE_S, "frames": FRAMES} for name in ("L", "R")]
    request = Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": "2026-01-01"},
            "site": {"latitude_deg": 0.0, "longitude_deg": 0.0, "floor_deg": 0.0},
            "filters": [{"name": "L"}, {"name": "R"}],
            "targets": [{"name": name, "ra_deg": 0.0, "dec_deg": 0.0, "goals": goals} for name in "AB"],
            "aim": {"value": "depth" if by_time else "hours"},
        }
    )
    shutter_s = round(EXPOSURE_S)
    tasks = [
        Task(
            index=index,
            target_place=0,
            target=target,
            goal=goal,
            goal_index=target.goals.index(goal),
            shutter_s=shutter_s,
            frame_s=frame_s(goal, request.camera),
            change_s=round(request.filters[0].change_s),
            frames_left=goal.frames,
            profit=1,
            profit_by_start=np.ones(2 * CLOSES, dtype=np.int64) if by_time else None,
        )
        for index, (target, goal) in enumerate(request.goals())
    ]
    slots: list[Slot] = []
    for target in request.targets:
        for side, work in zip(SIDES, ((OPENS, MERIDIAN), (MERIDIAN, CLOSES)), strict=True):
            shutter: dict[int, tuple[Span, ...]] = {
                task.index: (work,) for task in tasks if task.target.name == target.name
            }
            twin = len(slots)
            slots += [
                Slot(
                    index=twin + copy,
                    target=target,
                    side=side,
                    stretch=(0, CLOSES),
                    motion=(0, work[1]),
                    work=work,
                    shutter=shutter,
                    quiet=None,
                    twin=twin,
                    copy=copy,
                    hour_angle_s=float(-MERIDIAN),
                    declination_deg=0.0,
                )
                for copy in range(VISITS_PER_SIDE)
            ]
    return Problem(Rules.of(request), Limits.of(request), tuple(tasks), tuple(slots), Fraction(1))


if __name__ == "__main__":
    main(*sys.argv[1:])
