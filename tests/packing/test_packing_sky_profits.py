"""Where the sky decides, the bound counts for each run at least the profit of any plan's run there."""

from __future__ import annotations

import random

import numpy as np
import pytest

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.problem import Problem
from optimizer.season.sky_blocks import SkyBlockGrid
from tests.support.packing_nights import Place, a_problem, goal, under_sky

BEGINS, ENDS = 1000, 4000


def _changing(rng: random.Random) -> Problem:
    """One goal in one window, of which a frame's profit rises and falls with hours or with minutes."""
    problem = a_problem(
        [Place("A", (BEGINS, ENDS))],
        {"A": [goal("L", rng.choice([20.0, 61.5]), rng.randint(2, 12))]},
        camera={
            "download_s": rng.choice([0.0, 3.0]),
            "dither_every": rng.choice([0, 1, 3]),
            "dither_s": 12.0,
        },
        focus={"every_min": rng.choice([0.0, 2.5, 4.0, 9.0]), "run_s": rng.choice([5.0, 30.0, 150.0])},
        aim={"value": "depth"},
    )
    turns = rng.choice([0.0, 1.0, 3.0, 20.0])
    profit = 50_000 + 40_000 * np.sin(rng.uniform(0, 6) + turns * np.arange(30_000) / 2000)
    return under_sky(problem, profit.astype(np.int64))


def _cut(problem: Problem, frames: int, rng: random.Random) -> tuple[int, ...]:
    """Any segments within the cadence: as few as must be, or one more."""
    task = problem.tasks[0]
    first, later = problem.run_lengths.first_segment_most(task), problem.run_lengths.later_segment_most(task)
    fewest = len(problem.run_lengths.cut_into_segments(task, frames, first))
    for _ in range(200):
        count = fewest + rng.choice([0, 0, 1]) if problem.rules.focus_every_s else fewest
        cuts = sorted(rng.sample(range(1, frames), count - 1)) if count <= frames else []
        segments = tuple(np.diff([0, *cuts, frames]).tolist())
        if segments[0] <= first and all(each <= later for each in segments[1:]):
            return segments
    return problem.run_lengths.cut_into_segments(task, frames, first)


def _opens_s(problem: Problem, segments: tuple[int, ...]) -> list[int]:
    """Of each frame, from the first one on."""
    task, every = problem.tasks[0], problem.rules.dither_every
    found, begins = [], 0
    for frames in segments:
        mine = [
            begins + frame * task.frame_s + (frame // every if every else 0) * problem.rules.dither_s
            for frame in range(frames)
        ]
        found += mine
        begins = mine[-1] + task.frame_s + problem.rules.focus_s + problem.run_lengths.dither_after_focus_s
    return found


@pytest.mark.parametrize("step_s", [1, 7, 20])
@pytest.mark.parametrize("joined", [False, True])
@pytest.mark.parametrize("kind", [TimeExpandedGraph, SkyBlockGrid], ids=["ticks", "blocks"])
@pytest.mark.parametrize("seed", range(12))
def test_a_path_has_a_run_of_no_less_profit_in_the_time_of_any_run(
    seed: int, kind: type[TimeExpandedGraph], joined: bool, step_s: int
) -> None:
    rng = random.Random(seed)
    problem = _changing(rng)
    task, graph = problem.tasks[0], RunGraph(problem)
    grid = kind(graph, step_s, join_arcs=joined)
    joined_s = int(graph.least_arcs_s[0]) if joined else 0
    assert task.profit_by_start is not None
    for _ in range(60):
        frames = rng.randint(1, len(graph.option_s))
        segments = _cut(problem, frames, rng)
        lasts_s = problem.run_lengths.run_s(task, segments)
        opens = rng.randint(int(graph.open_s[0]), int(graph.close_s[0]) - task.tail_s - lasts_s)
        first = graph.zero_s + opens
        profit = sum(int(task.profit_by_start[first + after_s]) for after_s in _opens_s(problem, segments))
        ticks = int(grid.grid.option_ticks[frames - 1])
        latest = (opens + lasts_s + task.tail_s + joined_s) // grid.step_s
        ends = range(opens // grid.step_s + ticks, latest + 1)
        assert max(grid.profit_ending(np.array([frames - 1]), np.array([end])) for end in ends) >= profit


def test_frames_that_one_focus_run_serves_count_where_they_lie() -> None:
    """A frame's profit rises by 10 each second: a run of three at its latest has that of its seconds."""
    flat = a_problem(
        [Place("A", (BEGINS, ENDS))],
        {"A": [goal(frames=3)]},
        focus={"every_min": 60.0, "run_s": 150.0},
        aim={"value": "depth"},
    )
    graph = RunGraph(under_sky(flat, 10 * np.arange(30_000)))
    ends = int(graph.close_s[0])
    first = graph.zero_s + ends - 3 * 63
    profit = TimeExpandedGraph(graph, 1).profit_ending(np.array([2]), np.array([ends]))
    assert profit == 10 * (3 * first + 63 + 126)
