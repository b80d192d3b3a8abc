"""The comparing benchmark: its nights are what it says they are, its rivals play by the rules."""

from __future__ import annotations

import datetime as dt
import json
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from benchmarks.compare import EXACT, HAND
from benchmarks.compare_table import compare_text, scale_text
from benchmarks.nights import FILTER_SETS, MONTHS, MOUNTS, NIGHTS, PHASES, Size, night
from benchmarks.one_run import DARKFILL, measured
from benchmarks.rough_sky import hours_below
from optimizer.reading.load import request_from_data
from tests.support.speeds import deep

ROOT = Path(__file__).parents[2]
ALL = [night(number) for number in range(1, NIGHTS + 1)]
SMALL = {"targets": 3, "filters": 2, "exposures_s": None, "long_night": False}
SMALL_NIGHTS = (5, 8)  # a German mount and a fork
LIMIT_S = 1.0
Run = dict[str, Any]  # what one planner told of one night


def test_the_same_number_gives_the_same_night_in_every_process() -> None:
    tell = "import json; from benchmarks.nights import night; print(json.dumps([night(n).request for n in range(1, 25)]))"
    told = [
        subprocess.run(
            [sys.executable, "-c", tell],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert told[0] == told[1] == json.dumps([each.request for each in ALL]) + "\n"


def test_no_two_nights_are_alike() -> None:
    assert len({json.dumps(each.request["targets"]) for each in ALL}) == NIGHTS >= 24


def test_the_nights_cover_latitudes_seasons_moons_mounts_and_loads() -> None:
    latitudes = sorted(each.facts["latitude_deg"] for each in ALL)
    assert -45 <= latitudes[0] < -38
    assert 58 < latitudes[-1] <= 65
    assert max(high - low for low, high in pairwise(latitudes)) < 10
    for fact, wanted in (("month", MONTHS), ("moon", PHASES), ("mount", MOUNTS)):
        counts = [sum(each.facts[fact] == name for each in ALL) for name in wanted]
        assert min(counts) >= 3, (fact, counts)
    kinds = {each.request["mount"].get("kind", "german") for each in ALL}
    assert kinds == {"german", "fork"}
    filters = {tuple(filter_["name"] for filter_ in each.request["filters"]) for each in ALL}
    assert filters == set(FILTER_SETS)


def test_some_nights_are_too_short_and_some_too_long_for_what_is_wanted() -> None:
    ratio = {each.number: each.facts["wanted_h"] / each.facts["dark_h"] for each in ALL}
    under = [each.number for each in ALL if each.facts["load"] == "under"]
    over = [each.number for each in ALL if each.facts["load"] == "over"]
    assert len(under) >= 6
    assert max(ratio[number] for number in under) < 1
    assert len(over) >= 6
    assert min(ratio[number] for number in over) > 1.8


def test_standard_nights_have_eight_targets_with_four_filters_and_are_valid_requests() -> None:
    for each in ALL:
        request = request_from_data(each.request, f"night {each.number}")
        assert [len(target.goals) for target in request.targets] == [4] * 8


@pytest.mark.parametrize(("targets", "filters"), [(3, 1), (20, 5), (60, 8)])
def test_sizes_are_as_asked(targets: int, filters: int) -> None:
    each = night(3, Size(targets, filters, (30.0, 1200.0), long_night=True))
    request = request_from_data(each.request, "large")
    assert [len(target.goals) for target in request.targets] == [filters] * targets
    exposures_s = [goal.exposure_s for target in request.targets for goal in target.goals]
    assert min(exposures_s) >= 30
    assert max(exposures_s) <= 1200
    evening = dt.date.fromisoformat(each.facts["evening"])
    assert 13.5 < hours_below(evening, each.facts["latitude_deg"], -12) < 14.7


@pytest.fixture(scope="module", params=SMALL_NIGHTS)
def runs(request: pytest.FixtureRequest) -> list[Run]:
    job = {"night": request.param, "size": SMALL, "seed": 1, "time_limit_s": LIMIT_S, "value": "hours"}
    return [measured({**job, "planner": planner}) for planner in (DARKFILL, *HAND, *EXACT)]


@deep
def test_every_planner_yields_a_plan_that_the_audit_accepts(runs: list[Run]) -> None:
    assert {run["planner"]: run["violations"] for run in runs} == {
        planner: [] for planner in (DARKFILL, *HAND, *EXACT)
    }
    assert all(run["value"] > 0 for run in runs)


@deep
def test_no_planner_exceeds_the_bound(runs: list[Run]) -> None:
    bound = runs[0]["bound"]
    assert {run["planner"] for run in runs if run["value"] > bound} == set()


@deep
def test_the_search_is_told_from_its_first_plan_to_its_end(runs: list[Run]) -> None:
    own = runs[0]
    assert own["curve"][-1][1:] == (own["value"], own["bound"])
    assert all(earlier[1] <= later[1] for earlier, later in pairwise(own["curve"]))
    assert 0 <= own["first_plan_s"] <= own["seconds"]
    assert own["peak_mib"] > 20


@deep
def test_the_table_tells_of_plans_above_the_bound_and_of_broken_ones(runs: list[Run]) -> None:
    good = _table(runs)
    assert "above darkfill's bound (would be a defect of the bound): none" in good
    assert "Plans with violations: none" in good
    above = [{**run, "value": 2 * runs[0]["bound"]} if run["planner"] == HAND[0] else run for run in runs]
    assert f"defect of the bound): {HAND[0]} on night {runs[0]['night']}" in _table(above)
    broken = [{**run, "violations": ["zone"]} if run["planner"] == EXACT[0] else run for run in runs]
    assert f"Plans with violations: {EXACT[0]} on night {runs[0]['night']}: zone" in _table(broken)


@deep
def test_a_proof_of_a_plan_far_from_the_bound_does_not_count(runs: list[Run]) -> None:
    own = [
        {**run, "value": 100.0, "bound": 100.0, "gap": 0.0, "proven_s": 1.0} for run in _of(runs, DARKFILL)
    ]
    for value, told in ((99.5, "1 of 1 | 7.0 (1)"), (98.0, "0 of 1 (1) | -")):
        rival = {**_of(runs, EXACT[0])[0], "value": value, "bound": value, "gap": 0.0, "proven_s": 7.0}
        assert f"| {told} |" in _table([*own, {**rival, "night": own[0]["night"]}])


def _of(runs: list[Run], planner: str) -> list[Run]:
    return [run for run in runs if run["planner"] == planner]


@deep
def test_a_night_of_another_size_is_another_night(runs: list[Run]) -> None:
    larger = {**runs[0], "size": "9x9", "value": 5 * runs[0]["value"], "bound": 5 * runs[0]["bound"]}
    assert "defect of the bound): none" in scale_text(_raw([runs[0], larger]))


def _table(runs: list[Run]) -> str:
    return compare_text(_raw(runs), HAND, EXACT)


def _raw(runs: list[Run]) -> dict[str, Any]:
    words = dict.fromkeys(("command", "date", "commit", "machine", "python"), "-")
    return {**words, "versions": {}, "runs": runs}
