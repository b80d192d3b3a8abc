"""A night in view of its season: by what subs count, what tonight gives, and why each target is on or off."""

from __future__ import annotations

import datetime as dt
import html
from functools import lru_cache

import pytest

from optimizer import chart
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.report.in_season_facts import season_words
from optimizer.season.matching import in_view
from optimizer.seasons import Season
from tests.support.checks import there
from tests.support.season_view_cases import (
    DONE,
    HIGH,
    LOW,
    NORTH,
    PLANS,
    SOUTH,
    a_season,
    changed_goal,
    goal_keys,
    season_of_two,
    season_request,
    wide_request,
)


@lru_cache(maxsize=4)
def planned(by: str, balance: float = 0.0) -> ShotList:
    season = a_season(season_request(balance=balance), by=by)  # type: ignore[arg-type]
    return Season(season).tonight()


def told(shots: ShotList) -> InSeason:
    return there(shots.season)


def sentences(shots: ShotList) -> dict[str, str]:
    return {row.target: row.sentence for row in told(shots).targets}


@pytest.mark.parametrize("by", ["scarce hours", "season values"])
def test_a_night_in_view_of_a_season_passes_the_audit(by: str) -> None:
    shots = planned(by)
    assert shots.audit_report.violations == ()
    assert "season" in shots.audit_report.rules
    assert [each.goal_key for each in told(shots).goals] == goal_keys(shots.request)
    assert told(shots).policy == ("own weights" if by == "scarce hours" else by)  # its scarcity is 0


def test_by_scarce_hours_the_plan_is_the_one_that_plan_makes_by_itself() -> None:
    shots, alone = planned("scarce hours"), Night(season_request(balance=0.0)).plan()
    assert shots.steps == alone.steps
    assert shots.request == alone.request
    assert alone.season is None


def test_by_the_seasons_values_subs_count_by_what_they_are_worth() -> None:
    """0.5 of its own worth, 1.5, 2 (of a weight of one half), and no less than a thousandth."""
    shots = planned("season values", 0.3)
    assert [each.factor for each in told(shots).goals] == [0.5, 1.5, 2.0, 0.001, 0.1]
    assert (shots.request.aim.balance, shots.request.aim.scarcity) == (0.0, 0.0)
    assert told(shots).balance == 0.3
    worth = {HIGH: {"L": 60.0, "Ha": 450.0}, LOW: {"L": 120.0}}
    value_s = sum(
        worth[step.target or ""][step.filter or ""] for step in shots.steps if step.kind == "expose"
    )
    assert shots.proof.objective == pytest.approx(value_s)


def test_what_tonight_gives_is_counted_up_to_what_is_wanted() -> None:
    """Later nights, at odds of one half: 25 of L and 5 of Ha on the high target, 15 of L on the low one."""
    shots = planned("scarce hours")
    later = {(each.target, each.filter): (each.later_frames, each.later_s) for each in told(shots).goals}
    assert later[HIGH, "L"] == (25.0, 3000.0)
    assert later[HIGH, "Ha"] == (5.0, 1500.0)
    assert later[LOW, "L"] == (15.0, 900.0)
    assert told(shots).without_s == 3000 + 1500 + 900
    planned_now = {(each.target, each.filter): each.frames_planned for each in shots.totals.goals}
    total = 0.0
    for (target, through), left, frame_s in (
        ((HIGH, "L"), 50, 120),
        ((HIGH, "Ha"), 24, 300),
        ((LOW, "L"), 40, 60),
    ):
        frames = planned_now[target, through]
        later_frames, later_s = later[target, through]
        total += frames * frame_s + later_s * min(1, (left - frames) / later_frames)
    assert told(shots).with_s == pytest.approx(total, abs=1e-3)
    assert there(told(shots).with_s) > there(told(shots).without_s)


def test_each_sentence_says_what_the_seasons_nights_say() -> None:
    shots = planned("season values")
    found = sentences(shots)
    assert found[DONE] == "Off: all its subs are in hand."
    assert found[SOUTH] == "Off: it cannot be shot tonight; no later night of the season can serve it."
    rows = {row.target: row for row in told(shots).targets}
    assert (rows[HIGH].nights_left, rows[HIGH].moonlit, rows[HIGH].last_evening) == (3, 2, "2026-11-17")
    assert (rows[LOW].nights_left, rows[LOW].moonlit, rows[LOW].last_evening) == (2, 1, "2026-11-16")
    assert found[LOW].endswith(
        "; 2 later nights, up to 16 November, can serve it, 1 of them moonlit; its subs count 2.00 times their "
        "own worth."
    )
    assert found[HIGH].endswith(
        "; 3 later nights, up to the season's last, can serve it, 2 of them moonlit; its subs count 0.50 to 1.50 "
        "times their own worth."
    )
    open_s = sum(
        step.exposure_s or 0 for step in shots.steps if step.target == HIGH and step.kind == "expose"
    )
    assert rows[HIGH].on == (open_s > 0)
    assert found[HIGH].startswith("On, ")


def test_where_all_subs_count_as_they_are_nothing_is_said_of_that() -> None:
    found = sentences(planned("scarce hours"))
    assert not any("count" in sentence for sentence in found.values())
    assert found[LOW].endswith("; 2 later nights, up to 16 November, can serve it, 1 of them moonlit.")
    scarce = Season(a_season(season_request(scarcity=0.5))).tonight()
    assert told(scarce).policy == "scarce hours"
    assert scarce.audit_report.violations == ()
    factors = {(each.target, each.filter): each.factor for each in scarce.values}
    assert {(each.target, each.filter): each.factor for each in told(scarce).goals} == factors
    assert f"count {factors[LOW, 'L']:.2f} times their own worth" in sentences(scarce)[LOW]


