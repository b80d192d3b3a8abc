"""What a second counts by the odds of clear sky: by hand, by halves, and by the audit's own route."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.audit import audit_shot_list
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.clock import NightClock
from optimizer.sky.odds import odds_curve
from optimizer.sky.windows import sky_windows
from tests.support.scenarios.small import small_night
from tests.support.sky_cases import a_request

CLOCK = NightClock(dt.datetime(2026, 11, 14, 12, tzinfo=dt.UTC))
FALLING = [["2026-11-14T20:00:00Z", 90.0], ["2026-11-15T01:00:00Z", 90.0], ["2026-11-15T03:00:00Z", 20.5]]


def curve(*given_at: tuple[int, float]) -> Any:
    return odds_curve([(CLOCK.utc(t_s), percent) for t_s, percent in given_at], CLOCK)


def expected(odds: Any, opens_s: int, closes_s: int) -> float:
    return float(odds.between_s(opens_s, closes_s))


def test_odds_stay_before_the_first_instant_and_after_the_last_and_run_straight_between() -> None:
    odds = curve((30_000, 80.0), (30_100, 40.0))
    assert expected(odds, 0, 100) == pytest.approx(80)
    assert expected(odds, 29_900, 30_000) == pytest.approx(80)
    assert expected(odds, 30_000, 30_100) == pytest.approx(60)
    assert expected(odds, 30_050, 30_100) == pytest.approx(25)  # from 60 to 40 %: 50 s of 50 %
    assert expected(odds, 30_100, 30_200) == pytest.approx(40)
    assert expected(odds, 86_300, 86_400) == pytest.approx(40)


def test_instants_beyond_the_night_still_draw_the_line() -> None:
    odds = curve((-1000, 0.0), (1000, 100.0), (86_000, 100.0), (87_200, 0.0))
    assert expected(odds, 0, 1000) == pytest.approx(750)
    assert expected(odds, 86_000, 86_400) == pytest.approx(400 * (1 + 2 / 3) / 2)


def test_the_product_of_depth_and_odds_is_gathered_second_by_second() -> None:
    """Not the product of two sums: depth falls while the odds rise."""
    rising, falling = curve((0, 0.0), (1000, 100.0)), curve((0, 100.0), (1000, 0.0))
    assert expected(rising.times(falling), 0, 1000) == pytest.approx(1000 / 6, rel=1e-5)
    assert expected(rising, 0, 1000) * expected(falling, 0, 1000) / 1000 == pytest.approx(250)


# --- problems: nothing but the odds differs --------------------------------------------------------------


def small(seed: int, aim: str, percents: Any) -> Problem:
    """A small night by an aim with odds as given by a function of what they would be; None: without odds."""
    data = small_night(seed)
    data["aim"] |= {"value": aim}
    begin, end = (dt.datetime.fromisoformat(edge) for edge in data["night"]["clear"][0])
    if percents is not None:
        data["night"]["clear_odds"] = [
            [(begin + share * (end - begin)).replace(microsecond=0).isoformat(), percent]
            for share, percent in zip(np.linspace(0, 1, len(percents)).tolist(), percents, strict=True)
        ]
    request = request_from_data(data, f"small night {seed}")
    return build_problem(request, sky_windows(request, night_sky(request)))


def value_s(problem: Problem, plan: Any) -> float:
    return problem.weighted_seconds(profit_of(problem, plan))


@pytest.mark.parametrize("aim", ["hours", "depth"])
@pytest.mark.parametrize("seed", range(6))
def test_odds_of_100_percent_are_no_odds(seed: int, aim: str) -> None:
    without, sure = small(seed, aim, None), small(seed, aim, [100.0, 100.0])
    plan = constructed(without)
    frames = sum(run.frames for visit in plan for run in visit.runs)
    assert [slot.shutter for slot in without.slots] == [slot.shutter for slot in sure.slots]
    assert value_s(sure, plan) == pytest.approx(value_s(without, plan), abs=0.001 * (frames + 1))


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 30),
    aim=st.sampled_from(["hours", "depth"]),
    percents=st.lists(st.floats(2, 100), min_size=1, max_size=4),
)
def test_half_the_odds_are_half_the_value(seed: int, aim: str, percents: list[float]) -> None:
    whole, half = small(seed, aim, percents), small(seed, aim, [percent / 2 for percent in percents])
    plan = constructed(whole)
    frames = sum(run.frames for visit in plan for run in visit.runs)
    assert value_s(half, plan) == pytest.approx(value_s(whole, plan) / 2, abs=0.001 * (frames + 1))


def test_odds_close_no_window() -> None:
    without, never = small(3, "hours", None), small(3, "hours", [0.0])
    assert without.slots
    assert never.slots == ()  # nothing counts anything: nothing is planned
    windows = [
        sky_windows(request, night_sky(request)).targets
        for request in (on_a_night(None), on_a_night([["2026-11-14T20:00:00Z", 0.0]]))
    ]
    for name in windows[0]:
        assert windows[0][name].shutter == windows[1][name].shutter
        assert windows[0][name].acquisition == windows[1][name].acquisition


# --- a plan and its audit --------------------------------------------------------------------------------


def on_a_night(odds: Any, aim: str = "hours") -> Request:
    targets = [
        {"name": "early", "ra_deg": 350.0, "dec_deg": 40.0, "weight": 1.5},
        {"name": "late", "ra_deg": 90.0, "dec_deg": 45.0},
    ]
    goals = [{"filter": "L", "exposure_s": 170.5, "frames": 80}]
    return a_request(
        evening="2026-11-14",
        night={"clear_odds": odds} if odds else {},
        targets=[{**target, "goals": goals} for target in targets],
        aim={"value": aim, "time_limit_s": 0.5, "workers": 1, "gap": 0.05},
    )


@lru_cache
def planned(aim: str) -> ShotList:
    return Night(on_a_night(FALLING, aim)).plan()


@pytest.mark.parametrize("aim", ["hours", "depth"])
def test_audit_finds_the_same_value_and_expectation_by_its_own_route(aim: str) -> None:
    shots = planned(aim)
    assert shots.audit_report.violations == ()
    assert shots.totals.expected_s is not None
    assert 0.2 * shots.totals.open_shutter_s < shots.totals.expected_s < 0.9 * shots.totals.open_shutter_s
    assert (shots.totals.depth_s is not None) == (aim == "depth")
    if aim == "hours":
        assert shots.totals.expected_s < shots.proof.objective < 1.5 * shots.totals.expected_s


@pytest.mark.parametrize("aim", ["hours", "depth"])
@pytest.mark.parametrize(
    ("part", "key", "change", "rule"),
    [
        ("totals", "expected_s", 0.01, "totals"),
        ("totals", "expected_s", -0.01, "totals"),
        ("totals", "expected_s", None, "totals"),
        ("proof", "objective", 20.0, "proof"),
        ("proof", "objective", -20.0, "proof"),
    ],
)
def test_what_is_told_wrong_is_found(aim: str, part: str, key: str, change: float | None, rule: str) -> None:
    shots = planned(aim)
    held = getattr(shots, part)
    told = None if change is None else getattr(held, key) + change
    broken = shots.model_copy(update={part: held.model_copy(update={key: told})})
    assert rule in {violation.rule for violation in audit_shot_list(broken).violations}


def test_odds_that_were_changed_after_planning_are_found() -> None:
    shots = planned("hours")
    night = shots.request.night
    better = tuple((instant, min(100.0, percent + 0.5)) for instant, percent in night.clear_odds)
    request = shots.request.model_copy(update={"night": night.model_copy(update={"clear_odds": better})})
    broken = shots.model_copy(update={"request": request})
    assert {"totals", "proof"} <= {violation.rule for violation in audit_shot_list(broken).violations}


def test_expected_seconds_are_not_told_where_no_odds_are_given() -> None:
    shots = planned("hours")
    night = shots.request.night.model_copy(update={"clear_odds": ()})
    bare = shots.model_copy(update={"request": shots.request.model_copy(update={"night": night})})
    words = [violation.message for violation in audit_shot_list(bare).violations]
    assert "expected_s is given, but night.clear_odds is not" in words


def test_good_odds_draw_the_exposures_that_the_plan_may_choose() -> None:
    """With far less wanted than the night holds, hours alone would not care when; odds choose the best hours."""
    odds = [["2026-11-14T21:00:00Z", 10.0], ["2026-11-15T00:00:00Z", 95.0], ["2026-11-15T03:00:00Z", 10.0]]
    request = a_request(
        night={"clear_odds": odds},
        targets=[{"name": "A", "ra_deg": 60.0, "dec_deg": 45.0}],
        aim={"time_limit_s": 0.5, "workers": 1},
    )
    shots = Night(request).plan()
    opened = [step.start_utc for step in shots.steps if step.kind == "expose"]
    best = dt.datetime(2026, 11, 15, tzinfo=dt.UTC)
    assert len(opened) == 10
    assert opened[0] < best < opened[-1]
