"""Value, progress and shares of filter sets against three nights worked with a pencil."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from optimizer.models.request import Request
from optimizer.models.shots import Totals
from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import Act, ScheduledVisit
from optimizer.problem import Problem, build_problem
from optimizer.problem.tasks import Factors
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from optimizer.timeline.totals import build_totals
from tests.support.timeline_nights import CRADLE, WHEEL, a_request, goal

FILTERS = [{"name": name} for name in ("L", "R", "G", "B", "Ha", "O", "S")]
Frames = dict[tuple[str, int], int]  # taken tonight, by target and place of the goal


def totals(request: Request, frames: Frames, factors: Factors | None = None) -> Totals:
    """The totals of so many frames, one after the other at midnight: what they are worth asks for no more."""
    windows = sky_windows(request, night_sky(request))
    problem = build_problem(request, windows, factors or {})
    plan, visits = laid(problem, frames)
    return build_totals(problem, windows, plan, visits, ())


def laid(problem: Problem, frames: Frames) -> tuple[Plan, list[ScheduledVisit]]:
    plan, visits = [], []
    for task in problem.tasks:
        number = frames.get((task.target.name, task.goal_index), 0)
        slot = problem.slots_by_task[task.index][0] if number else None
        if slot is None:
            continue
        opens = slot.shutter[task.index][0][0]
        acts = tuple(
            Act("expose", opens + at * task.frame_s, opens + (at + 1) * task.frame_s, 86400, task.index)
            for at in range(number)
        )
        plan.append(Visit(slot.index, (Run(task.index, (number,), slot.shutter[task.index][0], True),)))
        visits.append(ScheduledVisit(slot, acts))
    return Plan.of(plan), visits


def lrgb(**aim: Any) -> Request:
    goals = [
        goal("L", 120.0, 60, done=30),
        goal("R", 180.0, 20, done=10),
        goal("G", 180.0, 20, done=5),
        goal("B", 180.0, 20),
    ]
    return a_request({**CRADLE, "goals": goals}, filters=FILTERS, mount={"kind": "fork"}, aim=aim)


BLUE_AND_GREEN: Frames = {("Cradle", 2): 5, ("Cradle", 3): 10}


def test_blue_that_lags_counts_more_than_its_seconds() -> None:
    """L 7200 s, R, G and B 3600 s each: 18000 s, whose slowest half are 9000 s.

    Before: B 3600 s at 0, G 3600 s at 1/4, 1800 s at 1/2: 1800 / 9000 = 0.2. Afterwards all stand at 1/2. So
    the set comes forward by 0.3 x 18000 = 5400 s. Open are 15 x 180 = 2700 s: 0.7 x 2700 + 0.3 x 5400 = 3510.
    """
    told = totals(lrgb(balance=0.3), BLUE_AND_GREEN)
    assert (told.value_s, told.set_s, told.open_shutter_s) == (3510.0, 5400.0, 2700.0)
    assert [each.model_dump() for each in told.targets] == [
        {"target": "Cradle", "set_share_before": 0.2, "set_share_after": 0.5}
    ]


def test_sets_are_told_where_they_do_not_count() -> None:
    told = totals(lrgb(balance=0.0), BLUE_AND_GREEN)
    assert (told.value_s, told.set_s) == (2700.0, 5400.0)
    assert told.targets[0].set_share_after == 0.5
    alone = totals(lrgb(balance=1.0), BLUE_AND_GREEN)
    assert (alone.value_s, alone.set_s) == (5400.0, 5400.0)


def test_stars_beside_the_set_and_sets_of_one_have_full_seconds() -> None:
    """Cradle, weight 2: Ha 6000 s, O 1200 s, S 2700 s: 9900 s, whose slowest half are 4950 s; R is no part.

    Before: S 2700 s at 0, Ha 2250 s at 1/5 (O is complete, and more): 450 / 4950 = 0.0909. Three of S and of
    Ha bring S to 1/3 and Ha to 1/2: 900 + 1125 = 2025, 2025 / 4950 = 0.409. 1575 / 4950 x 9900 = 3150 s, by
    weight 6300. Open on them 1800 + 900 = 2700 s, by weight 5400, and 300 s of R, by weight 600:
    0.7 x 5400 + 0.3 x 6300 + 600 = 6270.

    Wheel, weight 1/2, one goal: 1/7, then 3/7, and 200 s, by weight 100. Rim, no goal in a set: 100 s.
    """
    narrow = [
        goal("Ha", 600.0, 10, done=2),
        goal("O", 300.0, 4, done=6),
        goal("S", 300.0, 9),
        goal("R", 60.0, 5, in_set=False),
    ]
    request = a_request(
        {**WHEEL, "weight": 0.5, "goals": [goal("L", 100.0, 7, done=1)]},
        {**CRADLE, "weight": 2.0, "goals": narrow},
        {**CRADLE, "name": "Rim", "goals": [goal("L", 100.0, 7, in_set=False)]},
        filters=FILTERS,
        mount={"kind": "fork"},
        aim={"balance": 0.3},
    )
    frames = {("Cradle", 0): 3, ("Cradle", 2): 3, ("Cradle", 3): 5, ("Wheel", 0): 2, ("Rim", 0): 1}
    told = totals(request, frames)
    assert (told.value_s, told.set_s) == (6470.0, 6300.0)
    assert [(each.target, each.set_share_before, each.set_share_after) for each in told.targets] == [
        ("Wheel", 0.142857, 0.428571),
        ("Cradle", 0.090909, 0.40909),
        ("Rim", None, None),
    ]


def test_scarce_goals_weigh_more_in_value_and_share() -> None:
    """L 3 x 100 s x 1.25 = 375, Ha 2 x 250 s x 0.8 = 400: 775, whose slowest half is 387.5; weight 3/2.

    Before: L 375 at 1/3, Ha 12.5 at 1/2: 131.25 / 387.5 = 0.3387. Two of L and one of Ha complete the set:
    775 - 262.5 = 512.5, by weight 768.75. Open: 250 + 200 = 450, by weight 675.
    0.75 x 675 + 0.25 x 768.75 = 698.4375, rounded down.
    """
    goals = [goal("L", 100.0, 3, done=1), goal("Ha", 250.0, 2, done=1)]
    request = a_request(
        {**CRADLE, "weight": 1.5, "goals": goals},
        filters=FILTERS,
        mount={"kind": "fork"},
        aim={"balance": 0.25},
    )
    factors = {("Cradle", 0): Fraction("1.25"), ("Cradle", 1): Fraction("0.8")}
    told = totals(request, {("Cradle", 0): 2, ("Cradle", 1): 1}, factors)
    assert (told.value_s, told.set_s) == (698.437, 768.75)
    assert (told.targets[0].set_share_before, told.targets[0].set_share_after) == (0.338709, 1.0)


def test_share_counts_frames_whole_whatever_sky_they_are_taken_under() -> None:
    """By depth the value has less of them, the shares have not; a share short of all is not rounded to it."""
    hours, depth = (totals(lrgb(balance=0.3, value=value), BLUE_AND_GREEN) for value in ("hours", "depth"))
    assert hours.targets == depth.targets
    assert depth.depth_s is not None
    assert 0 < depth.value_s < hours.value_s
    assert 0 < depth.set_s < hours.set_s
    nearly = a_request({**CRADLE, "goals": [goal("L", 1.0, 100_000, done=99_999)]})
    assert totals(nearly, {}).targets[0].set_share_after == 0.99999
