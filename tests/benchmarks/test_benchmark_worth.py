"""The benchmarks of what a night is worth count what their tables say."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from benchmarks.seasons import BALANCE, LISTS, Goals, Law, goals_of, progress_s, request_of, slowest, weather
from benchmarks.seasons_table import seasons_text
from benchmarks.worth import AIMS, least_slack_s, moonless_dark, set_shares
from benchmarks.worth_nights import TWELVE
from benchmarks.worth_table import worth_text
from optimizer.diagnostics.object_places import separation_deg
from optimizer.models.shots import Step
from optimizer.problem.filter_sets import progress_of
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.facts import night_facts
from tests.support.report_cases import planned

LEVELS = [(0.0, 0.0, 0.0), (0.2, 0.5, 1.0), (0.5, 0.5, 0.1), (1.0, 1.0, 1.0), (0.3, 0.3, 0.9)]


def test_twelve_nights_are_requests_from_new_to_full_moon_with_three_kinds_of_lists() -> None:
    lit: dict[str, list[float]] = {}
    for night in TWELVE:
        request = request_from_data(night.request({}), f"night {night.number}")
        lit.setdefault(night.kind, []).append(night_facts(request, night_sky(request)).moon_illuminated)
        places = [(target.ra_deg, target.dec_deg) for target in request.targets]
        assert 5 <= len(places) <= 9
        for number, one in enumerate(places):
            assert all(separation_deg(*one, *other) > 0.5 for other in places[:number]), night.number
    assert {kind: len(nights) for kind, nights in lit.items()} == {"mixed": 6, "LRGB": 3, "narrowband": 3}
    assert min(lit["mixed"]) < 0.05
    assert max(lit["mixed"]) > 0.95


@pytest.mark.parametrize("shares", LEVELS, ids=str)
def test_progress_of_a_set_is_that_of_the_planner(shares: tuple[float, ...]) -> None:
    whole = [7200, 3600, 5400]
    wanted = [Fraction(each) for each in whole]
    reached = [Fraction(share) * each for share, each in zip(shares, wanted, strict=True)]
    found = progress_s(np.array(whole, dtype=float), np.array(shares))
    assert found == pytest.approx(float(progress_of(wanted, reached)))


@pytest.mark.parametrize("shares", LEVELS, ids=str)
def test_slowest_half_is_half_of_the_hours(shares: tuple[float, ...]) -> None:
    whole_s = np.array([7200.0, 3600.0, 5400.0])
    counts = slowest(whole_s, np.array(shares))
    assert float(counts @ whole_s) == pytest.approx(float(whole_s.sum()))
    assert counts.min() >= 0
    assert counts.max() <= 2


def test_law_of_a_season_keeps_to_its_slope() -> None:
    """Between levels the value grows by the slope; no step brings more, since the law is concave."""
    goals = Goals(
        names=(("A", "L"), ("A", "R"), ("B", "Ha")),
        wanted=np.array([60.0, 20.0, 30.0]),
        frame_s=np.array([120.0, 180.0, 300.0]),
        sets=(np.array([0, 1]),),
    )
    factors = np.array([1.2, 0.9, 1.0])
    law = Law(goals, np.array([30.0, 4.0, 0.0]), factors, BALANCE)
    nothing, slope = np.zeros(3), law.slope(np.zeros(3))
    assert law.value(nothing) == 0.0
    assert slope[2] == 1.0  # in no set
    rng = np.random.default_rng(1)
    for step in rng.uniform(0, 1, (40, 3)) * np.array([3600.0, 2880.0, 9000.0]):
        assert law.value(step) <= float((slope * factors) @ step) + 1e-6
    assert law.value(np.array([0.0, 60.0, 0.0])) == pytest.approx(60 * 0.9 * slope[1])


@pytest.mark.parametrize("like_before", [0.5, 0.6])
def test_weathers_have_their_odds_and_their_seed(like_before: float) -> None:
    clear = weather(2000, 7, like_before)
    assert np.array_equal(clear, weather(2000, 7, like_before))
    assert clear.mean() == pytest.approx(0.5, abs=0.02)
    assert (clear[:, 1:] == clear[:, :-1]).mean() == pytest.approx(like_before, abs=0.02)


def test_goals_of_a_season_stand_in_the_order_of_tasks_and_stars_in_no_set() -> None:
    first, targets = LISTS["mixed, from October"]
    goals = goals_of(request_of(dt.date.fromisoformat(first), targets))
    assert list(goals.names) == sorted(goals.names, key=lambda name: name[0])
    assert len(goals.sets) == len(targets)
    beside = set(range(len(goals.names))) - {place for own in goals.sets for place in own.tolist()}
    assert {goals.names[place] for place in beside} == {("Rosette", name) for name in "RGB"}


def test_figures_of_a_list_are_read_off_its_steps() -> None:
    shots = planned()
    shares = set_shares(shots)
    for target in shots.request.targets:
        before, after = shares[target.name]
        assert 0 <= before <= after <= 1
    dark_s, given = moonless_dark(shots, night_sky(shots.request))
    assert 0 < dark_s < 86400
    assert 0 < sum(given.values()) <= shots.totals.open_shutter_s
    assert least_slack_s(shots.steps) == shots.totals.least_slack_s


def test_slack_is_not_asked_of_waits_and_of_rows_without_a_latest_start() -> None:
    start = dt.datetime(2026, 11, 14, 22, tzinfo=dt.UTC)

    def step(kind: Any, spare_s: int | None) -> Step:
        latest = None if spare_s is None else start + dt.timedelta(seconds=spare_s)
        return Step(step=1, kind=kind, start_utc=start, end_utc=start, latest_start_utc=latest)

    assert least_slack_s([step("wait", 3), step("park", 4), step("focus", None)]) is None
    assert least_slack_s([step("wait", 3), step("expose", 70), step("flip", 61)]) == 61


def _run(aim: str, open_h: float, broadband_s: int) -> dict[str, Any]:
    return {
        "night": 2, "evening": "2026-11-18", "kind": "mixed", "aim": aim, "moon_lit": 0.64, "targets": 7,
        "touched": 1, "touched_shares": [[0.1, 0.3]], "moonless_s": 10000, "broadband_s": broadband_s,
        "open_s": open_h * 3600, "gap": 0.005, "least_slack_s": 19, "violations": [], "plan": "now",
    }  # fmt: skip


def test_table_tells_the_price_and_marks_what_was_said_of_another_plan() -> None:
    first, second, third = AIMS
    runs = [_run(first, 10.0, 1000), _run(second, 9.5, 6000), _run(third, 9.75, 6000)]
    raw = {"date": "2026-11-30T00:00:00", "commit": "c", "time_limit_s": 10, "machine": "m", "runs": runs}
    said = {
        "date": "2026-11-30",
        "2": {first: {"plan": "now", "says": "No colour."}, second: {"plan": "old", "says": "Too thin."}},
    }
    lines = worth_text(raw, said, tuple(AIMS)).splitlines()
    (row,) = [line for line in lines if line.startswith("| 2 ") and f"| {second} |" in line]
    assert "| 10% to 30% |" in row
    assert "| 60% (2.8 h) |" in row
    assert "| +0.50 h |" in row
    assert f"- *{first}*: No colour." in lines
    assert f"- *{second}*: Too thin. (said of an earlier plan)" in lines
    assert f"- *{third}*: not looked at." in lines


def test_what_was_said_is_broken_into_lines_that_belong_to_one_item() -> None:
    aim = next(iter(AIMS))
    raw = {
        "date": "2026-11-30T00:00:00",
        "commit": "c",
        "time_limit_s": 10,
        "machine": "Linux x86_64, 2 cores",
    }
    long = " ".join(["Luminance alone on two galaxies under half a Moon;"] * 5)
    said = {"date": "2026-11-30", "2": {aim: {"plan": "now", "says": long}}}
    lines = worth_text({**raw, "runs": [_run(aim, 10.0, 1000)]}, said, (aim,)).splitlines()
    assert max(len(line) for line in lines if not line.startswith("|")) <= 110
    (first,) = [at for at, line in enumerate(lines) if line.startswith(f"- *{aim}*: Luminance")]
    item = lines[first:]
    assert all(line.startswith("  ") for line in item[1:])
    assert " ".join(line.strip() for line in item) == f"- *{aim}*: {long}"


def test_table_of_seasons_tells_the_change_and_its_spread() -> None:
    keys = ("open_h", "depth_h", "balanced_h", "balanced_depth_h", "complete_sets", "complete_h")
    metrics = {
        aim: [dict.fromkeys(keys, value + season) for season in range(11)]
        for aim, value in (("hours", 10.0), ("defaults", 12.0))
    }
    found = {"targets": 3, "wanted_h": 40.0, "metrics": {"independent": metrics}}
    raw = {"date": "2026-11-30", "commit": "c", "seasons": 11, "seed": 1, "seconds": 9, "lists": {"A": found}}
    text = seasons_text(raw, "hours", "defaults")
    assert "| open shutter, h | 15.0 | 17.0 | +2.0 (+13%) | +2.0 to +2.0 |" in text
