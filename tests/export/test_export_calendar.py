"""The calendar as two other libraries read it: a visit an event, alarms at flips and at the end, always the same bytes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from optimizer.export.calendar_file import calendar_text
from optimizer.models.shots import ShotList
from optimizer.views.models import PlanView, VisitView
from optimizer.views.view import view_of, view_of_steps
from tests.support.replan_nights import flipping_list
from tests.support.view_cases import LISTS, NAMES, renamed

MAKERS = [pytest.param(maker, id=name) for name, maker in LISTS.items()]


def alarms_of(view: PlanView, visit: VisitView) -> list[dt.timedelta]:
    """When the alarms of a visit are due, after its start."""
    due = [dt.timedelta(0)] if visit.arrival == "flip" else []
    if visit is view.visits[-1]:
        assert view.plan.end_utc is not None
        due.append(view.plan.end_utc - visit.start_utc)
    return due


def summary_of(view: PlanView, visit: VisitView) -> str:
    subs = [block for block in view.blocks if block.visit == visit.visit]
    runs = ", ".join(f"{block.filter} {block.count}×{block.exposure_s:g}s" for block in subs)
    return f"{visit.target}: {runs}" if runs else visit.target


@pytest.mark.parametrize("maker", MAKERS)
def test_ical_reads_what_was_planned(maker: Callable[[], ShotList]) -> None:
    from ical.calendar_stream import IcsCalendarStream

    view = view_of(maker())
    events = IcsCalendarStream.calendar_from_ics(calendar_text(view)).events
    assert [event.dtstart for event in events] == [visit.start_utc for visit in view.visits]
    assert [event.dtend for event in events] == [visit.end_utc for visit in view.visits]
    for event, visit in zip(events, view.visits, strict=True):
        assert event.summary == summary_of(view, visit)
        assert event.location == view.plan.site
        assert event.dtstamp == view.plan.created_utc
        assert [alarm.trigger for alarm in event.alarm] == alarms_of(view, visit)
        assert ("turned by 180°" in (event.description or "")) == bool(visit.field_turned)
    assert len({event.uid for event in events}) == len(events)


@pytest.mark.parametrize("maker", MAKERS)
def test_vobject_reads_what_was_planned(maker: Callable[[], ShotList]) -> None:
    import vobject

    view = view_of(maker())
    calendar: Any = vobject.readOne(calendar_text(view))
    if not view.visits:
        assert not hasattr(calendar, "vevent")
        return
    assert calendar.validate(raiseException=True)
    for event, visit in zip(calendar.vevent_list, view.visits, strict=True):
        assert event.validate(raiseException=True)
        assert (event.dtstart.value, event.dtend.value) == (visit.start_utc, visit.end_utc)
        assert event.summary.value == summary_of(view, visit)
        due = [alarm.trigger.value for alarm in event.contents.get("valarm", [])]
        assert due == alarms_of(view, visit)


@pytest.mark.parametrize("maker", MAKERS)
def test_bytes_are_as_the_standard_has_them(maker: Callable[[], ShotList]) -> None:
    """Lines end in CR LF and have at most 75 octets; no sign is cut in two; times are UTC."""
    content = calendar_text(view_of(maker())).encode()
    assert content.endswith(b"END:VCALENDAR\r\n")
    lines = content.split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)
    for line in lines:
        line.decode()
        if line.startswith((b"DTSTART", b"DTEND", b"DTSTAMP")):
            assert line.endswith(b"Z")
            assert b"TZID" not in line
    assert b"VTIMEZONE" not in content


def test_the_same_plan_gives_the_same_bytes_and_another_plan_other_events() -> None:
    shots = flipping_list()
    text = calendar_text(view_of(shots))
    assert calendar_text(view_of(shots.model_copy())) == text
    other = calendar_text(view_of(shots.model_copy(update={"request_sha256": "1" * 64})))
    uids = [{line for line in each.splitlines() if line.startswith("UID:")} for each in (text, other)]
    assert len(uids[0]) == 2
    assert not uids[0] & uids[1]


def test_a_calendar_of_bare_steps_is_stamped_with_their_start() -> None:
    shots = flipping_list()
    text = calendar_text(view_of_steps(shots.steps, shots.request))
    assert text.count(f"DTSTAMP:{shots.steps[0].start_utc:%Y%m%dT%H%M%SZ}\r\n") == 2


def test_a_flip_tells_its_latest_start_and_the_guide_star() -> None:
    view = view_of(flipping_list())
    flip = view.visits[1]
    text = calendar_text(view).replace("\r\n ", "")
    latest = flip.latest_start_local
    assert latest is not None
    assert f"Flip on Cradle\\, at {latest[11:19]} (UTC{latest[19:]}) at the latest." in text
    assert text.count("The guide star of an off-axis guider must be chosen anew.") == 1


@pytest.mark.parametrize("name", NAMES)
def test_a_name_that_is_not_escaped_would_be_seen(name: str) -> None:
    """Signs that mean something in a calendar are escaped in it, so that the readers above give them back."""
    text = calendar_text(view_of(renamed(flipping_list(), name))).replace("\r\n ", "")
    summary = next(line for line in text.splitlines() if line.startswith("SUMMARY:"))
    told = summary.removeprefix("SUMMARY:").removesuffix(": L 9×120s")
    for sign in ";,\\":
        assert told.count("\\" + sign) >= name.count(sign)


def test_an_alarm_names_the_clock_by_which_a_calendar_shows_its_events() -> None:
    """The latest start of a flip in local time with its offset, as the visit's view has it."""
    import icalendar

    view = view_of(flipping_list())
    calendar = icalendar.Calendar.from_ical(calendar_text(view))
    flips = [visit for visit in view.visits if visit.arrival == "flip"]
    alarms = [str(alarm["description"]) for alarm in calendar.walk("VALARM")]
    assert flips
    for visit in flips:
        latest = visit.latest_start_local
        assert latest is not None
        assert latest[19:] != "Z"
        words = f"Flip on {visit.target}, at {latest[11:19]} (UTC{latest[19:]}) at the latest."
        assert words in alarms
    for event, visit in zip(calendar.walk("VEVENT"), view.visits, strict=True):
        for block in (each for each in view.blocks if each.visit == visit.visit):
            assert f"{block.start_local[11:19]} (UTC{block.start_local[19:]}) to" in str(event["description"])
