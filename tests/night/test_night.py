"""Answers to small changes of a night keep every rule and are as good as planning anew."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from optimizer import night as module
from optimizer.audit import audit_steps
from optimizer.models.request import Request
from optimizer.models.site import Site
from optimizer.night import GAP, LIMIT_S, Night
from optimizer.packing.plan import Plan
from optimizer.packing.solution import BY_TASK, Solution, WarmStart
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.timeline.steps import build_steps
from tests.support.packing_judge import broken_rules
from tests.support.packing_nights import Place, a_problem, goal
from tests.support.scenarios.small import small_night
from tests.support.speeds import deep

SEEDS = range(700, 720)


def request_of(seed: int, **aim: Any) -> Request:
    night = small_night(seed)
    night["aim"] |= {"workers": 1, "time_limit_s": 1.0, **aim}
    return request_from_data(night, f"small night {seed}")


def changes(request: Request) -> list[Request]:
    """Another weight, a lower floor, a later first exposure, and one target fewer where there are two."""
    targets = request.targets
    heavier = targets[0].model_copy(update={"weight": 3.0})
    found = [
        request.model_copy(update={"targets": (heavier, *targets[1:])}),
        request.model_copy(update={"site": request.site.model_copy(update={"floor_deg": 5.0})}),
    ]
    evening = dt.datetime.combine(request.night.evening, dt.time(12), tzinfo=dt.UTC)
    blocked = ((evening, evening + dt.timedelta(hours=9)),)
    found.append(request.model_copy(update={"night": request.night.model_copy(update={"blocked": blocked})}))
    if len(targets) > 1:
        found.append(request.model_copy(update={"targets": targets[1:]}))
    return found


def violations(answer: Night, sky: NightSky, windows: SkyWindows) -> tuple[object, ...]:
    steps = build_steps(answer.request, sky, windows, answer.problem, answer.solution.schedule.visits)
    return audit_steps(answer.request, steps).violations


@deep
@pytest.mark.parametrize("value", ["hours", "depth"])
def test_answers_keep_every_rule_and_lie_below_their_bound(value: str) -> None:
    asked = 0
    for seed in SEEDS:
        request = request_of(seed, value=value)
        night = Night(request)
        for changed in changes(request):
            answer = night.ask(changed)
            asked += answer.solution.profit > 0
            sky = night_sky(changed)
            windows = sky_windows(answer.request, sky)
            assert violations(answer, sky, windows) == (), seed
            assert answer.solution.profit <= answer.solution.bound
            fresh = solve(build_problem(answer.request, windows))
            assert answer.solution.profit <= fresh.bound  # no bound denies what the other found
            assert fresh.profit <= answer.solution.bound
            assert answer.solution.profit >= 0.95 * fresh.profit, seed
    assert asked > 2 * len(SEEDS)


def test_a_night_asked_again_unchanged_is_as_good() -> None:
    for seed in SEEDS:
        request = request_of(seed)
        night = Night(request)
        assert night.ask(request).value >= night.value


def test_prices_and_visits_find_their_counterparts() -> None:
    told = 0
    for seed in SEEDS:
        request = request_of(seed)
        first = Night(request)
        first.search()
        known = WarmStart(first.problem, first.solution)
        frames = sum(run.frames for visit in known.draft_in(first.problem) for run in visit.runs)
        assert frames == sum(run.frames for visit in first.solution.plan for run in visit.runs)
        for name, duals in known.duals_in(first.problem).items():
            own = first.solution.duals.get(
                name, np.zeros(len(duals))
            )  # none where the first bound was enough
            assert tuple(duals) == pytest.approx(tuple(own))
        told += frames
    assert told > 0


def test_a_goal_is_known_by_what_it_is_wherever_it_stands_among_those_of_its_target() -> None:
    def night(goals: list[dict[str, Any]]) -> Problem:
        return a_problem([Place("A", (1000, 4000))], {"A": goals}, aim={"time_limit_s": 1.0})

    goals = [goal(frames=12), goal("R", frames=20), goal("R", gain=100, frames=20)]
    before, after = night(goals), night(goals[:0:-1])
    first = solve(before)
    prices = np.array([1.0, 2.0, 3.0])
    known = WarmStart(before, replace(first, duals={BY_TASK: prices}))
    assert len(after.tasks) == 2
    scale = float(before.profit_unit / after.profit_unit)
    assert known.duals_in(after)[BY_TASK].tolist() == [3.0 * scale, 2.0 * scale]

    def frames(problem: Problem, plan: Plan) -> Counter[tuple[str, int | None]]:
        found: Counter[tuple[str, int | None]] = Counter()
        for visit in plan:
            for run in visit.runs:
                wanted = problem.tasks[run.task].goal
                found[wanted.filter, wanted.gain] += run.frames
        return found

    planned, drafted = frames(before, first.plan), frames(after, known.draft_in(after))
    assert planned["R", 100]
    assert drafted == {key: count for key, count in planned.items() if key[0] == "R"}


@pytest.mark.parametrize(
    "slower",
    [{"camera": {"download_s": 9.0}}, {"filters": [{"name": name, "change_s": 60.0} for name in "LR"]}],
)
def test_a_slower_camera_or_wheel_leaves_room_for_fewer_frames(slower: dict[str, Any]) -> None:
    """What is planned with quick ones fills its windows, so that it does not fit any more."""

    def night(parts: dict[str, Any]) -> Problem:
        goals = {"A": [goal(frames=40), goal("R", frames=40)]}
        return a_problem([Place("A", (1000, 4000))], goals, aim={"time_limit_s": 1.0}, **parts)

    quick, slow = night({}), night(slower)
    first = solve(quick)
    answer = solve(slow, known=WarmStart(quick, first))
    assert broken_rules(slow, answer.plan) == []
    assert answer.profit < first.profit


def test_a_night_without_its_only_target_is_refused() -> None:
    request = request_of(700)
    alone = request.model_copy(update={"targets": request.targets[:1]})
    with pytest.raises(ValueError, match="no target left"):
        Night(alone).without_target(alone.targets[0].name)


def test_making_a_night_computes_nothing_and_planning_searches_once(monkeypatch: pytest.MonkeyPatch) -> None:
    skies: list[Request] = []
    searches: list[tuple[Any, ...]] = []

    def seen_sky(request: Request) -> NightSky:
        skies.append(request)
        return night_sky(request)

    def seen_solve(*args: Any) -> Solution:
        searches.append(args)
        return solve(*args)

    monkeypatch.setattr(module, "night_sky", seen_sky)
    monkeypatch.setattr(module, "solve", seen_solve)
    night = Night(request_of(700))
    assert (len(skies), len(searches)) == (0, 0)
    for ask in (lambda: night.solution, lambda: night.value, lambda: night.bound, night.open_s):
        with pytest.raises(RuntimeError, match=r"not planned yet: call plan\(\)"):
            ask()
    assert night.windows is night.windows
    shots = night.plan()
    assert night.plan() is shots
    assert night.search() is night.solution
    assert (len(skies), len(searches)) == (1, 1)
    assert shots.proof.objective == pytest.approx(night.value)
    assert shots.totals.open_shutter_s == night.open_s()


def test_an_answer_is_a_night_that_can_be_planned_and_asked_itself() -> None:
    night = Night(request_of(700))
    changed = night.ask(night.without_target(night.request.targets[0].name))  # searches the first one as well
    assert night.solution.profit > 0
    shots = changed.plan()
    assert shots.audit_report.violations == ()
    assert shots.request == changed.request
    assert (shots.request.aim.time_limit_s, shots.request.aim.gap) == (LIMIT_S, GAP)
    assert changed.sky is night.sky
    again = changed.ask(changed.request.model_copy(update={"site": moved(changed.request.site)}))
    assert again.sky is not night.sky


def moved(site: Site) -> Site:
    return site.model_copy(update={"longitude_deg": site.longitude_deg + 1.0})
