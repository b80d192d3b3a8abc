"""The simulated policy is what a night by itself does: factors as `plan` has them, counts that go on."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from optimizer.ahead.factors import scarcity_of
from optimizer.models.request import Request
from optimizer.season.coarse import Paths
from optimizer.season.desk import Desk, NightRef, only_rig
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import BEFORE, NEVER, ScarceHours, State, simulated
from optimizer.season.projects import Projects, projects_of
from optimizer.season.simulation import hours_of_nights
from optimizer.sky.bodies import night_sky
from tests.support.ahead_cases import realistic


def with_some_done(request: Request) -> Request:
    """The request with all frames of its first goal in hand, and a few of the others."""
    targets = tuple(
        target.model_copy(
            update={
                "goals": tuple(
                    goal.model_copy(update={"done": goal.frames if not place + number else 4 * place})
                    for number, goal in enumerate(target.goals)
                )
            }
        )
        for place, target in enumerate(request.targets)
    )
    return request.model_copy(update={"targets": targets})


def state_of(projects: Projects) -> State:
    """The counts of the projects themselves, as those of one season."""
    done = np.array([[float(min(goal.done, goal.wanted)) for goal in projects.goals]])
    return State(done, done * GatheredLaw(projects).frame_s, np.zeros(1, np.int64))


@pytest.mark.parametrize("aim", [{}, {"scarcity": 1.25, "look_ahead_nights": 9}, {"scarcity": 0.0}])
def test_factors_are_those_by_which_a_night_is_planned_by_itself(aim: dict[str, Any]) -> None:
    request = with_some_done(realistic(**aim))
    projects = projects_of(request)
    desk = Desk((only_rig(request, projects),), projects)
    _, ahead_h = hours_of_nights(desk, [NightRef(0, request.night.evening)])
    policy = ScarceHours(GatheredLaw(projects), ahead_h, request.aim.scarcity)
    wanted = np.array([float(goal.wanted) for goal in projects.goals])
    factors = policy.factors(0, state_of(projects), wanted)[0]
    scarcity = scarcity_of(request, night_sky(request))
    told = [scarcity.factor(goal.target, goal.filter) for goal in projects.goals]
    assert factors == pytest.approx(told, abs=6e-4)
    assert policy.name == ("scarce hours" if request.aim.scarcity else "own weights")


def two_goals() -> tuple[Projects, list[Paths]]:
    """Two goals, and three nights each of which serves one of them or the other."""
    projects = projects_of(realistic())
    count = len(projects.goals)
    frames = np.zeros((2, count), dtype=np.float32)
    frames[0, 0] = frames[1, 1] = 20
    paths = Paths(frames, (frames * GatheredLaw(projects).frame_s).astype(np.float32))
    return projects, [paths] * 3


def test_what_is_taken_counts_on_the_next_clear_night_and_cloudy_ones_bring_nothing() -> None:
    projects, pools = two_goals()
    law = GatheredLaw(projects)
    wanted = np.array([float(goal.wanted) for goal in projects.goals])  # 30 frames each
    hours = np.ones((3, len(wanted)))
    hours[:, 1] = 4.0
    clear = np.array([[True, True, True], [True, False, True], [False, False, False]])
    end = simulated(pools, clear, ScarceHours(law, hours, 0.5), wanted, state_of(projects))
    # the scarce goal, of factor 1 beside 1/2, has its 20, then its last 10 in half of a night
    assert end.state.frames[0, :2] == pytest.approx([30, 30], abs=0.5)
    assert end.state.frames[1, :2] == pytest.approx([30, 10], abs=0.5)
    assert not end.state.frames[2].any()
    assert end.state.reached_s == pytest.approx(end.state.frames * law.frame_s)
    assert end.finished[:, :2].tolist() == [[1, 2], [2, NEVER], [NEVER, NEVER]]


def test_seasons_do_not_depend_on_the_seasons_beside_them() -> None:
    projects, pools = two_goals()
    wanted = np.array([float(goal.wanted) for goal in projects.goals])
    policy = ScarceHours(GatheredLaw(projects), np.ones((3, len(wanted))), 0.5)
    clear = np.array([[True, True, True], [True, False, True], [False, True, False]])
    together = simulated(pools, clear, policy, wanted, state_of(projects))
    for row in range(len(clear)):
        alone = simulated(pools, clear[row : row + 1], policy, wanted, state_of(projects))
        assert np.array_equal(alone.state.frames[0], together.state.frames[row])
        assert np.array_equal(alone.finished[0], together.finished[row])


def test_a_goal_in_hand_is_finished_before_the_season() -> None:
    request = with_some_done(realistic())
    projects = projects_of(request)
    pools = [
        Paths(np.zeros((1, len(projects.goals)), np.float32), np.zeros((1, len(projects.goals)), np.float32))
    ]
    wanted = np.array([float(goal.wanted) for goal in projects.goals])
    policy = ScarceHours(GatheredLaw(projects), np.ones((1, len(wanted))), 0.5)
    end = simulated(pools, np.ones((1, 1), np.bool_), policy, wanted, state_of(projects))
    complete = [goal.done >= goal.wanted for goal in projects.goals]
    assert any(complete)
    assert end.finished[0].tolist() == [BEFORE if each else NEVER for each in complete]
