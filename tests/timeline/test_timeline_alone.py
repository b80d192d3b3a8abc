"""What would fit alone, and what fits no more: true of all goals that a sentence names, and of these together."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from optimizer.models.shots import Unplanned
from optimizer.packing.solve import solve
from optimizer.problem import only_tasks
from optimizer.reading.load import request_from_data
from optimizer.timeline import unplanned
from tests.support.scenarios.nights import random_night
from tests.support.speeds import sampled
from tests.support.timeline_nights import a_request, goal
from tests.support.told_nights import Told, cradle, told


def test_goals_that_fit_only_one_by_one_are_not_told_to_fit() -> None:
    """4 h 20 min wanted in a window of 2 h 24 min: each goal alone would fit, all of them together do not."""
    goals = [goal("L", 300.0, 20), goal("R", 300.0, 16), goal("L", 150.0, 32)]
    night = a_request(
        cradle(*goals, name="Short", weight=0.1),
        cradle(goal(frames=40), name="Other"),
        clear=("20:00", "22:24"),
        mount={"kind": "fork"},
        filters=[{"name": "L"}, {"name": "R"}],
    )
    entries = [each for each in told(night).entries if each.target == "Short"]
    assert [each.reason for each in entries] == ["night_full"] * 3
    (sentence,) = {each.sentence for each in entries}
    assert "alone tonight all" not in sentence
    assert "of the 4 h 20 min still wanted in L and R would fit together" in sentence
    assert 100 <= least_minutes(sentence) <= 144


def test_goals_that_fill_their_own_windows_are_not_told_to_need_weight() -> None:
    """Each would get more alone; together they fill the target's hour, and no other target has to do with it."""
    night = a_request(
        cradle(goal("L", 300.0, 9), goal("L", 240.0, 9)), clear=("21:00", "22:00"), mount={"kind": "fork"}
    )
    entries = told(night).entries
    assert {each.reason for each in entries} == {"window_too_short"}
    for each in entries:
        assert each.sentence.endswith("not proven; fewer subs of its other goals would make room")


def test_least_visit_does_not_hide_what_would_fit_alone() -> None:
    """A visit takes more than the one sub that is asked about; the goal would fit whole if it were alone."""
    night = a_request(
        cradle(goal("L", 300.0, 6), name="Kept out", weight=0.1, least_min=20),
        cradle(goal("L", 300.0, 40), name="Other"),
        clear=("20:00", "21:00"),
        mount={"kind": "fork"},
    )
    (entry,) = [each for each in told(night).entries if each.target == "Kept out"]
    assert entry.reason == "night_full"
    assert "alone tonight all 6 subs still wanted would fit" in entry.sentence


def test_least_visit_may_take_other_goals_of_the_target() -> None:
    """Six minutes of one goal make no visit of twenty; with the other goal they do."""
    night = a_request(
        cradle(goal("L", 60.0, 6), goal("R", 300.0, 6), name="Kept out", weight=0.1, least_min=20),
        cradle(goal("L", 300.0, 40), name="Other"),
        clear=("20:00", "21:00"),
        mount={"kind": "fork"},
    )
    entries = [each for each in told(night).entries if each.target == "Kept out"]
    assert [each.filter for each in entries] == ["L", "R"]
    assert {each.reason for each in entries} == {"night_full"}


def test_of_very_many_targets_nothing_is_told_that_was_not_worked_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Only for some of them a plan is laid out alone; of the others no number is told."""
    monkeypatch.setattr(unplanned, "MOST_ALONE", 1)
    night = a_request(
        cradle(goal("L", 300.0, 40), name="First"),
        cradle(goal("L", 300.0, 40), name="Second"),
        cradle(goal("L", 300.0, 40), name="Third", weight=0.1),
        clear=("20:00", "21:00"),
        mount={"kind": "fork"},
    )
    sentences = [each.sentence for each in told(night).entries]
    assert len(sentences) == 3
    assert sum("alone tonight" in each or "more than" in each for each in sentences) == 1
    assert sum("was not worked out" in each for each in sentences) == 2


def least_minutes(sentence: str) -> int:
    """What is told to fit at least."""
    number = re.search(r"(?:all|at least) (?:([0-9]+) h )?([0-9]+) min", sentence)
    assert number, sentence
    return 60 * int(number[1] or 0) + int(number[2])


def alone_as_told(found: Told, entries: Sequence[Unplanned]) -> tuple[int, int]:
    """Tenths of seconds that a search gets for just these goals, and that no plan of them exceeds."""
    goals = {(entry.target, entry.filter, entry.exposure_s) for entry in entries}
    tasks = {
        task.index
        for task in found.problem.tasks
        if (task.target.name, task.goal.filter, task.goal.exposure_s) in goals and task.frames_left
    }
    equal = [
        replace(task, profit=round(10 * task.goal.exposure_s), profit_by_start=None)
        for task in found.problem.tasks
    ]
    solution = solve(only_tasks(replace(found.problem, tasks=tuple(equal)), tasks))
    return solution.profit, solution.bound


@pytest.mark.parametrize("seed", sampled(range(18), quick=6))
def test_what_is_told_of_random_nights_is_true(seed: int) -> None:
    data = random_night(seed)
    data["aim"] |= {"time_limit_s": 0.3, "value": "hours"}
    found = told(request_from_data(data, f"night {seed}"))
    grouped: dict[tuple[str, str], list[Unplanned]] = {}
    for entry in found.entries:
        why, _, change = entry.sentence.partition("; ")
        assert why
        assert change
        grouped.setdefault((entry.target, entry.sentence), []).append(entry)
    for (_, sentence), entries in grouped.items():
        frame = round(10 * entries[0].exposure_s)
        if "alone tonight" in sentence:
            frames = re.search(
                r"alone tonight (?:all |at least )?([0-9]+|this one)(?: of [0-9]+)? sub", sentence
            )
            if frames:
                least = frame * (1 if frames[1] == "this one" else int(frames[1]))
            else:
                least = 600 * least_minutes(sentence)
            got, most = alone_as_told(found, entries)
            assert least <= most + (600 if " all " in sentence else 0), sentence  # all is rounded up
            if " all " in sentence:
                assert got >= least - 600, sentence
        if "hold no more than" in sentence or "are over before" in sentence:
            holds = re.search(r"these ([0-9]+) subs|(this one) sub", sentence)
            most_frames = 0 if holds is None else int(holds[1] or 1)
            for entry in entries:
                got = alone_as_told(found, [entry])[0]
                assert got <= round(10 * entry.exposure_s) * most_frames, sentence
        if "no visit tonight reaches" in sentence:
            assert alone_as_told(found, entries)[0] == 0, sentence
