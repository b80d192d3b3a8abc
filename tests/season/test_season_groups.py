"""Which rigs see each other: those that share a goal, or a filter set of which each has a part."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from optimizer.season.groups import groups_of
from optimizer.season.projects import ProjectGoal, Projects

HALF = Fraction(1, 2)


def projects(*goals: str, balance: Fraction = HALF) -> Projects:
    """Goals such as "Heart L", a lower-case filter being outside of the set."""
    made = []
    for each in goals:
        target, name = each.split()
        key = target, name, 60.0, None, None, 1
        made.append(ProjectGoal(key, target, name, 60.0, 1.0, 10, 0, in_set=name.isupper()))
    return Projects(tuple(made), balance)


def rigs(*numbers: tuple[int, ...]) -> list[np.typing.NDArray[np.int64]]:
    return [np.array(own, dtype=np.int64) for own in numbers]


def test_rigs_that_share_a_goal_are_one_group_and_so_are_those_that_are_linked_by_a_third() -> None:
    whole = projects("Crab L", "Heart L", "Soul L", "Veil L", "Veil r")
    groups = groups_of(rigs((0, 1), (3, 4), (1, 2), (2,)), whole)
    assert [each.rigs for each in groups] == [(0, 2, 3), (1,)]
    assert [each.goals.tolist() for each in groups] == [[0, 1, 2], [3, 4]]
    assert [each.target for each in groups[1].projects.goals] == ["Veil", "Veil"]
    assert {rig: own.tolist() for rig, own in groups[0].numbers.items()} == {0: [0, 1], 2: [1, 2], 3: [2]}
    assert groups[1].numbers[1].tolist() == [0, 1]


@pytest.mark.parametrize(
    ("goals", "balance", "together"),
    [(("Heart L", "Heart R"), HALF, True), (("Heart L", "Heart R"), Fraction(0), False),
     (("Heart L", "Heart r"), HALF, False)],
)  # fmt: skip
def test_parts_of_a_filter_set_link_rigs_where_the_set_counts(
    goals: tuple[str, str], balance: Fraction, together: bool
) -> None:
    groups = groups_of(rigs((0,), (1,)), projects(*goals, balance=balance))
    assert len(groups) == (1 if together else 2)


def test_one_group_has_the_very_projects_of_the_season() -> None:
    whole = projects("Heart L", "Veil L")
    (group,) = groups_of(rigs((0, 1), (1,)), whole)
    assert group.projects is whole
    assert group.numbers[1].tolist() == [1]
