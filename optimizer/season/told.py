"""A planned season -> the file that tells it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from optimizer.models.season import (
    SEASON_SCHEMA,
    FrameValue,
    MonthWorth,
    Project,
    ProjectGoalState,
    RigOfSeason,
    SeasonFile,
    SeasonNight,
    SeasonPolicy,
    SeasonProof,
    SeasonStep,
    counts_sha256,
    request_sha256,
)
from optimizer.season.asked import RigAsked
from optimizer.season.desk import NightRef
from optimizer.season.laid import TellablePlan
from optimizer.season.planned import NightPlan
from optimizer.season.projects import Ints, Projects, projects_of
from optimizer.season.summary import NightSummary
from optimizer.timeline.shot_list import tool_used

RIG = "rig"  # the name of one that has none


@dataclass(frozen=True)
class PlannedSeason:
    """All that is known of a season once it is planned; nights, odds and plans are in the order of `refs`.

    `numbers` has for each rig the number of the goal of each of its tasks. `worths_s` is what one more clear
    night like each would give at most, `gains_s` what the season would lose without the night's plan,
    `frame_worths_s` [goals] what a frame is worth tonight: all in weighted seconds. `told` has the plans as
    they are told, by the number of their night, `broken` the rules that plans broke which were not kept.
    """

    rigs: Sequence[RigAsked]
    numbers: Sequence[Ints]
    projects: Projects
    refs: Sequence[NightRef]
    nights: Sequence[NightSummary]
    odds: Sequence[Fraction]
    plans: Sequence[NightPlan]
    worths_s: Sequence[float]
    gains_s: Sequence[float]
    frame_worths_s: Sequence[float]
    proof: SeasonProof
    told: Mapping[int, TellablePlan] = field(default_factory=dict)
    broken: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def of_goal(self) -> list[list[tuple[int, int]]]:
        """For each goal the nights of the rigs that have it, each with the number of its task there."""
        found: list[list[tuple[int, int]]] = [[] for _ in self.projects.goals]
        for night, ref in enumerate(self.refs):
            for task, goal in enumerate(self.numbers[ref.rig].tolist()):
                found[goal].append((night, task))
        return found


def season_file(
    season: PlannedSeason,
    projects: Sequence[Project],
    policy: SeasonPolicy | None,
    steps: Sequence[SeasonStep] = (),
) -> SeasonFile:
    """Tell a season; `projects`, `policy` and `steps` hold what is to be expected of it."""
    return SeasonFile(
        schema_=SEASON_SCHEMA,
        tool=tool_used(),
        created_utc=dt.datetime.now(dt.UTC).replace(microsecond=0),
        rigs=tuple(rig_told(rig) for rig in season.rigs),
        nights=tuple(night_told(season, number) for number in range(len(season.nights))),
        projects=tuple(projects),
        values=tuple(_values(season)),
        months=tuple(_months(season)),
        proof=season.proof,
        policy=policy,
        steps=tuple(steps),
    )


def rig_told(rig: RigAsked) -> RigOfSeason:
    """Tell what was asked of a rig."""
    return RigOfSeason(
        name=rig.name,
        request=rig.request,
        request_sha256=request_sha256(rig.request),
        counts_sha256=counts_sha256(rig.request),
        elsewhere=rig.elsewhere,
    )


def projects_without_weather(season: PlannedSeason) -> list[Project]:
    """The projects as far as no weather needs to be sampled for them, in the order of the rigs' requests."""
    weights: dict[str, float] = {}
    for rig in season.rigs:
        for target in rig.request.targets:
            weights.setdefault(target.name, target.weight)
    own = season.projects.of_target
    return [_project(season, target, weight, own[target]) for target, weight in weights.items()]


