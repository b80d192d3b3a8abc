"""One step of relief: each kind on a night made for it, what is never advised, and what is told of its worth."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from optimizer import night as night_module
from optimizer.audit import audit_shot_list
from optimizer.errors import InputError
from optimizer.export.json_file import json_text, read_json
from optimizer.models.request import Request
from optimizer.models.shots import Relief, ShotList, Unplanned
from optimizer.night import Night
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import scheduled
from optimizer.packing.solution import Solution
from optimizer.packing.solve import solve
from optimizer.reading.load import request_from_data
from optimizer.relief import Question, asking, questions_of, relieve
from optimizer.relief.changes import Change
from tests.support.relief_nights import EXACT, FORK, NIGHTS, anew, cradle, first_of, planned, setting
from tests.support.scenarios.small import small_night
from tests.support.timeline_nights import a_request, goal

each_night = pytest.mark.parametrize("name", NIGHTS)


def relieved(shots: ShotList, night: Night) -> tuple[Unplanned, ...]:
    return relieve(night, shots.unplanned, questions_of(night, shots.unplanned))


# --- each kind of step ---------------------------------------------------------------------------------


@each_night
def test_step_is_the_one_that_the_night_asks_for(name: str) -> None:
    shots, night = first_of(name)
    asked = NIGHTS[name]
    assert asked.reason in {entry.reason for entry in shots.unplanned}
    changes = [question.change for question in questions_of(night, shots.unplanned)]
    assert [(change.key, change.old, change.new) for change in changes] == [(asked.key, asked.old, asked.new)]


@each_night
def test_gain_is_that_of_the_request_changed_by_hand(name: str) -> None:
    """Planned anew from nothing, to the optimum."""
    shots, night = first_of(name)
    changed = anew(NIGHTS[name].made(NIGHTS[name].new))
    assert shots.proof.status == changed.proof.status == "optimal"
    helped = {entry.target: entry.relief for entry in relieved(shots, night) if entry.relief}
    ((target, (step,)),) = helped.items()

    def open_s(of: ShotList) -> float:
        return sum(each.seconds_planned for each in of.totals.goals if each.target == target)

    assert step.target_open_s == open_s(changed) - open_s(shots) > 0
    assert step.open_s == changed.totals.open_shutter_s - shots.totals.open_shutter_s


def test_two_degrees_of_floor_let_ten_more_minutes_in() -> None:
    """A star near the zenith at transit sinks by at most 11.7 degrees an hour: 2 degrees last some 10.3 min."""
    shots, night = first_of("floor")
    (entry,) = relieved(shots, night)
    assert entry.relief == (
        Relief(
            change="floor 38° instead of 40°",
            of="Cradle",
            key="floor_deg",
            old=40.0,
            new=38.0,
            target_open_s=600.0,
            open_s=600.0,
            value_s=600.0,
            certain=True,
        ),
    )


def test_one_change_of_a_filter_is_asked_once_for_all_its_targets() -> None:
    targets = [
        cradle(goal(frames=60), name=name, ra_deg=ra_deg) for name, ra_deg in (("A", 330.0), ("B", 331.0))
    ]
    request = a_request(*targets, clear=("17:00", "19:00"), filters=[{"name": "L"}], mount=FORK, aim=EXACT)
    shots, night = planned(request)
    assert len(shots.unplanned) == 2
    (question,) = [each for each in questions_of(night, shots.unplanned) if each.change.key == "darkness"]
    assert question.entries == (0, 1)


def test_heavier_target_takes_what_the_other_had() -> None:
    shots, night = first_of("weight")
    entries = {entry.target: entry for entry in relieved(shots, night)}
    assert entries["Cradle"].relief == ()
    (step,) = entries["Wheel"].relief or ()
    assert step.target_open_s == shots.totals.open_shutter_s  # all of it, and nothing is won in all
    assert step.open_s == 0
    assert step.value_s == pytest.approx(-0.2 * shots.totals.open_shutter_s)  # by the weights as they are
    assert not step.certain


def test_hours_that_a_step_sets_free_count_for_the_goal_that_gets_them() -> None:
    """The Cradle has all it wants; shot in twilight, it leaves the dark to the Wheel."""
    request = a_request(
        cradle(goal("R", frames=5), weight=2.0, ra_deg=330.0),
        cradle(goal("L", frames=60), name="Wheel", ra_deg=331.0),
        clear=("17:00", "19:00"),
        filters=[{"name": "L"}, {"name": "R", "darkness": -17.0}],
        mount=FORK,
        aim=EXACT,
    )
    shots, night = planned(request)
    assert [entry.target for entry in shots.unplanned] == ["Wheel"]
    question = Question(Change("darkness", -17.0, "nautical", filter="R"), ())
    (entry,) = relieve(night, shots.unplanned, [question])
    (step,) = entry.relief or ()
    assert (step.of, step.key) == ("R", "darkness")
    assert step.target_open_s == step.open_s > 0


# --- what is never advised -----------------------------------------------------------------------------


def short_nights() -> list[tuple[Request, tuple[Question, ...]]]:
    found = []
    for seed in range(46):
        data = small_night(seed)
        data["aim"] |= {"time_limit_s": 0.3}
        shots, night = planned(request_from_data(data, f"small night {seed}"))
        found.append((night.request, questions_of(night, shots.unplanned)))
    return found


def test_nothing_measured_at_the_mount_is_ever_touched() -> None:
    """Nor a clear or blocked span, nor the site, nor what the rig needs for its work."""
    asked = 0
    for request, questions in short_nights():
        for question in questions:
            changed = question.change.made_in(request)
            assert changed != request
            for part in ("mount", "night", "site", "camera", "focus", "aim"):
                assert getattr(changed, part) == getattr(request, part)
            Request.model_validate(changed.model_dump(by_alias=True))  # in the limits of every key
            asked += 1
    assert asked >= 40


def test_zone_around_the_meridian_gives_way_to_shorter_exposures_alone() -> None:
    shots, night = first_of("zone")
    (question,) = questions_of(night, shots.unplanned)
    before, after = (
        request.targets[0].goals[0] for request in (night.request, question.change.made_in(night.request))
    )
    assert (after.exposure_s, after.frames) == (before.exposure_s / 2, before.frames * 2)
    assert after.exposure_s * after.frames == before.exposure_s * before.frames


@pytest.mark.parametrize("darkness", ["civil", -6.0, -3.0])
def test_no_sky_brighter_than_civil_twilight_is_advised(darkness: str | float) -> None:
    request = a_request(
        cradle(ra_deg=330.0),
        clear=("16:00", "19:00"),
        filters=[{"name": "L", "darkness": darkness}],
        mount=FORK,
        aim=EXACT,
    )
    shots, night = planned(request)
    assert shots.unplanned
    assert "darkness" not in {question.change.key for question in questions_of(night, shots.unplanned)}


def test_closed_by_hand_stays_closed() -> None:
    shots, night = planned(a_request(cradle(), clear=("13:00", "14:00")))
    assert [entry.reason for entry in shots.unplanned] == ["blocked"]
    assert questions_of(night, shots.unplanned) == ()
    assert relieved(shots, night)[0].relief == ()


def test_night_with_nothing_short_is_asked_nothing() -> None:
    shots, night = planned(a_request(cradle(goal(frames=2)), clear=("22:00", "23:00")))
    assert shots.unplanned == ()
    assert questions_of(night, ()) == ()
    assert relieved(shots, night) == ()


# --- certain, found, luck ------------------------------------------------------------------------------


def with_solution(night: Night, **changes: Any) -> Night:
    """The same night as if another solution had been found."""
    other = copy.copy(night)
    other._solution = replace(night.solution, **changes)
    return other


def test_gain_that_a_better_plan_might_have_had_is_not_certain() -> None:
    """Two frames more than the best plan; as if one more, or two, could not have been ruled out for it."""
    shots, night = first_of("floor")
    solution = night.solution
    for frames, certain in ((0, True), (1, True), (2, False)):
        loose = with_solution(night, bound=solution.profit + frames)
        assert loose.bound == night.value + 300 * frames
        (entry,) = relieved(shots, loose)
        (step,) = entry.relief or ()
        assert step.value_s == 600.0
        assert step.certain == certain


def test_gain_that_owes_nothing_to_the_step_is_no_gain() -> None:
    """The first plan is made worse than it could be: whatever is found then fits the night as it is."""
    shots, night = planned(a_request(cradle(), clear=("22:00", "23:00"), aim=EXACT))
    poor = with_solution(night, plan=Plan(), schedule=scheduled(night.problem, Plan()), profit=0)
    for change in (
        Change("floor_deg", 25.0, 23.0, target="Cradle"),
        Change("darkness", "astronomical", "nautical", filter="L"),
        Change("least_min", 5.0, 2.5, target="Cradle"),
    ):
        assert poor.ask(change.made_in(poor.request)).value > poor.value
        (entry,) = relieve(poor, shots.unplanned, [Question(change, (0,))])
        assert entry.relief == ()


# --- how many are asked, and Ctrl-C ----------------------------------------------------------------------


def two_steps() -> tuple[ShotList, Night]:
    """Two goals, each with a step of its own: a floor, and a twilight that opens more than that floor would."""
    goals = [goal(frames=60)]
    west = cradle(*goals, name="West", floor_deg=40.0)
    low = cradle(*goals, name="Low", dec_deg=-60.0, floor_deg=25.0)
    return planned(a_request(west, low, clear=("03:00", "06:00"), mount=FORK, aim=EXACT))


def test_only_so_many_are_asked_and_the_rest_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    shots, night = first_of("floor")
    questions = questions_of(night, shots.unplanned)
    monkeypatch.setattr(asking, "MOST_QUESTIONS", 0)
    assert relieve(night, shots.unplanned, questions) == shots.unplanned


def test_goal_without_a_step_is_told_apart_from_one_not_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    shots, night = two_steps()
    monkeypatch.setattr(asking, "MOST_QUESTIONS", 0)
    entries = {entry.target: entry.relief for entry in relieved(shots, night)}
    assert entries == {"West": None, "Low": ()}


def test_likeliest_and_most_wanted_come_first() -> None:
    targets = [
        cradle(goal(frames=frames), name=name, floor_deg=40.0)
        for name, frames in (("A", 40), ("B", 80), ("C", 60))
    ]
    request = a_request(*targets, clear=("03:00", "06:00"), mount=FORK, aim=EXACT)
    shots, night = planned(request)
    short = {entry.target: entry.frames for entry in shots.unplanned}
    questions = questions_of(night, shots.unplanned)
    floors = [question.change.target for question in questions if question.change.key == "floor_deg"]
    assert floors == sorted(short, key=lambda name: -short[name])


@pytest.mark.parametrize("after", [0, 1])
def test_interrupt_keeps_the_answers_so_far(after: int, monkeypatch: pytest.MonkeyPatch) -> None:
    shots, night = first_of("floor")
    (question,) = questions_of(night, shots.unplanned)
    right, calls = Night.ask, []

    def ask(self: Night, *args: object) -> Night:
        calls.append(args)
        if len(calls) > after:
            raise KeyboardInterrupt
        return right(self, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(Night, "ask", ask)
    (entry,) = relieve(night, shots.unplanned, [question, question])
    assert len(calls) == after + 1
    assert (entry.relief is None) == (after == 0)


@pytest.mark.parametrize("after", [0, 1])
def test_interrupt_within_a_search_ends_the_asking(after: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The search takes Ctrl-C for itself and says that it was stopped."""
    shots, night = first_of("floor")
    (question,) = questions_of(night, shots.unplanned)
    searches: list[Solution] = []

    def stopped(*args: Any) -> Solution:
        searches.append(solve(*args))
        return replace(searches[-1], status="stopped") if len(searches) > after else searches[-1]

    monkeypatch.setattr(night_module, "solve", stopped)
    (entry,) = relieve(night, shots.unplanned, [question] * 3)
    assert len(searches) == after + 1
    assert (entry.relief is None) == (after == 0)


