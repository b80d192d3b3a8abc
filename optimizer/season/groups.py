"""Groups of rigs that see each other: what one of them takes changes what the others should take.

Rigs that share no goal and no filter set are in different groups. Each group is planned as if it were alone,
so that the plans of rigs that share nothing are worth exactly the sum.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.season.projects import Ints, Projects


@dataclass(frozen=True, eq=False)
class Group:
    """Some rigs of a season, by their places in it, and the goals that they have between them.

    `projects` has these goals alone, in the order of the season's; `goals` [goals] are their numbers there.
    `numbers` has for each of the rigs the number in `projects` of the goal of each of its tasks, [tasks].
    """

    rigs: tuple[int, ...]
    projects: Projects
    goals: Ints
    numbers: Mapping[int, Ints]

    @cached_property
    def together(self) -> Mapping[int, tuple[int, ...]]:
        """The goals of each rig and all others of their filter sets: its plans change no other worth."""
        sets = self.projects.worth.sets
        found = {}
        for rig, numbers in self.numbers.items():
            own = set(numbers.tolist())
            others = [goal for each in sets if own.intersection(each.tasks) for goal in each.tasks]
            found[rig] = tuple(sorted(own.union(others)))
        return found


def groups_of(numbers: Sequence[Ints], projects: Projects) -> tuple[Group, ...]:
    """The groups of some rigs, in the order of their first ones.

    `numbers` has for each rig the number in `projects` of the goal of each of its tasks.
    """
    parents = list(range(len(projects.goals)))

    def first_of(goal: int) -> int:
        while parents[goal] != goal:
            parents[goal] = parents[parents[goal]]
            goal = parents[goal]
        return goal

    together = [own.tolist() for own in numbers] + [list(each.tasks) for each in projects.worth.sets]
    for goals in together:
        for goal in goals[1:]:
            parents[first_of(goal)] = first_of(goals[0])
    rigs: dict[int, list[int]] = {}
    for rig, own in enumerate(numbers):
        rigs.setdefault(first_of(own[0]) if len(own) else -1, []).append(rig)
    if len(rigs) < 2:
        every = np.arange(len(projects.goals), dtype=np.int64)
        return (Group(tuple(range(len(numbers))), projects, every, dict(enumerate(numbers))),)
    return tuple(_group(own, numbers, projects) for own in rigs.values())


def _group(rigs: Sequence[int], numbers: Sequence[Ints], projects: Projects) -> Group:
    goals = np.unique(np.concatenate([numbers[rig] for rig in rigs]))
    own = Projects(tuple(projects.goals[goal] for goal in goals.tolist()), projects.balance)
    return Group(tuple(rigs), own, goals, {rig: np.searchsorted(goals, numbers[rig]) for rig in rigs})
