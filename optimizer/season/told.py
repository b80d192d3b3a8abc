"""A planned season -> the file that tells it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from optimizer.models.season import (
    SEASON_SCHEMA,
    FrameValue,
    GoalFrames,
    MonthWorth,
    Project,
    ProjectGoalState,
    RigOfSeason,
    SeasonFile,
    SeasonNight,
    SeasonPolicy,
    SeasonProof,
    SeasonVisit,
    TargetOnNight,
    counts_sha256,
    request_sha256,
)
from optimizer.packing.schedule import Schedule
from optimizer.problem import Problem
from optimizer.season.asked import RigAsked
from optimizer.season.planned import NightPlan, schedule_of
from optimizer.season.prepared import PreparedNight
from optimizer.season.projects import Projects
from optimizer.season.reach import most_frames, open_s
from optimizer.sky.clock import NightClock
from optimizer.timeline.shot_list import tool_used

RIG = "rig"  # the name of one that has none


@dataclass(frozen=True)
class PlannedSeason:
    """All that is known of a season once it is planned; nights, odds and plans are in the same order.

    `worths_s` is what one more clear night like each would give at most, `gains_s` what the season would
    lose without the night's plan, `frame_worths_s` [goals] what a frame is worth tonight: all in weighted
    seconds. `schedules` has the acts of the plans, by number, that are not as early as the rules allow,
    `broken` the rules that plans broke which were not kept.
    """

    rigs: Sequence[RigAsked]
    projects: Projects
    nights: Sequence[PreparedNight]
    odds: Sequence[Fraction]
    plans: Sequence[NightPlan]
    worths_s: Sequence[float]
    gains_s: Sequence[float]
    frame_worths_s: Sequence[float]
    proof: SeasonProof
    schedules: Mapping[int, Schedule] = field(default_factory=dict)
    broken: Mapping[int, tuple[str, ...]] = field(default_factory=dict)


def season_file(
    season: PlannedSeason, projects: Sequence[Project], policy: SeasonPolicy | None
) -> SeasonFile:
    """Tell a season; `projects` and `policy` hold what is to be expected of it."""
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
    """The projects as far as no weather needs to be sampled for them."""
    weights = {target.name: target.weight for target in season.rigs[0].request.targets}
    of_target: dict[str, list[int]] = {}
    for number, goal in enumerate(season.projects.goals):
        of_target.setdefault(goal.target, []).append(number)
    return [
        _project(season, target.name, weights[target.name], of_target[target.name])
        for target in season.rigs[0].request.targets
    ]


def _project(season: PlannedSeason, target: str, weight: float, own: Sequence[int]) -> Project:
    goals = [_goal_state(season, number) for number in own]
    lacking = [number for number in own if season.projects.goals[number].left]
    open_nights = [open_s(night.problem, lacking) for night in season.nights]
    serving = [night for night, seconds in zip(season.nights, open_nights, strict=True) if seconds]
    lacks_s = sum(
        season.projects.goals[number].left * season.nights[0].problem.tasks[number].shutter_s
        for number in lacking
    )
    return Project(
        target=target,
        rigs=(season.rigs[0].name,),
        weight=weight,
        wanted_s=sum(goal.wanted * goal.exposure_s for goal in goals),
        in_hand_s=sum(min(goal.in_hand, goal.wanted) * goal.exposure_s for goal in goals),
        planned_s=sum(goal.planned * goal.exposure_s for goal in goals),
        nights=len(serving),
        moonlit=_moonlit(serving),
        last_useful_evening=_last(serving),
        finish_50=None,
        finish_90=None,
        finish_share=None,
        left_after=None,
        open_s=float(sum(open_nights)),
        cannot=any(goal.cannot for goal in goals) or lacks_s > sum(open_nights),
        goals=tuple(goals),
    )


def _moonlit(nights: Sequence[PreparedNight]) -> int:
    """On how many nights the Moon is up for more than half of the dark."""
    return sum(night.moonless_dark_s < night.dark_s / 2 for night in nights)


def _last(nights: Sequence[PreparedNight]) -> str | None:
    return nights[-1].evening.isoformat() if nights else None


def _goal_state(season: PlannedSeason, number: int) -> ProjectGoalState:
    goal = season.projects.goals[number]
    most = [most_frames(night.problem, number) for night in season.nights]
    serving = [night for night, frames in zip(season.nights, most, strict=True) if frames and goal.left]
    planned = sum(
        (
            odds * plan.frames[number]
            for odds, plan in zip(season.odds, season.plans, strict=True)
            if plan.frames
        ),
        Fraction(0),
    )
    _, _, _, gain, offset, binning = goal.key
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
        moonlit=_moonlit(serving),
        last_useful_evening=_last(serving),
        left_after=None,
        most=sum(most),
        cannot=goal.left > sum(most),
    )


def night_told(season: PlannedSeason, number: int) -> SeasonNight:
    """One night of a season with its plan and what its sky offers."""
    night, plan, facts = season.nights[number], season.plans[number], season.nights[number].facts
    seconds = night.openings.open_s.sum(axis=1)
    offered: dict[str, list[int]] = {}
    for place, goal in enumerate(season.projects.goals):
        if goal.left:
            offered.setdefault(goal.target, []).append(place)
    problem = night.problem
    schedule = season.schedules.get(number) or schedule_of(problem, plan)
    return SeasonNight(
        rig=season.rigs[0].name,
        evening=night.evening.isoformat(),
        odds=float(season.odds[number]),
        dark_s=night.dark_s,
        moon_illuminated=facts.moon_illuminated,
        moonless_dark_s=night.moonless_dark_s,
        dusk_utc=facts.astronomical_dusk_utc,
        dawn_utc=facts.astronomical_dawn_utc,
        plan=tuple(_frames(problem, dict(enumerate(plan.frames)), plan.gathered)),
        visits=tuple(_visits(problem, schedule, night.clock)),
        targets=tuple(
            TargetOnNight(
                target=target,
                open_s=float(seconds[own].max()),
                moonless_s=float(night.openings.moonless_s[own].max()),
            )
            for target, own in offered.items()
        ),
        value_s=season.gains_s[number],
        worth_s=season.worths_s[number],
        broken_rules=season.broken.get(number, ()),
    )


def _frames(problem: Problem, frames: dict[int, int], gathered: Sequence[int] = ()) -> list[GoalFrames]:
    """The frames of some tasks, those without any left out; `gathered` is their profit by task, if told."""
    return [
        GoalFrames(
            target=problem.tasks[task].target.name,
            filter=problem.tasks[task].goal.filter,
            exposure_s=problem.tasks[task].goal.exposure_s,
            gain=problem.tasks[task].goal.gain,
            offset=problem.tasks[task].goal.offset,
            binning=problem.tasks[task].goal.binning,
            frames=count,
            counted_s=problem.weighted_seconds(gathered[task]) if gathered else None,
        )
        for task, count in frames.items()
        if count
    ]


def _visits(problem: Problem, schedule: Schedule, clock: NightClock) -> list[SeasonVisit]:
    visits = []
    for visit in schedule.visits:
        frames: dict[int, int] = {}
        for task, _ in visit.exposures:
            frames[task] = frames.get(task, 0) + 1
        visits.append(
            SeasonVisit(
                target=visit.slot.target.name,
                pier_side=visit.slot.side,
                start_utc=clock.utc(visit.depart),
                end_utc=clock.utc(visit.free),
                frames=tuple(_frames(problem, frames)),
            )
        )
    return visits


def _values(season: PlannedSeason) -> list[FrameValue]:
    values = []
    for goal, worth_s in zip(season.projects.goals, season.frame_worths_s, strict=True):
        _, _, _, gain, offset, binning = goal.key
        values.append(
            FrameValue(
                rig=season.rigs[0].name,
                target=goal.target,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                gain=gain,
                offset=offset,
                binning=binning,
                worth_s=worth_s,
                own_s=float(goal.frame_s),
            )
        )
    return values


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