def test_each_question_is_told_as_it_begins() -> None:
    shots, night = first_of("floor")
    told: list[str] = []
    relieve(night, shots.unplanned, questions_of(night, shots.unplanned), told.append)
    assert told == ["floor 38° instead of 40° (Cradle)"]


# --- in the shot list ------------------------------------------------------------------------------------


def test_list_with_relief_is_read_back_and_passes_its_audit(tmp_path: Path) -> None:
    for name in ("floor", "dusk", "side", "weight"):
        shots, night = first_of(name)
        more = shots.model_copy(update={"unplanned": relieved(shots, night)})
        path = tmp_path / "night.shots.json"
        path.write_text(json_text(more), encoding="utf-8")
        assert read_json(path) == more
        assert audit_shot_list(more).violations == ()


def test_list_that_nobody_asked_is_as_it_ever_was(tmp_path: Path) -> None:
    shots, _ = first_of("floor")
    data = json.loads(json_text(shots))
    assert "relief" not in data["unplanned"][0]
    path = tmp_path / "night.shots.json"
    path.write_text(json_text(shots), encoding="utf-8")
    assert read_json(path).unplanned[0].relief is None


def test_mistake_in_the_relief_of_a_list_is_told_with_its_place(tmp_path: Path) -> None:
    shots, night = first_of("floor")
    text = json_text(shots.model_copy(update={"unplanned": relieved(shots, night)}))
    path = tmp_path / "night.shots.json"
    path.write_text(text.replace('"certain": true', '"certain": "yes"'), encoding="utf-8")
    with pytest.raises(InputError, match=r"unplanned\[0\]\.relief\[0\]\.certain.*1st change of 1st entry"):
        read_json(path)


def test_setting_star_meets_its_floor_in_the_clear_span() -> None:
    """Or else the nights above would say nothing about floors."""
    shots, _ = planned(setting(40.0))
    assert [entry.reason for entry in shots.unplanned] == ["window_too_short"]
    assert shots.steps[-1].end_utc.hour == 4
