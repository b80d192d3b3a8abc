"""The projects of several rigs: goals of one target that are the same for all, and those of one rig alone.

Targets of the same name are one project. Its goals are shared by filter and exposure, whatever gain, offset
and binning each camera takes them with; only where one rig has two goals of the same filter and exposure do
these tell the goals apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from optimizer.models.request import Request
from optimizer.models.targets import GoalKey
from optimizer.season.projects import Ints, ProjectGoal, Projects, projects_of

SharedKey = tuple[object, ...]


def shared_keys(own: Sequence[Sequence[GoalKey]]) -> list[list[SharedKey]]:
    """What the goals of each rig are known by among all: equal where they are one goal; [rigs][goals]."""
    counts = [Counter(key[:3] for key in keys) for keys in own]
    told_apart = {short for each in counts for short, count in each.items() if count > 1}
    return [[key if key[:3] in told_apart else key[:3] for key in keys] for keys in own]


def shared_projects(requests: Sequence[Request]) -> tuple[Projects, tuple[Ints, ...]]:
    """The projects of some rigs, and for each rig the numbers of the goals that its tasks are, [tasks].

    Shared goals must agree in weight, frames, what is in hand and whether they belong to the filter set, and
    the aims of all requests in value and balance; what the first of them says is taken.
    """
    found = [projects_of(request).goals for request in requests]
    keys = shared_keys([[goal.key for goal in goals] for goals in found])
    first: dict[SharedKey, ProjectGoal] = {}
    for own, goals in zip(keys, found, strict=True):
        for key, goal in zip(own, goals, strict=True):
            first.setdefault(key, goal)
    in_order = sorted(first, key=lambda key: str(key[0]))  # targets by name, goals as they are first listed
    place = {key: number for number, key in enumerate(in_order)}
    numbers = tuple(np.array([place[key] for key in own], dtype=np.int64) for own in keys)
    balance = Fraction(repr(requests[0].aim.balance))
    return Projects(tuple(first[key] for key in in_order), balance), numbers
