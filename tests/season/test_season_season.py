"""The season from beginning to end, on real skies: what the file says is so, and one night is planned as ever."""

from __future__ import annotations

import datetime as dt
import time
from fractions import Fraction
from typing import Any

import pytest

from benchmarks.season_lists import season_data
from optimizer import plan
from optimizer.models.request import Request
from optimizer.models.season import SeasonFile
from optimizer.reading.load import request_from_data
from optimizer.season import season as of_season
from optimizer.season.desk import Desk, NightRef, only_rig
from optimizer.season.engines.engine import engine_of
from optimizer.season.laid import TellablePlan, laid_out
from optimizer.season.limits import Limits
from optimizer.season.planned import NightPlan
from optimizer.season.progress import SeasonProgress
from optimizer.season.projects import projects_of
from optimizer.season.rounds import Rounds
from optimizer.season.season import season_of
from optimizer.season.worths import frame_worths_s


def _request(nights: int, **keys: Any) -> Request:
    data = season_data(3, nights, balance=0.3, odds=0.5)
    data["aim"] |= {"time_limit_s": 0.3, "workers": 1, "gap": 0.0, "slack_s": 0} | keys.pop("aim", {})
    data["season"] |= keys
    return request_from_data(data, "a short season")


@pytest.fixture(scope="module")
def short() -> SeasonFile:
    """Three nights, of which the second cannot be clear."""
    request = _request(3, clear_odds_by_evening=[["2026-11-02", 0.0]])
    return season_of(request, engine="threads", workers=1, rounds=1, gap=0.0)


def test_value_is_the_law_over_the_plans_of_all_nights(short: SeasonFile) -> None:
    projects = projects_of(short.request)
    gathered, taken = [Fraction(0)] * len(projects.goals), [Fraction(0)] * len(projects.goals)
    for night in short.nights:
        for each in night.plan:
            numbers = [
                number
                for number, goal in enumerate(projects.goals)
                if (goal.target, goal.filter, goal.exposure_s) == (each.target, each.filter, each.exposure_s)
            ]
            taken[numbers[0]] += Fraction(repr(night.odds)) * each.frames
            gathered[numbers[0]] += (
                Fraction(repr(night.odds)) * each.frames * projects.goals[numbers[0]].frame_s
            )
    value_s = projects.value_s(gathered)
    assert 0 <= value_s - Fraction(repr(short.proof.value)) < Fraction(1, 1000)
    assert all(more <= most for more, most in zip(taken, projects.left.tolist(), strict=True))
    assert short.proof.value <= short.proof.bound
    assert short.proof.gap == pytest.approx((short.proof.bound - short.proof.value) / short.proof.value)


def test_a_night_that_cannot_be_clear_has_no_plan(short: SeasonFile) -> None:
    assert [bool(night.plan) for night in short.nights] == [True, False, True]
    assert short.nights[1].value_s == 0
    assert all(short.nights[each].value_s > 0 for each in (0, 2))


def test_it_ends_after_the_rounds_asked_for(short: SeasonFile) -> None:
    assert short.proof.ended == "rounds"
    assert short.proof.rounds == 1


def test_one_night_is_planned_as_without_a_season() -> None:
    request = _request(1)
    season, told = season_of(request, engine="threads", workers=1), plan(request)
    (night,) = season.nights
    shots = [step for step in told.steps if step.kind == "expose"]
    frames = {(each.target, each.filter): each.frames for each in night.plan}
    assert frames == {
        key: sum((step.target, step.filter) == key for step in shots)
        for key in {(step.target, step.filter) for step in shots}
    }
    slews = [step.start_utc for step in told.steps if step.kind in ("slew", "flip")]
    assert [visit.start_utc for visit in night.visits] == slews
    assert season.proof.value == pytest.approx(told.proof.objective / 2, abs=0.002)  # odds of one half
    assert season.proof.bound <= told.proof.bound / 2 + 0.002


