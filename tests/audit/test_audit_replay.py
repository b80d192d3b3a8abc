"""How a list becomes visits and runs, whatever its rows say."""

from __future__ import annotations

import datetime as dt
from typing import Any, cast

import pytest

from optimizer.audit.clock import Clock
from optimizer.audit.registry import LIST_RULE_NAMES, RULES, STEP_RULE_NAMES
from optimizer.audit.replay import Replay, replay
from optimizer.audit.rows import EAST, NO_SIDE, WEST, goal_caps, read_rows
from optimizer.models.shots import Step
from tests.support.audit_requests import a_request

START = dt.datetime(2026, 11, 14, 22, tzinfo=dt.UTC)
REQUEST = a_request([(10.0, 20.0), (30.0, 40.0)])


def follow(text: str) -> Replay:
    """Words like `slew:T0:west`, `expose:T0`, `wait` (idle), `wait+` (tracking), `park`; a minute each."""
    steps = []
    for number, word in enumerate(text.split(), start=1):
        kind, target, side = [*word.split(":"), "", ""][:3]
        start = START + dt.timedelta(minutes=number)
        steps.append(
            Step(
                step=number,
                kind=cast(Any, kind.rstrip("+")),
                start_utc=start,
                end_utc=start + dt.timedelta(minutes=1),
                target=target or None,
                pier_side=cast(Any, side or None),
                tracking=kind not in ("wait", "park"),
                exposure_s=50.0 if kind == "expose" else None,
                filter="L" if kind == "expose" else None,
            )
        )
    return replay(read_rows(REQUEST, steps, Clock(START)))


def test_each_arrival_opens_a_visit() -> None:
    found = follow(
        "slew:T0:west expose:T0:west flip:T0:east expose:T0:east wait slew:T1:west expose:T1:west park"
    )
    assert [(visit.target, visit.side) for visit in found.visits] == [(0, WEST), (0, EAST), (1, WEST)]
    assert [visit.before for visit in found.visits] == [None, *found.visits[:2]]
    assert [state.tracks for state in found.before] == [False, True, True, True, True, False, True, True]
    assert found.visit_of[4] is None
    assert found.visit_of[7] is None


def test_rows_without_an_arrival_open_a_visit_of_their_own() -> None:
    found = follow("expose:T0:west wait expose:T0:west slew:T0:west wait+ expose:T0:west park")
    assert [visit.arrival is None for visit in found.visits] == [True, True, False]
    assert [len(visit.rows) for visit in found.visits] == [1, 1, 2]


def test_target_and_side_are_taken_from_the_rows_where_the_arrival_tells_none() -> None:
    found = follow("slew settle:T1 expose:T0:east")
    assert [(visit.target, visit.side) for visit in found.visits] == [(1, EAST)]
    assert follow("slew settle").visits[0].side == NO_SIDE


@pytest.mark.parametrize(
    ("between", "runs"),
    [("", 1), ("dither:T0", 1), ("focus:T0 dither:T0", 1), ("wait+:T0", 2), ("filter:T0", 2)],
)
def test_what_ends_a_run(between: str, runs: int) -> None:
    found = follow(f"slew:T0:west expose:T0:west {between} expose:T0:west")
    assert len(found.visits[0].runs) == runs


def test_tracking_ends_with_the_shutter() -> None:
    """The row lasts a minute, its shutter is open for 50 s."""
    visit = follow("slew:T0:west expose:T0:west park").visits[0]
    assert visit.tracked_until == 2 * 60 + 50
    assert follow("slew:T0:west focus:T0:west park").visits[0].tracked_until == 3 * 60


def test_caps_are_what_goals_still_lack() -> None:
    assert set(goal_caps(REQUEST).values()) == {500}


def test_rules_have_stable_names() -> None:
    """Reports, tests and people refer to these; a rule may be added, none renamed."""
    assert {
        "contiguous",
        "ends_with_park",
        "within_night",
        "step_length",
        "slew_time",
        "known_target",
        "known_filter",
        "coordinates",
        "position_angle",
        "goal_match",
        "frames",
        "acquired",
        "rotator",
        "light_path",
        "pier_side",
        "sides",
        "one_run",
        "visits",
        "straddle",
        "sun_down",
        "darkness",
        "floor",
        "skyline",
        "moon_gap",
        "moonlight",
        "clear",
        "blocked",
        "acquisition",
        "contact",
        "flip_from",
        "lower_culmination",
        "quiet",
        "focus_new_target",
        "focus_after_flip",
        "focus_filter",
        "focus_every",
        "dither_every",
        "least_visit",
        "tracking",
        "latest_start",
        "columns",
        "totals",
        "proof",
        "night_facts",
    } <= {*STEP_RULE_NAMES, *LIST_RULE_NAMES}
    assert len({*STEP_RULE_NAMES, *LIST_RULE_NAMES}) == len(STEP_RULE_NAMES) + len(LIST_RULE_NAMES)
    assert all(type(rule).__doc__ for rule in RULES)
