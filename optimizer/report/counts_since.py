"""What was in hand when a list was made, beside what is in hand now."""

from __future__ import annotations

from optimizer.models.request import Request
from optimizer.models.targets import goal_key
from optimizer.report.words import name
from optimizer.words import listing, number


def with_counts_of(own: Request, asked: Request) -> tuple[Request, str | None]:
    """The request that is asked about with the counts of a list's own request, and a sentence on the change.

    Goals that the list does not know keep their counts; the sentence is None where all counts are the same.
    """
    began = {goal_key(target, goal): goal.done for target, goal in own.goals()}
    changed: list[str] = []
    targets = []
    for target in asked.targets:
        goals = []
        for goal in target.goals:
            done = began.get(goal_key(target, goal), goal.done)
            if done != goal.done:
                what = f"{name(target.name)} {name(goal.filter, 12)} {number(goal.exposure_s)} s"
                changed.append(f"{what} from {done} to {goal.done}")
            goals.append(goal.model_copy(update={"done": done}))
        targets.append(target.model_copy(update={"goals": tuple(goals)}))
    if not changed:
        return asked, None
    return asked.model_copy(update={"targets": tuple(targets)}), (
        f"the subs in hand have changed since this list was made: {listing(changed, 'and')}; "
        "the list is checked with the counts that it began with"
    )