def _project(season: PlannedSeason, target: str, weight: float, own: Sequence[int]) -> Project:
    goals = [_goal_state(season, number) for number in own]
    serving = [night for night in season.nights if night.open_s.get(target)]
    open_s = sum(night.open_s[target] for night in serving)
    lacks_s = sum(season.projects.goals[number].left * _shutter_s(season, number) for number in own)
    return Project(
        target=target,
        rigs=tuple(
            rig.name for rig in season.rigs if any(each.name == target for each in rig.request.targets)
        ),
        weight=weight,
        wanted_s=sum(goal.wanted * goal.exposure_s for goal in goals),
        in_hand_s=sum(min(goal.in_hand, goal.wanted) * goal.exposure_s for goal in goals),
        planned_s=sum(goal.planned * goal.exposure_s for goal in goals),
        nights=len(serving),
        moonlit=sum(night.is_moonlit for night in serving),
        last_useful_evening=_last(serving),
        finish_50=None,
        finish_90=None,
        finish_share=None,
        left_after=None,
        open_s=float(open_s),
        cannot=any(goal.cannot for goal in goals) or lacks_s > open_s,
        goals=tuple(goals),
    )


def _shutter_s(season: PlannedSeason, goal: int) -> int:
    """Whole seconds of an exposure of a goal."""
    night, task = season.of_goal[goal][0]
    return season.nights[night].shutter_s[task]


def _last(nights: Sequence[NightSummary]) -> str | None:
    return nights[-1].evening.isoformat() if nights else None


def _goal_state(season: PlannedSeason, number: int) -> ProjectGoalState:
    goal = season.projects.goals[number]
    most = [(season.nights[night], season.nights[night].most[task]) for night, task in season.of_goal[number]]
    serving = [night for night, frames in most if frames and goal.left]
    planned = sum(
        (
            season.odds[night] * season.plans[night].frames[task]
            for night, task in season.of_goal[number]
            if season.plans[night].frames
        ),
        Fraction(0),
    )
    _, _, _, gain, offset, binning = goal.key
    in_all = sum(frames for _, frames in most)
    return ProjectGoalState(
        filter=goal.filter,
        exposure_s=goal.exposure_s,
        gain=gain,
        offset=offset,
        binning=binning,
        wanted=goal.wanted,
        in_hand=goal.done,
        planned=float(planned),
        nights=len(serving),
        moonlit=sum(night.is_moonlit for night in serving),
        last_useful_evening=_last(serving),
        left_after=None,
        most=in_all,
        cannot=goal.left > in_all,
    )


def night_told(season: PlannedSeason, number: int) -> SeasonNight:
    """One night of a rig with its plan and what its sky offers."""
    night, plan = season.nights[number], season.told.get(number, TellablePlan())
    return SeasonNight(
        rig=season.rigs[season.refs[number].rig].name,
        evening=night.evening.isoformat(),
        odds=float(season.odds[number]),
        dark_s=night.dark_s,
        moon_illuminated=night.facts.moon_illuminated,
        moonless_dark_s=night.moonless_dark_s,
        dusk_utc=night.facts.astronomical_dusk_utc,
        dawn_utc=night.facts.astronomical_dawn_utc,
        plan=plan.frames,
        visits=plan.visits,
        targets=night.targets,
        value_s=season.gains_s[number],
        worth_s=season.worths_s[number],
        broken_rules=season.broken.get(number, ()),
    )


def _values(season: PlannedSeason) -> Iterator[FrameValue]:
    """What a frame of each goal is worth, rig by rig, as each of them knows it."""
    for rig, numbers in zip(season.rigs, season.numbers, strict=True):
        for goal, number in zip(projects_of(rig.request).goals, numbers.tolist(), strict=True):
            _, _, _, gain, offset, binning = goal.key
            yield FrameValue(
                rig=rig.name,
                target=goal.target,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                gain=gain,
                offset=offset,
                binning=binning,
                worth_s=season.frame_worths_s[number],
                own_s=float(goal.frame_s),
            )


def _months(season: PlannedSeason) -> list[MonthWorth]:
    of_month: dict[str, list[int]] = {}
    for number, night in enumerate(season.nights):
        of_month.setdefault(f"{night.evening:%Y-%m}", []).append(number)
    return [
        MonthWorth(
            month=month,
            nights=len(own),
            clear_nights=float(sum(season.odds[number] for number in own)),
            worth_s=sum(season.worths_s[number] for number in own) / len(own),
        )
        for month, own in of_month.items()
    ]
