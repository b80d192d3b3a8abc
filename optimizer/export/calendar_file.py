"""A plan as a calendar (RFC 5545): a visit an event, with alarms at flips and at the end of the list."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import TYPE_CHECKING

from optimizer.views.models import BlockView, PlanView, VisitView
from optimizer.words import number

if TYPE_CHECKING:
    from icalendar import Alarm, Event

PRODUCT = "-//darkfill//darkfill-views 1//EN"


def calendar_text(view: PlanView) -> str:
    """Write a calendar, its instants in UTC and the words of its events in local time with its offset.

    The same plan gives the same text, byte for byte.

    `UID` comes from the request and the visit, `DTSTAMP` is when the list was made, or when it starts where
    its file does not tell.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    for visit in view.visits:
        event = _event(view, visit)
        if visit.arrival == "flip":
            event.add_component(_alarm(dt.timedelta(0), _flip_words(visit)))
        end = view.plan.end_utc
        if visit is view.visits[-1] and end is not None:
            event.add_component(_alarm(end - visit.start_utc, "End of the list: the mount is to be parked."))
        calendar.add_component(event)
    content: bytes = calendar.to_ical()
    return content.decode()


def _event(view: PlanView, visit: VisitView) -> Event:
    from icalendar import Event

    blocks = [block for block in view.blocks if block.visit == visit.visit]
    event = Event()
    event.add("uid", _uid(view, visit))
    event.add("dtstamp", view.plan.created_utc or view.plan.start_utc)
    event.add("dtstart", visit.start_utc)
    if visit.end_utc > visit.start_utc:
        event.add("dtend", visit.end_utc)
    subs = ", ".join(_subs(block) for block in blocks)
    event.add("summary", f"{visit.target}: {subs}" if subs else visit.target)
    event.add("location", view.plan.site)
    event.add("description", "\n".join(_lines(visit, blocks)))
    return event


def _alarm(after: dt.timedelta, words: str) -> Alarm:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", after)
    alarm.add("description", words)
    return alarm


def _uid(view: PlanView, visit: VisitView) -> str:
    what = f"{view.plan.request_sha256}\n{visit.start_utc.isoformat()}\n{visit.target}\n{visit.pier_side}"
    return f"{hashlib.sha256(what.encode()).hexdigest()[:32]}@darkfill"


def _subs(block: BlockView) -> str:
    length = "" if block.exposure_s is None else f"×{number(block.exposure_s)}s"
    return f"{block.filter or 'no filter'} {block.count}{length}"


def _flip_words(visit: VisitView) -> str:
    latest = "" if visit.latest_start_local is None else f", at {_clock(visit.latest_start_local)}"
    return f"Flip on {visit.target}{latest}{latest and ' at the latest'}."


def _lines(visit: VisitView, blocks: list[BlockView]) -> list[str]:
    lines = []
    if visit.ra_hms is not None and visit.dec_dms is not None:
        lines.append(f"{visit.ra_hms} {visit.dec_dms} ({visit.frame})")
    if visit.position_angle_deg is not None:
        lines.append(f"Position angle {number(visit.position_angle_deg)}°")
    if visit.field_turned:
        lines.append("The field is turned by 180° from what is wanted.")
    if visit.guide_star_anew:
        lines.append("The guide star of an off-axis guider must be chosen anew.")
    if visit.pier_side is not None:
        lines.append(f"Pier side {visit.pier_side}")
    if visit.arrival == "flip":
        lines.append(_flip_words(visit))
    lines += [f"{_clock(block.start_local)} to {_clock(block.end_local)}: {_subs(block)}" for block in blocks]
    return lines


def _clock(local: str) -> str:
    """Time of day and offset of a local time, like `20:22:57 (UTC+01:00)`.

    A calendar shows its events by the reader's clock: an alarm that named UTC would be read as past or far.
    """
    return f"{local[11:19]} (UTC{local[19:]})"
