"""What one step would give a project that is likely not to be finished: the same weathers, one change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.season.coarse import Paths, Small
from optimizer.season.desk import Desk, Engine
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import (
    NEVER,
    ScarceHours,
    finish_share,
    frames_left,
    last_night,
    simulated,
    start_of,
    wanted_of,
)
from optimizer.season.projects import Floats, Ints, Projects
from optimizer.season.simulation import GroupSeasons, of_all_rigs
from optimizer.season.weather import Bools

STEP_NIGHTS = 200_000  # nights of all seasons that steps are tried in, but in no fewer seasons than
LEAST_SEASONS = 40
LIKELY = 0.5  # of the seasons: a project finished in fewer is told what a step would give

Skies = Sequence[tuple[dt.date, int]]


@dataclass(frozen=True)
class Step:
    """What one step gives a project: the share of the sampled seasons in which it is finished with it.

    `change` is `clear_night` or `half_the_frames`. It was tried in the first `seasons` of those sampled; in a
    share of `without` of them the project is finished if nothing changes. One more clear night is, in each
    season, the cloudy one that has most to offer to what the project lacks, for all rigs at its place;
    `evening` is the night that is so most often.
    """

    target: str
    change: str
    evening: dt.date | None
    finish_share: float
    without: float
    seasons: int


def project_steps(
    desk: Desk, groups: Sequence[GroupSeasons], skies: Skies, finished: Ints, engine: Engine
) -> Iterator[Step]:
    """What each step gives the projects that are finished in less than half of the seasons.

    `skies` has for each night of the season its evening and the number of its place, `finished` [seasons,
    goals] on which evening each goal of the season was complete.
    """
    unsure = {
        target: own
        for target, own in desk.projects.of_target.items()
        if finish_share(finished[:, own]) < LIKELY
    }
    few = STEP_NIGHTS // max(1, 2 * len(unsure) * len(skies))
    seasons = min(len(finished), max(LEAST_SEASONS, few))
    nights = sorted(set(skies))
    number = {night: place for place, night in enumerate(nights)}
    sky = np.array([number[night] for night in skies], dtype=np.int64)
    clear = np.zeros((seasons, len(nights)), dtype=np.bool_)
    for each in groups:
        for column, night in enumerate(sky[each.own].tolist()):
            clear[:, night] |= each.clear[:seasons, column]
    of_target = [(target, own, _helps(groups, own, sky, clear)) for target, own in unsure.items()]
    tasks, owners = [], []
    for target, own, helps in of_target:
        for place, each in enumerate(groups):
            numbers = np.flatnonzero(np.isin(each.group.goals, own))
            if len(numbers):
                tasks.append(_task(place, each, numbers, seasons, helps, sky))
                owners.append(target)
    answers: dict[str, list[tuple[Bools, Bools]]] = {}
    for target, answer in zip(owners, engine.run(finished_with_steps, tasks), strict=True):
        answers.setdefault(target, []).append(answer)
    for target, own, helps in of_target:
        with_night, with_half = (
            float(np.mean(np.all(each, axis=0))) for each in zip(*answers[target], strict=True)
        )
        without = finish_share(finished[:seasons, own])
        if helps is not None:
            evening, _ = nights[int(np.argmax(np.bincount(helps)))]
            yield Step(target, "clear_night", evening, with_night, without, seasons)
        yield Step(target, "half_the_frames", None, with_half, without, seasons)


def _helps(groups: Sequence[GroupSeasons], goals: Sequence[int], sky: Ints, clear: Bools) -> Ints | None:
    """The night that would help some goals most if it were clear, in each season."""
    offers = np.zeros(clear.shape[1])
    for each in groups:
        own = np.isin(each.group.goals, goals)
        frame_s = GatheredLaw(each.group.projects).frame_s
        left_s = frames_left(each.end.state.frames, each.wanted).mean(axis=0) * frame_s
        np.add.at(offers, sky[each.own], offered(each.open_h[:, own], left_s[own]))
    return most_helpful(offers, clear)


def _task(
    place: int, each: GroupSeasons, numbers: Ints, seasons: int, helps: Ints | None, sky: Ints
) -> tuple[object, ...]:
    clear = each.clear[:seasons]
    more = clear if helps is None else clear | (sky[each.own][None, :] == helps[:, None])
    paths = tuple((pool.frames, pool.gathered_s, pool.goals) for pool in each.pools)
    ahead_h = of_all_rigs(each.refs, each.ahead_h)
    return place, tuple(numbers.tolist()), paths, clear, more, ahead_h, each.power


def finished_with_steps(
    desk: Desk,
    group: int,
    numbers: tuple[int, ...],
    paths: tuple[tuple[Small, Small, Ints | None], ...],
    clear: Bools,
    more: Bools,
    ahead_h: Floats,
    power: float,
) -> tuple[Bools, Bools]:
    """A job: in which of the seasons some goals of a group are all complete, with either step, [seasons].

    `numbers` are those goals, `paths` what those of each night are made of, `clear` [seasons,
    nights]. The nights of `more` are clear instead, or half the frames are wanted.
    """
    pools, own = [Paths(*each) for each in paths], desk.groups[group].projects
    found = []
    for projects, weathers in ((own, more), (halved(own, numbers), clear)):
        law = GatheredLaw(projects)
        policy = ScarceHours(law, ahead_h, power)
        end = simulated(pools, weathers, policy, wanted_of(projects), start_of(law))
        found.append(last_night(end.finished[:, list(numbers)]) != NEVER)
    return found[0], found[1]


def offered(open_h: Floats, lack_s: Floats) -> Floats:
    """Seconds that each night has to offer to what some goals lack, [nights].

    `open_h` [nights, goals] are hours in which each may be shot, `lack_s` [goals] the weighted seconds that
    they lack.
    """
    seconds: Floats = np.minimum(open_h * 3600, lack_s).sum(axis=1)
    return seconds


def most_helpful(offers: Floats, clear: Bools) -> Ints | None:
    """The cloudy night of each season that has most to offer, [seasons]; None where no night has anything.

    `offers` [nights] are seconds.
    """
    return np.argmax(np.where(clear, -1.0, offers), axis=1) if offers.any() else None


def halved(projects: Projects, numbers: Sequence[int]) -> Projects:
    """The projects with half the frames wanted of some goals, rounded up."""
    goals = list(projects.goals)
    for number in numbers:
        goals[number] = replace(goals[number], wanted=-(-goals[number].wanted // 2))
    return replace(projects, goals=tuple(goals))
