"""One step for a project: half the frames, or one more clear night where it helps most."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.season.coarse import Paths
from optimizer.season.desk import Desk, only_rig
from optimizer.season.gathered import GatheredLaw
from optimizer.season.projects import projects_of
from optimizer.season.steps import finished_with_steps, halved, most_helpful, offered
from tests.support.ahead_cases import realistic


def test_the_night_that_helps_most_is_a_cloudy_one_and_counts_no_more_than_is_lacking() -> None:
    open_h = np.array([[5.0, 0.0], [2.0, 2.0], [1.0, 0.0], [0.0, 9.0]])
    lack_s = np.array([3 * 3600.0, 1800.0])  # so the first night offers 3 h, the second 2.5 h
    clear = np.array([[False] * 4, [True, False, False, False], [True, True, False, False]])
    helps = most_helpful(offered(open_h, lack_s), clear)
    assert helps is not None
    assert helps.tolist() == [0, 1, 2]
    assert most_helpful(offered(open_h, np.zeros(2)), clear) is None


def test_half_the_frames_are_rounded_up_and_other_goals_keep_theirs() -> None:
    projects = projects_of(realistic())
    other = halved(projects, [1])
    assert other.goals[1].wanted == 15
    assert halved(other, [1]).goals[1].wanted == 8
    assert [goal.wanted for goal in other.goals if goal.wanted != 30] == [15]


@pytest.mark.parametrize(("night_frames", "share"), [(10, (0.5, 0.5)), (15, (1.0, 1.0)), (8, (0.0, 0.5))])
def test_shares_are_those_of_the_seasons_with_the_step(night_frames: int, share: tuple[float, float]) -> None:
    """Of 30 frames a clear night brings so many: the first season has two clear nights of four, the other one."""
    request = realistic()
    projects = projects_of(request)
    desk = Desk((only_rig(request, projects),), projects)
    frames = np.zeros((1, len(projects.goals)), dtype=np.float32)
    frames[0, 2] = night_frames
    paths = Paths(frames, (frames * GatheredLaw(projects).frame_s).astype(np.float32))
    clear = np.array([[True, True, False, False], [False, False, False, True]])
    hours = np.ones((4, len(projects.goals)))
    more = clear | np.eye(4, dtype=np.bool_)[[2, 0]]
    found = finished_with_steps(
        desk, 0, (2,), ((paths.frames, paths.gathered_s, None),) * 4, clear, more, hours, 0.5
    )
    assert tuple(float(each.mean()) for each in found) == share
