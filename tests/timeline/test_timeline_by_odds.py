"""Goals that the odds of clear sky leave short: nothing crashes, and each sentence is true."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.night import Night
from optimizer.problem import build_problem
from optimizer.report.sides_facts import sides_report
from optimizer.sides.compare import compare_sides
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from optimizer.timeline.by_odds import counting_only
from tests.support.timeline_nights import a_request, goal, instant
from tests.support.told_nights import cradle, told

FORK = {"kind": "fork"}


def odds(*pairs: tuple[str, float]) -> dict[str, Any]:
    return {"clear_odds": [[instant(time), percent] for time, percent in pairs]}


@pytest.mark.parametrize("aim", ["hours", "depth"])
def test_a_night_without_any_odds_has_an_empty_plan_that_says_so(aim: str) -> None:
    shots = Night(a_request(cradle(), night=odds(("22:00", 0.0)), aim={"value": aim})).plan()
    assert shots.steps == ()
    assert (shots.proof.status, shots.proof.objective, shots.proof.bound) == ("optimal", 0, 0)
    assert shots.audit_report.violations == ()
    assert shots.totals.expected_s == 0
    (entry,) = shots.unplanned
    assert (entry.reason, entry.frames) == ("clear_odds", 3)
    assert entry.sentence == (
        "the odds of clear sky given are 0 % whenever its shutter may be open; "
        "only odds above 0 % then would let it be planned"
    )


def test_a_goal_whose_hours_have_no_odds_is_left_out_beside_one_that_has_some() -> None:
    """The Cradle is up until dawn; the other sets by then, and the odds come late."""
    late = odds(("03:00", 0.0), ("03:20", 80.0))
    early = cradle(goal(frames=5), name="Early", ra_deg=330.0)
    found = told(a_request(cradle(goal(frames=5)), early, night=late, mount=FORK))
    assert [(entry.target, entry.reason) for entry in found.entries] == [("Early", "clear_odds")]
    assert {slot.target.name for slot in found.problem.slots} == {"Cradle"}


def test_odds_next_to_none_are_told_by_their_number() -> None:
    found = told(a_request(cradle(), night=odds(("22:00", 0.0002))))
    assert found.only.sentence == (
        "the odds of clear sky given, at most 0.0002 % while its shutter may be open, make a sub of it count "
        "less than a thousandth of a weighted second; better odds, a higher weight or longer subs would let "
        "it be planned"
    )


@pytest.mark.parametrize("clear", [{}, odds(("22:00", 100.0))])
def test_odds_are_not_blamed_where_none_or_the_best_are_given(clear: dict[str, Any]) -> None:
    """A sub of a hundredth of a second at a weight of a thousandth counts nothing in whole thousandths."""
    tiny = cradle(goal(exposure_s=0.01), weight=0.001)
    shots = Night(a_request(tiny, night=clear, aim={"value": "depth"})).plan()
    (entry,) = shots.unplanned
    assert (entry.reason, entry.sentence) == (
        "night_full",
        "its subs would count less than a thousandth of a weighted second each tonight; "
        "a higher weight or longer subs would let it be planned",
    )


def test_good_odds_are_told_in_plain_digits() -> None:
    tiny = cradle(goal(exposure_s=0.01), weight=0.001)
    shots = Night(a_request(tiny, night=odds(("22:00", 99.7)))).plan()
    (entry,) = shots.unplanned
    assert "at most 99.7 % while" in entry.sentence


def test_subs_that_count_nothing_are_not_called_crowded_out() -> None:
    """Six hours are open, but the odds are 0 % until 40 minutes before the end of them."""
    late = odds(("02:20", 0.0), ("02:30", 80.0))
    found = told(a_request(cradle(goal(frames=90)), night=late, clear=("21:00", "03:00"), mount=FORK))
    counting = counting_only(found.problem)
    assert found.only.reason == "clear_odds"
    assert "while a sub of it counts anything by the odds of clear sky given" in found.only.sentence
    for slot in counting.slots:
        for index, spans in slot.shutter.items():
            task = found.problem.tasks[index]
            for first, last in spans:
                assert task.frame_profit(first) > 0
                assert task.frame_profit(last - task.shutter_s) > 0
                assert (
                    first == found.problem.slots[0].shutter[index][0][0] or task.frame_profit(first - 1) == 0
                )


def test_with_odds_everywhere_nothing_is_cut() -> None:
    request = a_request(cradle(), night=odds(("22:00", 1.0)))
    problem = build_problem(request, sky_windows(request, night_sky(request)))
    assert counting_only(problem) is problem


def test_sides_do_not_call_impossible_what_only_counts_nothing() -> None:
    request = a_request(cradle(), night=odds(("22:00", 0.0)), aim={"time_limit_s": 1.0})
    (target,) = sides_report(compare_sides(request)).targets
    assert target.reason == (
        "no sub of it that counts anything fits tonight before, after or across its transit: proven"
    )


@pytest.mark.parametrize("aim", ["hours", "depth"])
def test_depth_of_sides_is_depth_and_expected_hours_stand_beside_it(aim: str) -> None:
    night = odds(("22:00", 50.0))
    request = a_request(
        cradle(weight=2.0), night=night, clear=("22:00", "23:30"), aim={"value": aim, "time_limit_s": 1.0}
    )
    (target,) = sides_report(compare_sides(request)).targets
    outcome = target.choices["before"].night
    assert outcome is not None
    assert outcome.target_expected_s == pytest.approx(outcome.target_open_shutter_s / 2, abs=0.01)
    assert (outcome.target_depth_s is not None) == (aim == "depth")
    counted_s = outcome.target_open_shutter_s if outcome.target_depth_s is None else outcome.target_depth_s
    assert outcome.target_value == pytest.approx(2.0 * 0.5 * counted_s, rel=1e-3)
