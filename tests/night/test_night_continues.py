"""Nights that go on with an older list: its values are kept, and its rest is where the search begins."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import pytest

from optimizer.models.continues import Begin, Continues
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.packing.older_steps import OlderSteps
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import following
from optimizer.problem import build_problem
from tests.support.begins import Cut, cut_at
from tests.support.timeline_nights import CRADLE, MOUNT, WHEEL, a_request, goal


def two_targets(**aim: float) -> Request:
    return a_request(
        {**CRADLE, "goals": [goal("L", 240.0, 12), goal("R", 120.0, 9)]},
        {**WHEEL, "goals": [goal(frames=14)]},
        clear=("22:30", "02:30"),
        mount=MOUNT,
        camera={"dither_every": 3},
        focus={"every_min": 60.0},
        aim=aim,
    )


@lru_cache
def the_older() -> tuple[Night, ShotList]:
    """Planned once for all tests."""
    night = Night(two_targets())
    return night, night.plan()


def continues_of(shots: ShotList, cut: Cut) -> Continues:
    done = tuple(step.step for step in shots.steps if step.end_utc <= cut.begin.utc)
    return Continues(sha256="0" * 64, now_utc=cut.begin.utc, steps_done=done, begin=cut.begin)


def halfway(night: Night) -> Cut:
    ends = [act.end for visit in night.solution.schedule for act in visit.acts if act.kind == "expose"]
    return cut_at(night.request, night.problem, night.solution.schedule, ends[len(ends) // 2])


def test_with_all_as_planned_the_rest_is_worth_as_much_as_it_was() -> None:
    older, shots = the_older()
    cut = halfway(older)
    rest = Night(cut.request, continues_of(shots, cut), shots)
    before = sum(older.problem.tasks[task].profit * taken for task, taken in cut.taken.items())
    wanted = older.solution.profit - before
    steps = OlderSteps(shots.steps, rest.sky.clock.seconds)
    along = [following(rest.problem, draft, fill=False) for draft in steps.drafts_in(rest.problem)]
    assert [profit_of(rest.problem, plan) for plan in along] == [wanted, wanted]
    assert rest.search().profit >= wanted
    assert rest.solution.schedule.visits[0].acts[0].kind not in ("slew", "flip")


def test_frames_that_came_too_late_are_in_one_draft_alone() -> None:
    """An hour of cloud takes the frames that lay in it out of the first; the second asks for them later."""
    older, shots = the_older()
    cut = halfway(older)
    opens = older.solution.schedule.visits[0].exposures[0][1]
    first = cut_at(older.request, older.problem, older.solution.schedule, opens)
    wanted = shots.totals.goals
    late = first.request.model_copy(update={"night": cut.request.night})
    problem = build_problem(late, Night(late).windows, begin=Begin(utc=cut.begin.utc))
    possible, all_ = OlderSteps(shots.steps, older.sky.clock.seconds).drafts_in(problem)
    counts = [sum(run.frames for visit in plan for run in visit.runs) for plan in (possible, all_)]
    assert counts == [
        sum(goal.frames_planned for goal in wanted) - sum(cut.taken.values()),
        sum(goal.frames_planned for goal in wanted),
    ]


def test_frames_count_what_the_older_list_says_they_do() -> None:
    older = Night(two_targets(scarcity=1.0))
    shots, cut = older.plan(), halfway(older)
    told = tuple(each.model_copy(update={"factor": 1.5}) for each in shots.values)
    rest = Night(cut.request, continues_of(shots, cut), shots.model_copy(update={"values": told}))
    assert [task.factor for task in rest.problem.tasks] == [Fraction("1.5")] * 3
    again = rest.plan()
    assert (again.values, again.values_carried) == (told, True)
    assert again.continues == continues_of(shots, cut)


def test_a_night_asked_of_one_that_goes_on_goes_on_as_well() -> None:
    older, shots = the_older()
    cut = halfway(older)
    rest = Night(cut.request, continues_of(shots, cut), shots)
    asked = rest.ask(rest.without_target("Wheel"))
    assert asked.problem.start == rest.problem.start
    assert asked.continues == rest.continues


def test_the_target_that_the_mount_is_on_must_be_in_the_request() -> None:
    older, shots = the_older()
    cut = halfway(older)
    begin = cut.begin.model_copy(update={"target": "Owl"})
    gone = Night(cut.request, continues_of(shots, Cut(cut.request, begin, cut.taken)))
    with pytest.raises(ValueError, match="the mount tracks 'Owl'"):
        _ = gone.problem
