"""Goals that count for nothing tonight, because other filters hold their set back."""

from __future__ import annotations

from collections.abc import Mapping

from optimizer.models.shots import UnplannedReason
from optimizer.problem import Problem
from optimizer.timeline.alone import most_alone

HELD_BACK: tuple[UnplannedReason, str] = (
    "set_held_back",
    "other filters of its set lag behind and cannot catch up tonight, and with aim.balance = 1 more of it "
    "adds nothing; a smaller balance would make it count",
)


def held_back(problem: Problem, planned: Mapping[int, int]) -> set[int]:
    """The tasks, by index, of which more frames than planned would add nothing to any plan of the night.

    That is asked as if every other goal of the set got all that the night can hold of it: the more of the
    others, the more a frame counts. Unless the progress of sets is all that counts, each frame counts
    something.
    """
    if problem.worth.balance < 1:
        return set()
    idle = set()
    for each in problem.worth.sets:
        gathered = [0] * len(problem.tasks)
        for task in (problem.tasks[index] for index in each.tasks):
            gathered[task.index] = task.profit * most_alone(problem, task)
        for task in (problem.tasks[index] for index in each.tasks):
            few, all_ = list(gathered), list(gathered)
            few[task.index] = task.profit * planned.get(task.index, 0)
            all_[task.index] = task.profit * task.frames_left
            if problem.worth.profit(few) == problem.worth.profit(all_):
                idle.add(task.index)
    return idle