@pytest.mark.parametrize(
    ("evening", "words"),
    [
        ("2026-11-16", "no later night of the season can serve it"),
        ("2026-11-15", "one later night can serve it, 16 November, not moonlit"),
        ("2026-11-17", "the season ends tonight"),
    ],
)
def test_sentences_of_later_evenings(evening: str, words: str) -> None:
    request = season_request()
    night = request.night.model_copy(update={"evening": dt.date.fromisoformat(evening)})
    shots = Season(a_season()).tonight(request.model_copy(update={"night": night}))
    assert words in sentences(shots)[LOW]
    assert (
        told(shots).nights_after
        == 4 - ("2026-11-14", "2026-11-15", "2026-11-16", "2026-11-17").index(evening) - 1
    )


def test_a_goal_that_came_in_hand_since_is_off() -> None:
    request = changed_goal(season_request(), LOW, "L", done=40)
    shots = Season(a_season()).tonight(request)
    assert sentences(shots)[LOW] == "Off: all its subs are in hand."
    assert shots.audit_report.violations == ()
    later = {each.target: each for each in told(shots).goals}
    assert (
        later[LOW].later_frames
        == sum(each.frames for plan in PLANS[1:] for each in plan if each.target == LOW) / 2
    )


def test_the_nights_page_tells_the_sentences_too() -> None:
    shots = planned("season values")
    page = chart(shots)
    assert "<h2>In view of the season</h2>" in page
    for row in told(shots).targets:
        assert html.escape(row.sentence, quote=False).replace("'", "&#39;") in page
    assert "In view of the season" not in chart(Night(season_request(balance=0.0)).plan())


def test_relief_and_other_questions_keep_the_seasons_values() -> None:
    view, _ = in_view(a_season(by="season values"), season_request())
    night = Night(view.as_planned, view=view)
    asked = night.ask(night.without_target(LOW), limit_s=1.0)
    factors = {(task.target.name, task.goal.filter): float(task.factor) for task in asked.problem.tasks}
    assert factors == {(HIGH, "L"): 0.5, (HIGH, "Ha"): 1.5, (DONE, "L"): 0.001, (SOUTH, "L"): 0.1}


# --- several rigs -------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def of_two() -> ShotList:
    return Season(season_of_two()).tonight(rig=NORTH)


def test_what_other_rigs_had_in_hand_is_no_more_asked_for() -> None:
    shots = of_two()
    assert shots.audit_report.violations == ()
    assert [goal.done for _, goal in shots.request.goals()] == [15, 0, 0, 8, 0]
    factors = Season(season_of_two(by="season values")).file
    north, _ = in_view(factors, season_request(), rig=NORTH)
    wide, _ = in_view(factors, wide_request())
    assert there(north.factors)[HIGH, 0] == 0.5
    assert {float(each) for each in there(wide.factors).values()} == {0.75}


def test_nights_of_other_rigs_from_tonight_on_bring_their_part() -> None:
    """At odds of one half: 45 subs of this rig's on a later night, 10 of the other's on each of four."""
    said = told(of_two())
    assert (said.rigs, said.nights_after) == (2, 7)
    high = said.goals[0]
    assert (high.later_frames, high.later_s) == (22.5 + 20, 2700 + 2400)
    words = there(season_words(said))
    assert "of value to the plans of the 7 other nights of 2 rigs as they stand" in words


def test_sentences_tell_of_the_nights_of_all_rigs() -> None:
    found = sentences(of_two())
    assert found[DONE] == "Off: all subs of it that this rig may take are in hand."
    assert found[SOUTH] == "Off: it cannot be shot tonight; no other night of any rig can serve it."
    assert (
        "; 7 more nights of the rigs together, up to the season's last, can serve it, 4 of them moonlit"
        in found[HIGH]
    )
    assert "; 2 more nights of the rigs together, up to 16 November, can serve it, 1 of them" in found[LOW]


def test_sentence_of_what_is_on_tells_of_other_rigs_plans_of_tonight() -> None:
    """Of 50 subs 35 are lacking and all planned, and the other rig has ten of them in its plan."""
    also = "; the season's plans of tonight have it with wide too"
    found = sentences(of_two())
    assert found[HIGH].endswith(f"{also}, with all of which it gets more L than it lacks.")
    assert "wide" not in found[LOW]
    season = season_of_two()
    few = tuple(
        night.model_copy(update={"plan": () if night.evening == season.nights[0].evening else night.plan})
        for night in season.nights
    )
    alone = Season(season.model_copy(update={"nights": few})).tonight(rig=NORTH)
    assert "wide" not in sentences(alone)[HIGH]


def test_a_request_of_another_rig_than_the_one_named_is_an_error() -> None:
    with pytest.raises(ValueError, match=r"tonight\(\): the request is of the rig 'wide', not of 'north'"):
        Season(season_of_two()).tonight(wide_request(), rig=NORTH)


def test_a_rig_that_the_season_has_not_is_an_error() -> None:
    with pytest.raises(
        ValueError, match=r"tonight\(\): this season has no rig 'south'; its rigs: north, wide"
    ):
        Season(season_of_two()).tonight(rig="south")
