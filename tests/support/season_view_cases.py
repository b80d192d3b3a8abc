"""A season of four nights over a small request that can be planned: its sky is written by hand, its plans too."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Literal

from optimizer.models.request import Request
from optimizer.models.season import (
    FrameValue,
    GoalFrames,
    Project,
    RigOfSeason,
    SeasonFile,
    SeasonNight,
    SeasonPolicy,
    SeasonProof,
    TargetOnNight,
    counts_sha256,
    request_sha256,
)
from optimizer.models.shots import Tool
from optimizer.models.targets import goal_key
from optimizer.reading.load import request_from_data

EVENINGS = ("2026-11-14", "2026-11-15", "2026-11-16", "2026-11-17")
HIGH, LOW, DONE, SOUTH = "High", "Low", "Done", "South"  # the last one never rises at this site
WORTHS = {(HIGH, "L"): 60.0, (HIGH, "Ha"): 450.0, (LOW, "L"): 120.0, (DONE, "L"): 0.0, (SOUTH, "L"): 12.0}


def season_request(**aim: Any) -> Request:
    """A German mount and four targets: two that can be shot tonight, one in hand, one that never rises."""
    places = {HIGH: (60.0, 40.0), LOW: (30.0, 0.0), DONE: (70.0, 45.0), SOUTH: (60.0, -80.0)}
    goals: dict[str, list[dict[str, Any]]] = {
        HIGH: [
            {"filter": "L", "exposure_s": 120, "frames": 60, "done": 10},
            {"filter": "Ha", "exposure_s": 300, "frames": 24},
        ],
        LOW: [{"filter": "L", "exposure_s": 120, "frames": 40}],
        DONE: [{"filter": "L", "exposure_s": 120, "frames": 8, "done": 8}],
        SOUTH: [{"filter": "L", "exposure_s": 120, "frames": 8}],
    }
    weights = {LOW: 0.5}
    return request_from_data(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": EVENINGS[0]},
            "site": {"latitude_deg": 45, "longitude_deg": 5, "floor_deg": 30, "time_zone": "Europe/Paris"},
            "mount": {"contact_min": 40},
            "filters": [{"name": "L"}, {"name": "Ha"}],
            "targets": [
                {
                    "name": name,
                    "ra_deg": ra,
                    "dec_deg": dec,
                    "weight": weights.get(name, 1.0),
                    "goals": goals[name],
                }
                for name, (ra, dec) in places.items()
            ],
            "aim": {"value": "hours", "scarcity": 0, "time_limit_s": 2, "workers": 1, **aim},
        },
        "a small season",
    )


def frames(target: str, filter_name: str, number: int, exposure_s: float, counted_s: float) -> GoalFrames:
    """Frames that a later night takes."""
    return GoalFrames(
        target=target, filter=filter_name, exposure_s=exposure_s, frames=number, counted_s=counted_s
    )


PLANS = (
    (frames(HIGH, "L", 20, 120.0, 2400.0),),
    (frames(HIGH, "L", 50, 120.0, 6000.0),),
    (frames(LOW, "L", 30, 120.0, 1800.0), frames(HIGH, "Ha", 10, 300.0, 3000.0)),
    (),
)
OPEN_S = {HIGH: (30_000.0,) * 4, LOW: (9_000.0, 9_000.0, 9_000.0, 0.0), SOUTH: (0.0,) * 4}
MOONLESS_DARK_S = (40_000.0, 15_000.0, 30_000.0, 10_000.0)  # of 40,000 s


def season_night(number: int) -> SeasonNight:
    """A night with odds of one half; the second and the fourth are moonlit."""
    return SeasonNight(
        rig="rig",
        evening=EVENINGS[number],
        odds=0.5,
        dark_s=40_000.0,
        moon_illuminated=0.3,
        moonless_dark_s=MOONLESS_DARK_S[number],
        dusk_utc=None,
        dawn_utc=None,
        plan=PLANS[number],
        visits=(),
        targets=tuple(
            TargetOnNight(target=name, open_s=seconds[number], moonless_s=30_000.0)
            for name, seconds in OPEN_S.items()
        ),
        value_s=0.0,
        worth_s=0.0,
    )


def policy(name: Literal["scarce hours", "season values"]) -> SeasonPolicy:
    """What was simulated, by that policy."""
    return SeasonPolicy(
        name=name,
        seasons=200,
        seed=1,
        persistence=0.0,
        share_of_bound=0.9,
        share_low=0.8,
        share_high=0.95,
        mean_value_s=1.0,
        seconds=1.0,
    )


def projects_of_rigs(rigs: Sequence[tuple[str, Request]]) -> tuple[Project, ...]:
    """A project for each target of the rigs, of which no night can serve any and nothing was simulated."""
    of_target: dict[str, list[str]] = {}
    for name, request in rigs:
        for target in request.targets:
            of_target.setdefault(target.name, []).append(name)
    return tuple(
        Project(
            target=target,
            rigs=tuple(names),
            weight=1.0,
            wanted_s=0.0,
            in_hand_s=0.0,
            planned_s=0.0,
            nights=0,
            last_useful_evening=None,
            finish_50=None,
            finish_90=None,
            finish_share=None,
            left_after=None,
            goals=(),
        )
        for target, names in of_target.items()
    )


def a_season(
    request: Request | None = None,
    by: Literal["scarce hours", "season values"] = "scarce hours",
    **changes: Any,
) -> SeasonFile:
    """The season of a request; `by` is the policy for tonight."""
    request = request or season_request()
    given: dict[str, Any] = {
        "schema_": "darkfill-season/1",
        "tool": Tool(name="darkfill", version="0", ortools="0", astropy="0", numpy="0"),
        "created_utc": dt.datetime(2026, 11, 14, 15, tzinfo=dt.UTC),
        "rigs": (
            RigOfSeason(
                name="rig",
                request=request,
                request_sha256=request_sha256(request),
                counts_sha256=counts_sha256(request),
            ),
        ),
        "nights": tuple(season_night(number) for number in range(len(EVENINGS))),
        "projects": projects_of_rigs((("rig", request),)),
        "values": tuple(
            FrameValue(
                target=target.name,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                worth_s=WORTHS[target.name, goal.filter],
                own_s=goal.exposure_s * target.weight,
            )
            for target, goal in request.goals()
        ),
        "months": (),
        "proof": SeasonProof(
            by="hours",
            balance=request.aim.balance,
            value=1.0,
            bound=1.0,
            gap=0.0,
            ended="gap",
            rounds=1,
            seconds=1.0,
        ),
        "policy": policy(by),
    }
    return SeasonFile(**{**given, **changes})


NORTH, WIDE = "north", "wide"


def wide_request() -> Request:
    """The request of another rig, which takes but one goal of the small season, with a camera of its own."""
    request = season_request()
    high = request.targets[0]
    goal = high.goals[0].model_copy(update={"gain": 100})
    targets = (high.model_copy(update={"goals": (goal,)}),)
    return request.model_copy(update={"rig": WIDE, "targets": targets})


def season_of_two(**changes: Any) -> SeasonFile:
    """The small season of two rigs: the second takes ten subs of a goal of the first on each night.

    As it was planned, ten subs of that goal were in hand that either rig counts, and five more of the second.
    """
    north = a_season(season_request(), **changes)
    request = wide_request()
    five = changed_goal(request, HIGH, "L", done=15)
    nights = []
    for night in north.nights:
        taken = frames(HIGH, "L", 10, 120.0, 1200.0).model_copy(update={"gain": 100})
        open_s = tuple(each for each in night.targets if each.target == HIGH)
        plan = tuple(
            each.model_copy(update={"frames": 45, "counted_s": 5400.0}) if each.frames == 50 else each
            for each in night.plan
        )
        nights.append(night.model_copy(update={"rig": NORTH, "plan": plan}))
        nights.append(night.model_copy(update={"rig": WIDE, "plan": (taken,), "targets": open_s}))
    rigs = (
        north.rigs[0].model_copy(update={"name": NORTH, "elsewhere": (5, 0, 0, 0, 0)}),
        RigOfSeason(
            name=WIDE,
            request=five,
            request_sha256=request_sha256(request),
            counts_sha256=counts_sha256(five),
        ),
    )
    own = [value.model_copy(update={"rig": NORTH}) for value in north.values]
    others = own[0].model_copy(update={"rig": WIDE, "gain": 100, "worth_s": 90.0})
    projects = projects_of_rigs([(each.name, each.request) for each in rigs])
    update = {"rigs": rigs, "nights": tuple(nights), "projects": projects, "values": (*own, others)}
    return north.model_copy(update=update)


def changed_goal(request: Request, target: str, filter_name: str, **changes: Any) -> Request:
    """The request with other numbers in one goal."""
    targets = tuple(
        each.model_copy(
            update={
                "goals": tuple(
                    goal.model_copy(update=changes)
                    if (each.name, goal.filter) == (target, filter_name)
                    else goal
                    for goal in each.goals
                )
            }
        )
        for each in request.targets
    )
    return request.model_copy(update={"targets": targets})


def goal_keys(request: Request) -> list[object]:
    """What each goal is known by, in order."""
    return [goal_key(target, goal) for target, goal in request.goals()]
