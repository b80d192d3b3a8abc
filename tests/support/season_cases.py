"""A season written by hand, with all that can be told of one: no search, no weather, no sky."""

from __future__ import annotations

import datetime as dt
from typing import Any

from optimizer.models.season import (
    FrameValue,
    GoalFrames,
    MonthWorth,
    Project,
    ProjectGoalState,
    ProjectStep,
    RigOfSeason,
    SeasonFile,
    SeasonNight,
    SeasonPolicy,
    SeasonProof,
    SeasonVisit,
    TargetOnNight,
)
from optimizer.models.shots import Tool
from tests.support.report_cases import a_request

FIRST = dt.date(2026, 11, 14)
MADE = dt.datetime(2026, 11, 14, 15, 0, tzinfo=dt.UTC)  # in the afternoon before the first night
NAMES = ("Cradle", "=Heart", "Lion in the Spring Sky, far off")


def evening(number: int) -> str:
    return (FIRST + dt.timedelta(days=number)).isoformat()


def frames(target: str, filter_name: str, count: int, exposure_s: float = 300.0) -> GoalFrames:
    return GoalFrames(target=target, filter=filter_name, exposure_s=exposure_s, gain=100, frames=count)


def night(number: int, **changes: Any) -> SeasonNight:
    """A night with two visits, the second one through two filters."""
    dusk = dt.datetime.combine(FIRST + dt.timedelta(days=number), dt.time(18, 30), tzinfo=dt.UTC)
    first, second = (
        frames(NAMES[0], "L", 24, 120.0),
        (frames(NAMES[1], "Ha", 20), frames(NAMES[1], "OIII", 6)),
    )
    visits = (
        SeasonVisit(
            target=NAMES[0],
            pier_side="west",
            start_utc=dusk,
            end_utc=dusk + dt.timedelta(minutes=58),
            frames=(first,),
        ),
        SeasonVisit(
            target=NAMES[1],
            pier_side="east",
            start_utc=dusk + dt.timedelta(minutes=58),
            end_utc=dusk + dt.timedelta(hours=3, minutes=31),
            frames=second,
        ),
    )
    given: dict[str, Any] = {
        "rig": "rig",
        "evening": evening(number),
        "odds": 0.45,
        "dark_s": 40_123.4,
        "moon_illuminated": 0.27,
        "moonless_dark_s": 22_440.0,
        "dusk_utc": dusk,
        "dawn_utc": dusk + dt.timedelta(hours=11),
        "plan": (first, *second),
        "visits": visits,
        "targets": tuple(
            TargetOnNight(target=name, open_s=20_000.0, moonless_s=30_000.0) for name in NAMES[:2]
        ),
        "value_s": 3_600.0,
        "worth_s": 9_000.0,
    }
    return SeasonNight(**{**given, **changes})


def goal(filter_name: str, wanted: int, in_hand: int, nights: int, **changes: Any) -> ProjectGoalState:
    given: dict[str, Any] = {
        "filter": filter_name,
        "exposure_s": 300.0,
        "gain": 100,
        "wanted": wanted,
        "in_hand": in_hand,
        "planned": 10.0,
        "nights": nights,
        "last_useful_evening": evening(2) if nights else None,
        "left_after": 0.4,
    }
    return ProjectGoalState(**{**given, **changes})


def project(target: str, **changes: Any) -> Project:
    given: dict[str, Any] = {
        "target": target,
        "rigs": ("rig",),
        "weight": 1.0,
        "wanted_s": 36_000.0,
        "in_hand_s": 9_000.0,
        "planned_s": 20_000.0,
        "nights": 3,
        "last_useful_evening": evening(2),
        "finish_50": evening(1),
        "finish_90": evening(2),
        "finish_share": 0.93,
        "left_after": 900.0,
        "goals": (goal("Ha", 72, 18, 3), goal("OIII", 48, 12, 3)),
    }
    return Project(**{**given, **changes})


PROJECTS = (
    project(NAMES[0]),
    project(
        NAMES[1],
        finish_50=None,
        finish_90=None,
        finish_share=0.31,
        last_useful_evening=evening(3),
        left_after=13_000.0,
        steps=(
            ProjectStep(
                change="clear_night",
                sentence="with one more clear night it is finished in 48 % of 200 simulated seasons, without in 31 %",
                finish_share=0.48,
            ),
            ProjectStep(
                change="half_the_frames",
                sentence="with half the subs wanted it is finished in 96 % of 200 simulated seasons, without in 31 %",
                finish_share=0.96,
            ),
        ),
    ),
    project(
        NAMES[2],
        nights=0,
        last_useful_evening=None,
        finish_50=None,
        finish_90=None,
        finish_share=0.0,
        left_after=27_000.0,
        planned_s=0.0,
        cannot=True,
        goals=(goal("L", 90, 0, 0, most=0, cannot=True),),
    ),
    project("Old Friend", in_hand_s=36_000.0, finish_50=evening(0), finish_90=evening(0), finish_share=1.0,
            left_after=0.0, planned_s=0.0, goals=(goal("L", 90, 90, 0),)),
)  # fmt: skip
NOTHING: dict[str, Any] = {"plan": (), "visits": (), "value_s": 0.0}


def season(**changes: Any) -> SeasonFile:
    """Four nights, the last of which has no plan; four projects: likely, unlikely, impossible, in hand."""
    given: dict[str, Any] = {
        "schema": "darkfill-season/1",
        "tool": Tool(name="darkfill", version="0.1.0", ortools="9", astropy="7", numpy="2"),
        "created_utc": MADE,
        "rigs": (
            RigOfSeason(name="rig", request=a_request(), request_sha256="a" * 64, counts_sha256="b" * 64),
        ),
        "nights": (night(0), night(1), night(2, moonless_dark_s=40_123.4), night(3, **NOTHING)),
        "projects": PROJECTS,
        "values": (
            FrameValue(target=NAMES[0], filter="L", exposure_s=120.0, gain=100, worth_s=80.0, own_s=120.0),
        ),
        "months": (MonthWorth(month="2026-11", nights=4, clear_nights=1.8, worth_s=9_000.0),),
        "proof": SeasonProof(
            by="depth",
            balance=0.3,
            value=542_000.0,
            bound=550_001.0,
            gap=8_001 / 542_000,
            ended="rounds",
            rounds=3,
            seconds=61.0,
        ),
        "policy": SeasonPolicy(
            name="scarce hours",
            seasons=200,
            seed=1,
            persistence=0.3,
            share_of_bound=0.846,
            share_low=0.71,
            share_high=0.93,
            mean_value_s=430_000.0,
            seconds=12.0,
        ),
    }
    return SeasonFile(**{**given, **changes})
