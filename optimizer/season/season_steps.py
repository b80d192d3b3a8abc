"""What a rig more, a rig less or a week less would change for the season, by the same sampled weathers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.models.season import SeasonStep
from optimizer.season.coarse import Paths, Small
from optimizer.season.desk import Desk, Engine
from optimizer.season.gathered import GatheredLaw
from optimizer.season.policy import NEVER, ScarceHours, simulated, start_of, wanted_of
from optimizer.season.projects import Floats, Ints
from optimizer.season.simulation import GroupSeasons, of_all_rigs
from optimizer.season.weather import Bools
from optimizer.words import count, safe

STEP_NIGHTS = 60_000  # nights of all seasons that steps are tried in, but in no fewer seasons than
LEAST_SEASONS = 40
MOST_RIGS = 12  # each tried one more and one less; of more rigs those that have most hours to offer
WEEK = dt.timedelta(days=7)
DECIMALS, SECOND_DECIMALS = 3, 1


@dataclass(frozen=True)
class _Change:
    """A change of the season: the nights of each group that it leaves, by their places, some perhaps twice.

    Groups that it leaves as they are have no entry.
    """

    name: str
    rig: int | None
    nights: dict[int, Ints]


def season_steps(
    desk: Desk, groups: Sequence[GroupSeasons], finished: Ints, engine: Engine
) -> Iterator[SeasonStep]:
    """Each change with what it brings; `finished` [seasons, goals] tells when each goal is complete."""
    changes = list(_changes(groups))
    nights = sum(len(own) for each in changes for own in each.nights.values())
    seasons = min(len(finished), max(LEAST_SEASONS, STEP_NIGHTS // max(1, nights)))
    done = finished[:seasons] != NEVER
    values_s = [each.values_s[:seasons] for each in groups]
    asked = [(change, place) for change in changes for place in change.nights]
    tasks = [_task(place, groups[place], change.nights[place], seasons) for change, place in asked]
    found: dict[int, list[tuple[int, Bools, Floats]]] = {}
    for (change, place), (own, brings_s) in zip(asked, engine.run(brought, tasks), strict=True):
        found.setdefault(id(change), []).append((place, own, brings_s))
    targets = [goal.target for goal in desk.projects.goals]
    before, before_s = _finished(done, targets), float(np.sum(values_s, axis=0).mean())
    for change in changes:
        with_it, sums_s = done.copy(), list(values_s)
        for place, own, brings_s in found[id(change)]:
            with_it[:, groups[place].group.goals] = own
            sums_s[place] = brings_s
        name = None if change.rig is None else desk.rigs[change.rig].name
        after, after_s = _finished(with_it, targets), float(np.sum(sums_s, axis=0).mean())
        numbers = round(after, DECIMALS), round(before, DECIMALS)
        of_seasons = f"{seasons} simulated seasons"
        if seasons < len(finished):
            of_seasons = f"the first {seasons} of {len(finished)} simulated seasons"
        yield SeasonStep(
            change=change.name,  # type: ignore[arg-type]
            rig=name,
            finished=numbers[0],
            finished_without=numbers[1],
            value_s=round(after_s, SECOND_DECIMALS),
            value_without_s=round(before_s, SECOND_DECIMALS),
            seasons=seasons,
            sentence=_sentence(change.name, name, numbers, len(set(targets)), of_seasons),
        )


def _changes(groups: Sequence[GroupSeasons]) -> Iterator[_Change]:
    offers = {rig: float(each.open_h[_of_rig(each, rig)].sum()) for each in groups for rig in each.group.rigs}
    some = sorted(sorted(offers, key=lambda rig: (-offers[rig], rig))[:MOST_RIGS])
    for place, each in enumerate(groups):
        every = np.arange(len(each.refs))
        for rig in (rig for rig in each.group.rigs if rig in some):
            own = _of_rig(each, rig)
            yield _Change("rig_more", rig, {place: np.sort(np.concatenate([every, every[own]]))})
            if len(offers) > 1:
                yield _Change("rig_less", rig, {place: every[~own]})
    last = max(ref.evening for each in groups for ref in each.refs)
    if min(ref.evening for each in groups for ref in each.refs) <= last - WEEK:
        shorter = {
            place: np.flatnonzero([ref.evening <= last - WEEK for ref in each.refs])
            for place, each in enumerate(groups)
        }
        yield _Change("week_less", None, shorter)


def _of_rig(each: GroupSeasons, rig: int) -> Bools:
    """Which nights of a group are a rig's."""
    return np.array([ref.rig == rig for ref in each.refs], dtype=np.bool_)


def _task(place: int, each: GroupSeasons, nights: Ints, seasons: int) -> tuple[object, ...]:
    own = nights.tolist()
    pools = [each.pools[night] for night in own]
    paths = tuple((pool.frames, pool.gathered_s, pool.goals) for pool in pools)
    ahead_h = of_all_rigs([each.refs[night] for night in own], each.ahead_h[nights])
    return place, paths, each.clear[:seasons, nights], ahead_h, each.power


def brought(
    desk: Desk,
    group: int,
    paths: tuple[tuple[Small, Small, Ints | None], ...],
    clear: Bools,
    ahead_h: Floats,
    power: float,
) -> tuple[Bools, Floats]:
    """A job: which goals of a group are complete in each season, [seasons, goals], and what each brings.

    `paths` are what those of each night are made of, `clear` [seasons, nights], `ahead_h` [nights,
    goals]. What seasons bring, [seasons], is in weighted seconds.
    """
    projects = desk.groups[group].projects
    law = GatheredLaw(projects)
    start = start_of(law)
    pools = [Paths(*each) for each in paths]
    end = simulated(pools, clear, ScarceHours(law, ahead_h, power), wanted_of(projects), start)
    return end.finished != NEVER, law.value_s(end.state.reached_s) - law.value_s(start.reached_s)


def _finished(done: Bools, targets: Sequence[str]) -> float:
    """How many targets are finished, the mean over the seasons; `done` is [seasons, goals]."""
    names = np.array(targets)
    return float(sum(done[:, names == name].all(axis=1).mean() for name in dict.fromkeys(targets)))


def _sentence(
    change: str, rig: str | None, finished: tuple[float, float], projects: int, seasons: str
) -> str:
    """What a change brings, in words."""
    with_it, otherwise = {
        "rig_more": (f"with one more rig like {safe(rig or '')}", "without it"),
        "rig_less": (f"without the rig {safe(rig or '')}", "with it"),
        "week_less": ("without the last seven nights", "with them"),
    }[change]
    of_all = f"{count(projects, 'project')} {'is' if projects == 1 else 'are'}"
    return (
        f"{with_it} {finished[0]:.1f} of {of_all} finished on average in {seasons}, "
        f"{otherwise} {finished[1]:.1f}"
    )
