"""What is drawn is what the list and the sky say."""

from __future__ import annotations

import pytest

from optimizer.report.picture.facts import picture_facts
from optimizer.report.picture.shown import shown_list, shown_steps
from optimizer.report.picture.target_lane import altitude_at
from optimizer.report.window_facts import windows_report
from tests.support.picture_cases import NIGHTS, facts_of, stored

each_night = pytest.mark.parametrize("night", NIGHTS)


@each_night
def test_courses_pass_through_the_altitudes_of_the_steps(night: str) -> None:
    """Ten minutes between points: straight to within a tenth of a degree."""
    compared = 0
    for target in facts_of(night).targets:
        for placed in target.placed_steps:
            if placed.step.altitude_deg is not None:
                assert altitude_at(target, placed.start_s) == pytest.approx(placed.step.altitude_deg, abs=0.1)
                compared += 1
    assert compared > 40


@each_night
def test_lanes_are_in_the_order_of_the_plan_then_of_the_request(night: str) -> None:
    shots = stored(night)
    planned = list(dict.fromkeys(step.target for step in shots.steps if step.target))
    left = [target.name for target in shots.request.targets if target.name not in planned]
    assert [target.name for target in facts_of(night).targets] == planned + left


@each_night
def test_open_ground_is_where_a_window_of_some_filter_is_open(night: str) -> None:
    facts = facts_of(night)
    report = windows_report(stored(night).request)
    for target in report.targets:
        (drawn,) = (each for each in facts.targets if each.name == target.name)
        for entry in target.filters:
            for window in entry.windows:
                middle = (facts.clock.seconds(window.start_utc) + facts.clock.seconds(window.end_utc)) / 2
                (span,) = (each for each in drawn.open_spans if each.start_s <= middle < each.end_s)
                assert entry.filter in span.filters


@each_night
def test_every_exposure_lies_where_its_filter_may_be_open(night: str) -> None:
    for target in facts_of(night).targets:
        for placed in target.exposures:
            spans = [each for each in target.open_spans if each.start_s <= placed.start_s < each.end_s]
            assert [placed.step.filter in span.filters for span in spans] == [True]


@each_night
def test_flips_lie_between_transit_and_contact(night: str) -> None:
    for target in facts_of(night).targets:
        for placed in (each for each in target.placed_steps if each.step.kind == "flip"):
            assert any(transit < placed.start_s for transit, _ in target.transits)
            assert any(placed.start_s < contact < placed.start_s + 7200 for contact in target.contacts_s)


def test_list_without_steps_shows_the_whole_night() -> None:
    shots = stored("first-night").model_copy(update={"steps": ()})
    facts = picture_facts(shown_list(shots))
    assert facts.night.sunset_utc is not None
    assert facts.start_s < facts.clock.seconds(facts.night.sunset_utc)
    assert [target.placed_steps for target in facts.targets] == [(), (), ()]


def test_steps_of_another_night_are_counted_not_drawn() -> None:
    shots = stored("first-night")
    night = shots.request.night.model_copy(update={"evening": shots.request.night.evening.replace(day=20)})
    other = shots.request.model_copy(update={"night": night})
    facts = picture_facts(shown_steps(other, shots.steps))
    assert (len(facts.placed_steps), facts.steps_outside) == (0, len(shots.steps))


def test_bare_steps_are_counted_against_the_goals() -> None:
    shots = stored("long-winter-night")
    plan = shown_steps(shots.request, shots.steps)
    assert plan.open_shutter_s == shots.totals.open_shutter_s
    assert [goal.frames_planned for goal in plan.goals] == [g.frames_planned for g in shots.totals.goals]
    assert [goal.frames_left for goal in plan.goals] == [g.frames_left for g in shots.totals.goals]
    assert (plan.proof, plan.audit, plan.dark_s) == (None, None, None)
