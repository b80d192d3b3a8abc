"""What must hold of every comparison, on random nights of any size, short as its searches are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache

import pytest

from optimizer.models.request import Request
from optimizer.packing.search.construct import constructed
from optimizer.problem import build_problem, only_tasks
from optimizer.reading.load import request_from_data
from optimizer.sides.cases import CHOICES, Outcome, SideChoice
from optimizer.sides.compare import (
    SAME_SHARE,
    SidesOfNight,
    Status,
    Sureness,
    TargetSides,
    compare_sides,
)
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.scenarios.nights import random_night
from tests.support.scenarios.small import small_night
from tests.support.speeds import deep, sampled

SMALL, FULL = range(100, 108), range(16)
NIGHTS = [("small", seed) for seed in SMALL] + [("full", seed) for seed in FULL]
by_night = pytest.mark.parametrize(
    "night", sampled(NIGHTS, quick=4), ids=lambda night: f"{night[0]} {night[1]}"
)


@cache
def request_of(night: tuple[str, int]) -> Request:
    kind, seed = night
    data = small_night(seed) if kind == "small" else random_night(seed)
    data["aim"]["time_limit_s"] = 1.0
    if seed % 3 == 0:
        data["aim"]["value"] = "depth"
    return request_from_data(data, f"{kind} night {seed}")


@cache
def found_in(night: tuple[str, int]) -> SidesOfNight:
    return compare_sides(request_of(night))


def rows(night: tuple[str, int]) -> Iterator[tuple[TargetSides, SideChoice, Outcome | None, Outcome | None]]:
    for each in found_in(night).targets:
        for choice in CHOICES:
            yield each, choice, each.alone[choice], each.night[choice]


@by_night
def test_target_gets_no_less_alone_than_beside_others(night: tuple[str, int]) -> None:
    by_time = found_in(night).problem.by_time
    for each, choice, alone, whole in rows(night):
        if whole is not None:
            assert alone is not None, (each.target.name, choice)
            assert alone.value >= whole.target_value - 1e-6, (each.target.name, choice)
            assert alone.value == pytest.approx(alone.target_value)
            assert alone.open_s == alone.target_open_s
            if not by_time:
                assert alone.target_open_s >= whole.target_open_s


@by_night
def test_night_is_found_wherever_the_target_alone_is(night: tuple[str, int]) -> None:
    for each, choice, alone, whole in rows(night):
        assert (alone is None) == (whole is None), (each.target.name, choice)
        if alone is not None and whole is not None and each.taken != choice:
            assert whole.value >= whole.target_value > 0


@by_night
def test_nothing_is_called_impossible_that_a_plan_made_in_one_pass_does(night: tuple[str, int]) -> None:
    request = request_of(night)
    windows = sky_windows(request, night_sky(request))
    for each, choice, _, _ in rows(night):
        if choice == "across":
            continue
        wished = tuple(
            one.model_copy(update={"sides": choice}) if one.name == each.target.name else one
            for one in request.targets
        )
        problem = build_problem(request.model_copy(update={"targets": wished}), windows)
        own = {task.index for task in problem.tasks if task.target.name == each.target.name}
        if constructed(only_tasks(problem, own)):
            statuses = each.alone_sure[choice].status, each.night_sure[choice].status
            assert "impossible" not in statuses, (each.target.name, choice)
            assert each.alone[choice] is not None, (each.target.name, choice)


def told_right(outcome: Outcome | None, sure: Sureness, gap: float) -> bool:
    if sure.bound is not None and outcome is not None and outcome.value > sure.bound + 1e-6:
        return False
    if outcome is None:
        return sure.status in ("not_found", "impossible")
    if sure.status == "proven":
        return sure.bound is not None and sure.bound - outcome.value <= gap * outcome.value + 1e-6
    return sure.status == "found"


@by_night
def test_status_says_what_there_is(night: tuple[str, int]) -> None:
    gap = found_in(night).problem.limits.gap
    for each, choice, alone, whole in rows(night):
        assert told_right(alone, each.alone_sure[choice], gap), (each.target.name, choice)
        assert told_right(whole, each.night_sure[choice], gap), (each.target.name, choice)


@by_night
def test_best_has_the_highest_value_and_among_equals_the_higher_sky(night: tuple[str, int]) -> None:
    for each in found_in(night).targets:
        nights = {choice: whole for choice, whole in each.night.items() if whole is not None}
        assert (each.best is None) == (not nights)
        if each.best is None:
            continue
        most, mine = max(whole.value for whole in nights.values()), nights[each.best]
        assert mine.value >= (1.0 - SAME_SHARE) * most
        equals = [whole for whole in nights.values() if whole.value >= (1.0 - SAME_SHARE) * most]
        assert mine.mean_altitude_deg == max(whole.mean_altitude_deg or 0.0 for whole in equals)


@deep
def test_nights_hold_every_status() -> None:
    seen: Counter[Status] = Counter()
    for night in NIGHTS:
        for each, choice, _, _ in rows(night):
            seen[each.night_sure[choice].status] += 1
    assert min(seen[status] for status in ("proven", "found", "impossible")) >= 10
    assert seen["not_found"] <= 0.05 * seen.total()


def an_outcome(value: float, altitude_deg: float) -> Outcome:
    return Outcome(
        target_open_s=value,
        target_value=value,
        target_depth_s=None,
        open_s=value,
        value=value,
        flips=0,
        mean_altitude_deg=altitude_deg,
        mean_moonlight_mag=0.0,
    )


@pytest.mark.parametrize(
    ("values", "best"),
    [
        ({"before": (36000.0, 26.0), "after": (36000.0, 74.0)}, "after"),
        ({"before": (36010.0, 26.0), "after": (36000.0, 74.0)}, "after"),
        ({"before": (36100.0, 26.0), "after": (36000.0, 74.0)}, "before"),
        ({"before": (36000.0, 26.0), "after": (36000.0, 74.0), "across": (36000.0, 80.0)}, "across"),
        ({}, None),
    ],
)
def test_equal_means_the_higher_sky_whatever_it_gets_alone(
    values: dict[SideChoice, tuple[float, float]], best: SideChoice | None
) -> None:
    each = found_in(NIGHTS[0]).targets[0]
    sure = Sureness("found", None, 1.0)
    night = {choice: an_outcome(*values[choice]) if choice in values else None for choice in CHOICES}
    alone = {choice: an_outcome(9000.0 if choice == "before" else 60.0, 40.0) for choice in CHOICES}
    sides = TargetSides(
        each.target, dict(alone), night, dict.fromkeys(CHOICES, sure), dict.fromkeys(CHOICES, sure), None
    )
    assert sides.best == best
