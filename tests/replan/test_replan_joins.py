"""Where an older list and the new one meet: whatever is told there, both together keep every rule."""

from __future__ import annotations

import datetime as dt

from optimizer.models.shots import Step
from optimizer.replan import Rest, Told, rest_of
from tests.support.replan_nights import small_list

LIMIT_S = 0.3


def planned_again(told: Told) -> Rest:
    return rest_of(small_list(), told, "0" * 64, limit_s=LIMIT_S)


def step_of(kind: str, nth: int = 0) -> Step:
    return [step for step in small_list().steps if step.kind == kind][nth]


def minutes(count: float) -> dt.timedelta:
    return dt.timedelta(minutes=count)


def test_autofocus_right_after_a_dither_of_the_older_list_needs_no_other_dither() -> None:
    now = step_of("dither").end_utc
    rest = planned_again(Told(now, focused=now - minutes(74), drop_current=True))
    assert (rest.shots.steps[0].kind, rest.standing.begin.undithered) == ("focus", 0)
    assert rest.violations == ()


def test_filter_that_was_just_set_may_be_changed_by_the_new_list() -> None:
    """The wheel is told to stand on the filter of the goal that is complete."""
    set_there, older = step_of("filter").filter, small_list()
    cradle, iris = older.request.targets
    goals = [
        goal.model_copy(update={"done": goal.done if goal.filter == set_there else goal.frames})
        for goal in cradle.goals
    ]
    targets = (cradle.model_copy(update={"goals": tuple(goals)}), iris)
    older = older.model_copy(update={"request": older.request.model_copy(update={"targets": targets})})
    (other,) = {goal.filter for goal in goals} - {set_there}
    told = Told(step_of("focus").end_utc, filter=other, drop_current=True)
    rest = rest_of(older, told, "0" * 64, limit_s=LIMIT_S)
    assert (rest.shots.steps[0].kind, rest.standing.begin.acquired) == ("filter", True)
    assert rest.violations == ()


def test_autofocus_told_counts_only_if_it_ended_after_the_change_of_filter() -> None:
    changed = step_of("filter")
    rest = planned_again(Told(changed.end_utc - minutes(0.05), focused=changed.end_utc - minutes(20)))
    assert rest.standing.begin.focus_due
    assert rest.shots.steps[0].kind == "focus"
    assert rest.violations == ()
    now = step_of("expose", 2).start_utc + minutes(0.5)
    done = frozenset(range(1, changed.step + 1))
    rest = planned_again(Told(now, done=done, focused=now - minutes(0.1)))
    assert not rest.standing.begin.focus_due
    assert rest.shots.steps[0].kind == "expose"
    assert rest.violations == ()


def test_wait_that_begins_now_has_not_stopped_the_mount() -> None:
    now = step_of("expose", 4).end_utc
    clouded = planned_again(Told(now, blocks=((now, now + minutes(30)),))).shots
    assert (clouded.steps[0].kind, clouded.steps[0].tracking) == ("wait", False)
    at_once = rest_of(clouded, Told(now, done=frozenset()), "0" * 64, limit_s=LIMIT_S)
    assert at_once.standing.begin.stands_since_utc is None
    assert at_once.violations == ()


def test_wait_that_a_list_begins_with_may_be_broken_off() -> None:
    now = step_of("expose", 4).end_utc
    clouded = planned_again(Told(now, blocks=((now, now + minutes(30)),))).shots
    rest = rest_of(clouded, Told(now + minutes(5)), "0" * 64, limit_s=LIMIT_S)
    assert rest.standing.begin.stands_since_utc == now
    assert rest.violations == ()