def _refused_on_the_second(desk: Desk, ref: NightRef, own: NightPlan) -> tuple[tuple[str, ...], TellablePlan]:
    """A job: the audit, which finds fault with the second night whatever is planned there."""
    broken, told = laid_out(desk, ref, own)
    return ("floor",) if ref.evening.day == 2 else broken, told


def test_a_plan_that_breaks_a_rule_is_not_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(of_season, "laid_out", _refused_on_the_second)
    season = season_of(_request(2), engine="threads", workers=1, rounds=0, gap=0.0)
    assert [bool(night.plan) for night in season.nights] == [True, False]
    assert [night.broken_rules for night in season.nights] == [(), ("floor",)]
    assert season.proof.value == pytest.approx(season.nights[0].value_s, abs=0.001)


def test_plans_found_before_ctrl_c_are_kept_and_audited(monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Rounds, "at_new_prices", pressed)
    told: list[SeasonProgress] = []
    season = season_of(_request(2), engine="threads", workers=1, gap=0.0, tell=told.append)
    assert season.proof.ended == "interrupted"
    assert season.proof.value > 0
    assert {each.phase for each in told} >= {"nights", "bound", "plans", "audit"}


def test_ctrl_c_after_the_search_loses_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    before, presses = frame_worths_s, iter(range(3))

    def pressed(*given: Any) -> Any:
        if next(presses, None) is not None:
            raise KeyboardInterrupt
        return before(*given)

    monkeypatch.setattr(of_season, "frame_worths_s", pressed)
    season = season_of(_request(2), engine="threads", workers=1, rounds=0, gap=0.0)
    assert (season.proof.ended, season.policy) == ("rounds", None)
    assert all(night.plan for night in season.nights)


def test_every_plan_of_the_rounds_passes_the_audit() -> None:
    request = _request(2, aim={"value": "depth"})
    projects = projects_of(request)
    desk = Desk((only_rig(request, projects),), projects)
    refs = [NightRef(0, dt.date(2026, 11, day)) for day in (1, 2)]
    with engine_of("threads", 1, desk, None) as engine:
        rounds = Rounds(desk, refs, [Fraction(1, 2)] * 2, engine)
        rounds.replan([0, 1], 0.02, 1)
        assert all(plan.runs for plan in rounds.best.plans)
        tasks = list(zip(refs, rounds.best.plans, strict=True))
        assert [broken for broken, _ in engine.run(laid_out, tasks)] == [(), ()]


def test_without_a_round_of_planning_anew_there_are_plans_all_the_same() -> None:
    """The prices of a lone target leave its frames no profit, as any night can give them."""
    data = season_data(1, 3, balance=0.0, odds=0.5)
    data["aim"] |= {"workers": 1, "slack_s": 0}
    season = season_of(
        request_from_data(data, "a lone target"), engine="threads", workers=1, rounds=0, gap=0.0
    )
    assert season.proof.rounds == 0
    assert season.proof.value > 0
    assert season.proof.value == pytest.approx(season.proof.bound, abs=0.01)


def test_time_is_shared_out_among_bound_search_and_what_comes_after() -> None:
    limits = Limits(gap=0.0, rounds=None, began=time.monotonic() - 10.0, time_limit_s=100.0)
    assert limits.left_s == pytest.approx(80.0, abs=1.0)
    assert not limits.part(1 / 3)()
    limits.keep_for_after(round_s=0.4, audit_s=10.0)  # fifty of such rounds are reckoned
    assert limits.left_s == pytest.approx(60.0, abs=1.0)
    limits.keep_for_after(round_s=100.0, audit_s=10.0)  # never so much that nothing is left for the search
    assert limits.left_s == pytest.approx(40.0, abs=1.0)
    limits.began -= 45.0
    assert limits.is_over
    assert limits.part(1 / 3)()
    unlimited = Limits(gap=0.0, rounds=1, began=0.0, time_limit_s=None)
    unlimited.keep_for_after(round_s=100.0, audit_s=10.0)
    assert not unlimited.is_over
    assert not unlimited.part(0.0)()
