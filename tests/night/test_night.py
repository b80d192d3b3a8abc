"""Answers to small changes of a night keep every rule and are as good as planning anew."""

from __future__ import annotations

import datetime as dt
import json
import re
import signal
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimizer import InputError, load
from optimizer import night as module
from optimizer.audit import audit_steps
from optimizer.models.base import as_json_data
from optimizer.models.request import Request
from optimizer.models.site import Site
from optimizer.night import GAP, LIMIT_S, Night
from optimizer.packing.bound.bounds import first_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.plan import Plan
from optimizer.packing.solution import BY_TASK, Solution, WarmStart
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem, only_tasks
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.timeline.steps import build_steps
from tests.support.packing_judge import broken_rules
from tests.support.packing_nights import Place, a_problem, goal
from tests.support.packing_random import bound_night
from tests.support.packing_sets import in_sets
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
            factors = answer.scarcity.factors(answer.request)
            fresh = solve(build_problem(answer.request, windows, factors))
            assert answer.solution.profit <= fresh.bound  # no bound denies what the other found
            assert fresh.profit <= answer.solution.bound
            assert answer.solution.profit >= 0.95 * fresh.profit, seed
    assert asked > 2 * len(SEEDS)


def test_search_by_depth_knows_the_quiet_times() -> None:
    """It took slews in the quiet time for allowed, and each plan that it made of them was worse."""
    night = Night(request_of(718, value="depth"))
    heavier, *_ = changes(night.request)
    asked = night.ask(heavier)  # which searches the first one as well
    for planned in (night, asked):
        windows = sky_windows(planned.request, planned.sky)
        assert any(slot.quiet for slot in planned.problem.slots)
        assert violations(planned, planned.sky, windows) == ()
        assert planned.value >= 0.99 * planned.bound  # was 0.953 and 0.935


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


def test_prices_of_progress_are_known_in_a_night_much_like_it() -> None:
    """With them two labellings say what the search for them said; the other duals alone say less."""
    names = [f"T{number}" for number in range(4)]
    goals = {name: [goal(each, 60.0 + 20 * at, 60) for each in "LRGB"] for at, name in enumerate(names)}
    problem = in_sets(
        a_problem(
            [Place(name, (1000 + 2000 * at, 8000 + 2000 * at)) for at, name in enumerate(names)],
            goals,
            filters=[{"name": each} for each in "LRGB"],
            aim={"gap": 0.0},
        ),
        seed=2,
    )
    graph = RunGraph(problem)
    searched = bound_night(graph, 2.0)
    solution = replace(solve(only_tasks(problem, ())), duals=searched.duals)
    known = WarmStart(problem, solution).duals_in(problem)
    without = {name: duals for name, duals in known.items() if name != "progress"}
    again, worse = (
        min(found.bound for found in first_bounds(graph, Budget(0.5, deterministic=True), duals))
        for duals in (known, without)
    )
    assert again <= 1.0001 * searched.bound < worse


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
    [
        {"camera": {"download_s": 9.0}},
        {"camera": {"overhead_s": 6.0}},
        {"filters": [{"name": name, "change_s": 60.0} for name in "LR"]},
    ],
)
def test_a_slower_camera_or_wheel_leaves_room_for_fewer_frames(slower: dict[str, Any]) -> None:
    """What is planned with quick ones fills its windows, so that it does not fit any more."""

    def night(parts: dict[str, Any]) -> Problem:
        goals = {"A": [goal(frames=40), goal("R", frames=40)]}
        return a_problem([Place("A", (1000, 4000))], goals, aim={"time_limit_s": 1.0}, **parts)

    quick, slow = night({}), night(slower)
    first = solve(quick)
    answer = solve(slow, warm_start=WarmStart(quick, first))
    assert broken_rules(slow, answer.plan) == []
    assert answer.profit < first.profit


def test_a_night_without_its_only_target_is_refused() -> None:
    request = request_of(700)
    alone = request.model_copy(update={"targets": request.targets[:1]})
    with pytest.raises(ValueError, match="no target left"):
        Night(alone).without_target(alone.targets[0].name)


def test_a_name_that_no_target_has_is_refused_with_those_there_are() -> None:
    """A misspelt name once gave the same night back, and no seconds."""
    night = Night(request_of(700))
    names = ", ".join(repr(target.name) for target in night.request.targets)
    for ask in (night.without_target, night.open_s):
        with pytest.raises(ValueError, match=re.escape(f"there is no target 'Nope'; there are {names}")):
            ask("Nope")


def test_a_night_can_be_asked_with_what_load_returned(tmp_path: Path) -> None:
    night = Night(request_of(700))
    path = tmp_path / "changed.json"
    path.write_text(json.dumps(as_json_data(night.request)), encoding="utf-8")
    assert night.ask(load(path)).value >= night.value > 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"limit_s": -1}, "ask(): limit_s = -1: is out of range; give seconds above 0, at most 86400"),
        ({"limit_s": float("nan")}, "ask(): limit_s = nan: is out of range"),
        ({"gap": -1}, "ask(): gap = -1: is out of range; give a share from 0 to 1"),
        ({"gap": 1.5}, "ask(): gap = 1.5: is out of range"),
    ],
)
def test_limits_out_of_range_are_refused_before_any_search(arguments: dict[str, Any], words: str) -> None:
    night = Night(request_of(700))
    with pytest.raises(InputError, match=re.escape(words)):
        night.ask(night.request, **arguments)
    with pytest.raises(RuntimeError):
        _ = night.solution
    with pytest.raises(TypeError, match=r"^ask\(\): limit_s takes a number, not text \('3'\)"):
        night.ask(night.request, limit_s="3")  # type: ignore[arg-type]


@pytest.mark.parametrize("first", [True, False], ids=["in the first night", "in the changed night"])
@pytest.mark.parametrize("late", [True, False], ids=["unheeded", "heeded"])
def test_ctrl_c_within_a_search_is_raised_and_what_is_known_stays(
    first: bool, late: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever asks in a loop could not be stopped: the search takes Ctrl-C for itself.

    It heeds it and says so, or has just proven its plan.
    """
    night = Night(request_of(700))
    if not first:
        night.search()
    pressed: list[int] = []

    def interrupted(*args: Any) -> Solution:
        pressed.append(1)
        solution = solve(*args)
        signal.raise_signal(signal.SIGINT)
        return replace(solution, status="optimal" if late else "stopped")

    heard: list[int] = []
    before = signal.signal(signal.SIGINT, lambda *_: heard.append(1))
    try:
        monkeypatch.setattr(module, "solve", interrupted)
        with pytest.raises(KeyboardInterrupt):
            night.ask(night.request)
        monkeypatch.setattr(module, "solve", solve)
        assert (len(pressed), heard) == (1, [])  # no handler of the caller while it searches
        signal.raise_signal(signal.SIGINT)
        assert heard == [1]  # and afterwards it is set again
    finally:
        signal.signal(signal.SIGINT, before)
    assert night.value > 0
    assert night.ask(night.request).value >= night.value


def test_a_search_stopped_in_a_thread_is_raised_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    night = Night(request_of(700))
    night.search()
    monkeypatch.setattr(module, "solve", lambda *args: replace(solve(*args), status="stopped"))
    with ThreadPoolExecutor(1) as pool, pytest.raises(KeyboardInterrupt):
        pool.submit(night.ask, night.request).result()


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
