"""Which season file serves which request: another's is refused with the remedy, a stale one is told."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from optimizer.errors import InputError
from optimizer.models.request import Request
from optimizer.models.season_asked import SeasonAsked
from optimizer.season.matching import in_view
from tests.support.season_view_cases import (
    HIGH,
    LOW,
    NORTH,
    WIDE,
    a_season,
    changed_goal,
    season_of_two,
    season_request,
    wide_request,
)

ANEW = "plan the season anew with darkfill season"


def on(evening: str) -> Request:
    request = season_request()
    night = request.night.model_copy(update={"evening": dt.date.fromisoformat(evening)})
    return request.model_copy(update={"night": night})


def with_targets(*names: str) -> Request:
    """The request without the targets of these names, or with a target more for one that it has not."""
    request = season_request()
    kept = [target for target in request.targets if target.name not in names]
    there = {target.name for target in request.targets}
    new = [kept[0].model_copy(update={"name": name}) for name in names if name not in there]
    return request.model_copy(update={"targets": (*kept, *new)})


def with_aim(**changes: Any) -> Request:
    request = season_request()
    return request.model_copy(update={"aim": request.aim.model_copy(update=changes)})


@pytest.mark.parametrize(
    "request_now",
    [
        season_request(),
        on("2026-11-17"),
        changed_goal(season_request(), HIGH, "L", done=50),
        with_aim(time_limit_s=3.0, gap=0.5, seed=7, workers=0),
        season_request().model_copy(update={"tally": "in-hand.csv"}),
        season_request().model_copy(update={"season": SeasonAsked(nights=9, clear_odds=0.2)}),
    ],
    ids=["same", "another evening", "more in hand", "other limits", "a tally", "other nights and odds"],
)
def test_what_changes_by_the_night_makes_no_other_request(request_now: Request) -> None:
    view, doubts = in_view(a_season(), request_now)
    assert view.request is request_now
    assert doubts == ()


@pytest.mark.parametrize(
    ("request_now", "told"),
    [
        (with_targets("New"), "it lacks New"),
        (with_targets(LOW), "it has besides Low"),
        (with_targets(LOW, "New"), "it lacks New and has besides Low"),
        (with_targets("Esc\x1b[2J"), "it lacks Esc\\u001b[2J"),
        (with_aim(balance=0.7), "they differ in aim"),
        (changed_goal(season_request(), HIGH, "L", frames=61), "they differ in targets"),
    ],
    ids=["target added", "target gone", "both", "name of signs", "aim", "frames"],
)
def test_the_season_of_another_request_is_refused(request_now: Request, told: str) -> None:
    with pytest.raises(InputError) as caught:
        in_view(a_season(), request_now, "mine.season.json")
    assert str(caught.value) == (
        f"mine.season.json: this season was planned for another request: {told}; {ANEW}, or name the season of "
        "this request"
    )


@pytest.mark.parametrize("evening", ["2026-11-13", "2026-11-18"])
def test_an_evening_outside_the_season_is_refused(evening: str) -> None:
    with pytest.raises(InputError) as caught:
        in_view(a_season(), on(evening), "mine.season.json")
    assert str(caught.value) == (
        f"mine.season.json: the evening of {evening} is none of the season's, which is from 2026-11-14 to "
        f"2026-11-17; {ANEW}, or name an evening of it"
    )


def test_counts_that_moved_by_more_than_a_night_are_told() -> None:
    """The longest night is dark for 40,000 s: 133 subs of 300 s are less, one more is more."""
    planned = changed_goal(season_request(), HIGH, "Ha", frames=400)
    within = in_view(a_season(planned), changed_goal(planned, HIGH, "Ha", done=133))[1]
    beyond = in_view(a_season(planned), changed_goal(planned, HIGH, "Ha", done=134), "mine.season.json")[1]
    assert within == ()
    assert beyond == (
        "mine.season.json: since the season was planned, what is in hand has changed by 11.2 h of open shutter, "
        f"more than its longest night is dark (11.1 h), so what it says of later nights is out of date; {ANEW}",
    )


def test_values_of_long_ago_are_told_where_tonight_goes_by_them() -> None:
    nights = a_season().nights
    last = nights[-1].model_copy(update={"evening": "2026-11-29"})
    for by, told in (("season values", 1), ("scarce hours", 0)):
        season = a_season(by=by, nights=(*nights, last))  # type: ignore[arg-type]
        assert in_view(season, on("2026-11-17"))[1] == ()
        doubts = in_view(season, on("2026-11-29"))[1]
        assert len(doubts) == told
        assert all("15 nights before this one" in each for each in doubts)


# --- several rigs -------------------------------------------------------------------------------------------


def test_a_request_finds_its_rig_by_name_then_by_itself() -> None:
    season = season_of_two()
    assert in_view(season, season_request(), rig=NORTH)[0].own.name == NORTH
    assert in_view(season, wide_request())[0].own.name == WIDE
    assert (
        in_view(season, season_request(), rig="moved")[0].own.name == NORTH
    )  # its file has another name now


def test_a_request_of_no_rig_of_the_season_is_refused() -> None:
    another = with_aim(balance=0.7)
    with pytest.raises(InputError) as caught:
        in_view(season_of_two(), another, "two.season.json", rig="south")
    assert str(caught.value) == (
        'two.season.json: this season is of the rigs "north" and "wide", and this request is of a rig named '
        '"south"; name the rig in the request, like rig = "north", or name the season of this request'
    )
    with pytest.raises(InputError, match="planned for another request: they differ in aim"):
        in_view(season_of_two(), another, rig=NORTH)
    with pytest.raises(InputError, match="planned for another request: it lacks Low, Done and South"):
        in_view(season_of_two(), season_request(), rig=WIDE)


def test_of_two_rigs_with_one_request_the_name_decides() -> None:
    season = season_of_two()
    twin = season.rigs[0].model_copy(update={"name": "twin"})
    three = season.model_copy(update={"rigs": (*season.rigs, twin)})
    assert in_view(three, season_request(), rig=NORTH)[0].rig == 0
    with pytest.raises(InputError, match="this request is of a rig without a name"):
        in_view(three, season_request())


def test_counts_that_moved_are_those_of_the_rig_since_it_was_planned() -> None:
    """The second rig had 15 subs of 120 s; its longest night is dark for 40,000 s."""
    for done, told in ((15, 0), (15 + 333, 0), (15 + 334, 1)):
        assert len(in_view(season_of_two(), changed_goal(wide_request(), HIGH, "L", done=done))[1]) == told
