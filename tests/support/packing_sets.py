"""Filter sets for the packing's invented problems: uneven frames in hand, whatever the request says."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import numpy as np

from optimizer.problem import Problem
from optimizer.problem.filter_sets import FilterSet, Worth

THREE_TENTHS = Fraction(3, 10)


def in_sets(
    problem: Problem, seed: int, balance: Fraction = THREE_TENTHS, *, single: bool = False
) -> Problem:
    """The problem with a filter set for each target of two goals or more, frames in hand drawn.

    With `single` each goal is a set of its own, which a request never makes.
    """
    rng, of_target, tasks = random.Random(f"in sets {seed}"), dict[str, list[int]](), []
    for task in problem.tasks:
        best = task.profit if task.profit_by_start is None else int(np.max(task.profit_by_start))
        whole = Fraction(best) * rng.choice([Fraction(1), Fraction(5, 4)])
        tasks.append(replace(task, profit=best, whole_profit=whole))
        name = f"{task.target.name} {task.index}" if single else task.target.name
        of_target.setdefault(name, []).append(task.index)
    sets = []
    for name, own in of_target.items():
        done = [rng.choice([0, 0, 1, 3, 9]) for _ in own]
        wanted = [tasks[index].frames_left + more for index, more in zip(own, done, strict=True)]
        if len(own) > 1 or single:
            sets.append(
                FilterSet(
                    target=name,
                    tasks=tuple(own),
                    wanted=tuple(tasks[at].whole_profit * all_ for at, all_ in zip(own, wanted, strict=True)),
                    in_hand=tuple(tasks[at].whole_profit * got for at, got in zip(own, done, strict=True)),
                )
            )
    return replace(problem, tasks=tuple(tasks), worth=Worth(balance, tuple(sets)))
