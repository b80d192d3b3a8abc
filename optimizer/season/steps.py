"""What one step would give a project that is likely not to be finished: the same weathers, one change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.season.coarse import Paths, Small
from optimizer.season.desk import Desk
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import ScarceHours, finish_share, simulated, start_of, wanted_of
from optimizer.season.projects import Floats, Ints, Projects
from optimizer.season.weather import Bools


def shares_with_steps(
    desk: Desk,
    numbers: tuple[int, ...],
    paths: tuple[tuple[Small, Small], ...],
    clear: Bools,
    helps: Ints,
    ahead_h: Floats,
    power: float,
) -> tuple[float, float]:
    """A job: in what share of the seasons some goals are all complete, with either step.

    `numbers` are those goals, `paths` the frames and weighted seconds of each night's, `clear` [seasons,
    nights]. The night that `helps` each season [seasons] is clear as well, or half the frames are wanted.
    """
    pools = [Paths(*each) for each in paths]
    more = clear.copy()
    more[np.arange(len(clear)), helps] = True
    shares = []
    for projects, weathers in ((desk.projects, more), (halved(desk.projects, numbers), clear)):
        law = GatheredLaw(projects)
        policy = ScarceHours(law, ahead_h, power)
        end = simulated(pools, weathers, policy, wanted_of(projects), start_of(law))
        shares.append(finish_share(end.finished[:, list(numbers)]))
    return shares[0], shares[1]


def most_helpful(open_h: Floats, clear: Bools, lack_s: Floats) -> Ints | None:
    """The cloudy night of each season that has most to offer to what some goals lack, [seasons].

    `open_h` [nights, goals] are hours in which each may be shot, `lack_s` [goals] the weighted seconds that
    they lack. None where no night has anything to offer.
    """
    useful = np.minimum(open_h * 3600, lack_s).sum(axis=1)
    return np.argmax(np.where(clear, -1.0, useful), axis=1) if useful.any() else None


def halved(projects: Projects, numbers: Sequence[int]) -> Projects:
    """The projects with half the frames wanted of some goals, rounded up."""
    goals = list(projects.goals)
    for number in numbers:
        goals[number] = replace(goals[number], wanted=-(-goals[number].wanted // 2))
    return replace(projects, goals=tuple(goals))
