"""Factors of scarce goals: what follows from hours, what a night does with them, and what keeps them."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.ahead import factors as module
from optimizer.ahead.factors import Scarcity, scarcity_carried, scarcity_of
from optimizer.models.request import Request
from optimizer.night import Night
from optimizer.relief.changes import halved_exposures, lower_floor
from optimizer.sides.compare import compare_sides
from optimizer.sky.bodies import night_sky
from tests.support.ahead_cases import goals, realistic
from tests.support.sky_cases import a_request


def counted(hours: dict[str, float], monkeypatch: pytest.MonkeyPatch, **keys: Any) -> Scarcity:
    """The scarcity of a target with a goal in each of these filters, were the hours as given."""
    names = list(hours)
    request = a_request(
        filters=[{"name": name} for name in names],
        targets=[{"name": "A", "ra_deg": 60.0, "dec_deg": 30.0, "goals": keys.pop("goals", goals(*names))}],
        aim={**PLAIN_AIM, "scarcity": 0.5, **keys},
    )
    monkeypatch.setattr(module, "hours_ahead", lambda *_: {("A", name): each for name, each in hours.items()})
    return scarcity_of(request, night_sky(request))


# --- from hours to factors ---------------------------------------------------------------------------------


def test_factors_are_the_power_of_the_median_over_the_hours(monkeypatch: pytest.MonkeyPatch) -> None:
    scarcity = counted({"L": 52.0, "R": 52.0, "Ha": 121.0}, monkeypatch)
    assert scarcity.median_h == 52.0
    assert [scarcity.factor("A", name) for name in ("L", "R", "Ha")] == [1.0, 1.0, 0.656]
    scarcity = counted({"L": 52.0, "Ha": 121.0}, monkeypatch, scarcity=1.0)
    assert scarcity.median_h == 86.5
    assert [scarcity.factor("A", name) for name in ("L", "Ha")] == [1.663, 0.715]


def test_fewer_hours_than_one_count_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    scarcity = counted({"L": 0.17, "R": 1.0, "G": 4.0}, monkeypatch)
    assert [scarcity.factor("A", name) for name in ("L", "R", "G")] == [1.0, 1.0, 0.5]


def test_goals_without_any_hours_count_plainly_and_move_no_median(monkeypatch: pytest.MonkeyPatch) -> None:
    scarcity = counted({"L": 0.0, "R": 0.0, "G": 0.0, "Ha": 100.0, "OIII": 25.0}, monkeypatch)
    assert scarcity.median_h == 62.5
    assert scarcity.factor("A", "L") == 1.0
    assert scarcity.factor("A", "Ha") == 0.791
    nothing = counted({"L": 0.0}, monkeypatch)
    assert nothing.factor("A", "L") == 1.0


def test_complete_goals_have_a_factor_but_no_say_in_the_median(monkeypatch: pytest.MonkeyPatch) -> None:
    done = [{**goals("L")[0], "done": 30}, *goals("R", "G")]
    scarcity = counted({"L": 4.0, "R": 100.0, "G": 144.0}, monkeypatch, goals=done)
    assert scarcity.median_h == 122.0
    assert scarcity.factor("A", "L") == 5.523


@pytest.mark.parametrize(("hours", "expected"), [(1.0, 1000.0), (400.0, 1.0), (8000.0, 0.001)])
def test_factors_stay_within_three_digits_either_way(
    hours: float, expected: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    scarcity = counted({"L": hours, "R": 400.0, "G": 400.0}, monkeypatch, scarcity=3.0)
    assert scarcity.factor("A", "L") == expected


def test_without_scarcity_nothing_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("counted")

    monkeypatch.setattr(module, "hours_ahead", refuse)
    request = realistic(scarcity=0.0)
    night = Night(request)
    assert night.scarcity == Scarcity()
    assert night.scarcity.values(request) == ()
    assert night.scarcity.factors(request) == {}
    assert {task.factor for task in night.problem.tasks} == {Fraction(1)}
    assert night.ask(request).scarcity == Scarcity()


def test_broadband_under_a_bright_moon_counts_more_and_circumpolar_narrowband_less() -> None:
    request = realistic()
    by_goal = {(row.target, row.filter): row for row in Night(request).scarcity.values(request)}
    assert len(by_goal) == len(request.goals())
    for (target, name), row in by_goal.items():
        if target in ("Heart", "Elephant") and name != "L":
            assert row.factor < 0.9, (target, name)
        elif target == "Early cluster":
            assert row.factor > 1.2, (target, name)
    assert by_goal["Elephant", "L"].hours_ahead < 0.75 * by_goal["Elephant", "Ha"].hours_ahead
    assert by_goal["Elephant", "L"].factor > by_goal["Elephant", "Ha"].factor
    assert by_goal["Early cluster", "L"].factor == max(row.factor for row in by_goal.values())


# --- in a night --------------------------------------------------------------------------------------------


def test_frames_are_worth_their_factor_more() -> None:
    """Weighted seconds of the plan, added up by hand, are those of the proof; the values stand in the list."""
    shots = Night(realistic()).plan()
    factors = {(row.target, row.filter): row.factor for row in shots.values}
    assert len(set(factors.values())) > 3
    by_hand = sum(
        (step.exposure_s or 0) * factors[str(step.target), str(step.filter)]
        for step in shots.steps
        if step.kind == "expose"
    )
    assert by_hand > 0
    assert shots.proof.objective == pytest.approx(by_hand, abs=1e-3)
    assert [(row.target, row.filter) for row in shots.values] == [
        (target.name, goal.filter) for target, goal in shots.request.goals()
    ]
    assert not shots.values_carried
    assert shots.audit_report.violations == ()


def test_factors_do_not_depend_on_the_order_of_targets_and_goals() -> None:
    request = realistic()
    turned = request.model_copy(
        update={
            "targets": tuple(
                target.model_copy(update={"goals": target.goals[::-1]}) for target in request.targets[::-1]
            )
        }
    )
    one, other = (
        {(row.target, row.filter): row for row in Night(each).scarcity.values(each)}
        for each in (request, turned)
    )
    assert one == other


# --- a changed night keeps them ----------------------------------------------------------------------------


def rows(night: Night) -> dict[tuple[str, str], tuple[float, float]]:
    return {
        (row.target, row.filter): (row.hours_ahead, row.factor)
        for row in night.scarcity.values(night.request)
    }


def asked(night: Night, changed: Request) -> Night:
    return night.ask(changed, limit_s=0.2, gap=0.5)


def test_a_lower_floor_changes_no_factor() -> None:
    """Counted anew, a target that may be shot for longer would be worth less, and easing would look bad."""
    request = realistic()
    night = Night(request)
    change = lower_floor(request, request.target_named("Early cluster"))
    assert change is not None
    changed = change.made_in(request)
    anew = Night(changed)
    assert rows(anew)["Early cluster", "L"][0] > rows(night)["Early cluster", "L"][0]
    assert rows(anew)["Early cluster", "L"][1] < rows(night)["Early cluster", "L"][1]
    answer = asked(night, changed)
    assert rows(answer) == rows(night)
    assert [task.factor for task in answer.problem.tasks] == [task.factor for task in night.problem.tasks]
    assert rows(asked(answer, request)) == rows(night)  # and asked on from there


def test_shorter_exposures_keep_their_goal_s_factor() -> None:
    request = realistic()
    night = Night(request)
    change = halved_exposures(request.target_named("Whirl"), "L", 180.0)
    assert change is not None
    answer = asked(night, change.made_in(request))
    assert rows(answer) == rows(night)
    factors = {(task.target.name, task.goal.filter): task.factor for task in answer.problem.tasks}
    assert factors["Whirl", "L"] == Fraction(repr(rows(night)["Whirl", "L"][1]))


def test_without_a_target_the_others_keep_theirs() -> None:
    night = Night(realistic())
    answer = asked(night, night.without_target("Heart"))
    assert rows(answer) == {key: row for key, row in rows(night).items() if key[0] != "Heart"}


def test_a_goal_that_is_new_is_weighed_against_the_same_median() -> None:
    request = realistic()
    more = request.model_copy(
        update={
            "targets": (
                *request.targets,
                request.targets[0].model_copy(update={"name": "Newcomer", "ra_deg": 283.4}),
            )
        }
    )
    night = Night(request)
    answer = asked(night, more)
    known = rows(night)
    found = rows(answer)
    assert {key: row for key, row in found.items() if key[0] != "Newcomer"} == known
    hours, factor = found["Newcomer", "R"]
    assert 0 < hours < known["Whirl", "R"][0]
    assert factor == round((night.scarcity.median_h / hours) ** 0.5, 3)


@pytest.mark.parametrize("aim", [{"scarcity": 1.0}, {"look_ahead_nights": 7}])
def test_another_scarcity_is_asked_for_anew(aim: dict[str, Any]) -> None:
    request = realistic()
    night = Night(request)
    changed = request.with_aim(**aim)
    assert rows(asked(night, changed)) == rows(Night(changed))
    assert rows(Night(changed)) != rows(night)


def test_a_list_of_a_changed_night_says_whose_values_it_has() -> None:
    request = realistic()
    night = Night(request)
    lower = request.model_copy(update={"site": request.site.model_copy(update={"floor_deg": 15.0})})
    shots = asked(night, lower).plan()
    assert shots.values == night.scarcity.values(request)
    assert shots.values_carried
    assert shots.audit_report.violations == ()


def test_carried_hours_are_not_counted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    request = realistic()
    first = scarcity_of(request, night_sky(request))

    def refuse(*_: object) -> None:
        raise AssertionError("counted")

    monkeypatch.setattr(module, "hours_ahead", refuse)
    assert scarcity_carried(first, request, night_sky(request)).factors(request) == first.factors(request)


def test_sides_are_compared_by_the_factors_of_the_night() -> None:
    request = realistic(time_limit_s=2.0)
    compared = compare_sides(request)
    known = Night(request).scarcity.factors(request)
    found = {(task.target.name, task.goal_index): task.factor for task in compared.problem.tasks}
    assert found == known
    assert len(set(found.values())) > 3
