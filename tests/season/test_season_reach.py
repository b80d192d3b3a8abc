"""What the nights of a season could hold of a goal at most: nothing that is called impossible ever fits."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

from optimizer.night import Night
from optimizer.season.asked import without_counts
from optimizer.season.prepared import PreparedNight, prepare
from optimizer.season.reach import most_frames, open_s, open_spans
from tests.support.season_view_cases import DONE, HIGH, LOW, SOUTH, changed_goal, season_request

NUMBER = {(task, through): n for n, (task, through) in enumerate(
    ((DONE, "L"), (HIGH, "L"), (HIGH, "Ha"), (LOW, "L"), (SOUTH, "L"))
)}  # fmt: skip


@lru_cache(maxsize=1)
def night() -> PreparedNight:
    request = season_request()
    return prepare(without_counts(request), request.night.evening)


def test_tasks_are_in_the_order_that_is_taken_for_granted() -> None:
    found = {(task.target.name, task.goal.filter): task.index for task in night().problem.tasks}
    assert found == NUMBER


def test_what_never_rises_holds_nothing() -> None:
    assert most_frames(night().problem, NUMBER[SOUTH, "L"]) == 0
    assert open_s(night().problem, (NUMBER[SOUTH, "L"],)) == 0


def test_spans_of_both_pier_sides_are_joined_and_those_of_several_goals_too() -> None:
    problem = night().problem
    low, high = NUMBER[LOW, "L"], NUMBER[HIGH, "L"]
    spans = open_spans(problem, (low, high))
    assert all(before[1] < after[0] for before, after in pairwise(spans))
    both = open_s(problem, (low, high))
    assert max(open_s(problem, (low,)), open_s(problem, (high,))) <= both
    assert both <= open_s(problem, (low,)) + open_s(problem, (high,))


def test_a_night_of_one_goal_alone_never_takes_more_and_comes_near() -> None:
    """A plan has to slew, focus and flip besides, so it takes less."""
    most = most_frames(night().problem, NUMBER[LOW, "L"])
    request = changed_goal(season_request(), LOW, "L", frames=5000)
    alone = request.model_copy(update={"targets": tuple(t for t in request.targets if t.name == LOW)})
    shots = Night(alone).plan()
    taken = sum(goal.frames_planned for goal in shots.totals.goals)
    assert 0.9 * most < taken <= most
