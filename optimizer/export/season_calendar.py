"""A season as a calendar (RFC 5545): an event a rig and night, and the days by which projects are done."""

from __future__ import annotations

import datetime as dt
import hashlib
import math
import zoneinfo
from typing import TYPE_CHECKING

from optimizer.models.season import GoalFrames, Project, RigOfSeason, SeasonFile, SeasonNight, SeasonVisit
from optimizer.words import count, listing, number

if TYPE_CHECKING:
    from icalendar import Event

PRODUCT = "-//darkfill//darkfill-season 1//EN"
MOST_NAMED = 3  # targets in the title of a night
ANEW = (
    "A plan made on {made}, for a clear night. What comes before changes it: plan each evening anew with "
    "darkfill plan REQUEST --season {file}."
)


def season_calendar(season: SeasonFile, file: str = "STEM.season.json") -> str:
    """Write a calendar: an event for each rig and night with a plan, one for each day that ends something.

    Instants are in UTC, the words of events in the rig's local time with its offset. The same season gives
    the same text, byte for byte: `UID` comes from the request and what is told, `DTSTAMP` is when it was
    made. `file` is what the season's JSON is called.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    rigs = {rig.name: rig for rig in season.rigs}
    for night in season.nights:
        if night.visits:
            rig = rigs[night.rig] if len(rigs) > 1 else season.rigs[0]
            calendar.add_component(_night(season, rig, night, file))
    for day, words, description in _days(season):
        calendar.add_component(_day(season, day, words, description))
    content: bytes = calendar.to_ical()
    return content.decode()


def _night(season: SeasonFile, rig: RigOfSeason, night: SeasonNight, file: str) -> Event:
    event = _event(season, f"night\n{night.rig}\n{night.evening}")
    event.add("dtstart", night.visits[0].start_utc)
    event.add("dtend", night.visits[-1].end_utc)
    targets = list(dict.fromkeys(visit.target for visit in night.visits))
    whose = f", {rig.name}" if len(season.rigs) > 1 else ""
    event.add("summary", f"If clear{whose}: {listing(targets, 'and', most=MOST_NAMED)}")
    event.add("location", rig.request.site.name)
    zone = zoneinfo.ZoneInfo(rig.request.site.time_zone)
    lines = [f"{100 * night.odds:.0f} % likely clear; Moon {100 * night.moon_illuminated:.0f} % lit"]
    lines += [_visit(visit, zone) for visit in night.visits]
    lines.append(ANEW.format(made=f"{season.created_utc:%Y-%m-%d}", file=file))
    event.add("description", "\n".join(lines))
    return event


def _visit(visit: SeasonVisit, zone: zoneinfo.ZoneInfo) -> str:
    begin, end = (each.astimezone(zone) for each in (visit.start_utc, visit.end_utc))
    offset = f"{end:%z}"
    side = f", pier side {visit.pier_side}" if visit.pier_side else ""
    subs = ", ".join(_subs(goal) for goal in visit.frames)
    return f"{begin:%H:%M} to {end:%H:%M} (UTC{offset[:3]}:{offset[3:]}) {visit.target}: {subs}{side}"


def _subs(goal: GoalFrames) -> str:
    return f"{goal.filter} {goal.frames}×{number(goal.exposure_s)}s"


def _days(season: SeasonFile) -> list[tuple[str, str, str]]:
    """Evening, title and text of what ends on a day, in the order of days."""
    last, days = season.nights[-1].evening, []
    for project in season.projects:
        if all(goal.in_hand >= goal.wanted for goal in project.goals):
            continue
        if season.policy is not None:
            sampled = f"of {season.policy.seasons} simulated seasons"
            for share, evening in ((50, project.finish_50), (90, project.finish_90)):
                if evening is not None:
                    words = f"{project.target}: finished by tonight in {share} % of simulated seasons"
                    days.append((evening, words, f"By the subs of this night, in {share} % {sampled}."))
        useful = project.last_useful_evening
        if useful is not None and useful < last:
            days.append((useful, f"{project.target}: last useful night", _left(project)))
    return sorted(days)


def _left(project: Project) -> str:
    """What is known of a project whose last night comes."""
    nights = count(project.nights, "night")
    nights += f" of {count(len(project.rigs), 'rig')}" if len(project.rigs) > 1 else " of the season"
    words = f"It can be shot on {nights}, and on none after this one"
    if project.finish_share is None:
        return f"{words}."
    return (
        f"{words}; it is finished in {math.floor(100 * project.finish_share + 1e-9)} % of simulated seasons."
    )


def _day(season: SeasonFile, day: str, words: str, description: str) -> Event:
    event = _event(season, f"day\n{words}")
    date = dt.date.fromisoformat(day)
    event.add("dtstart", date)
    event.add("dtend", date + dt.timedelta(days=1))
    event.add("summary", words)
    event.add("description", description)
    return event


def _event(season: SeasonFile, what: str) -> Event:
    """An event that leaves the day free in a calendar, as nobody knows what the sky will do."""
    from icalendar import Event

    event = Event()
    told = f"{season.request_sha256}\n{what}"
    event.add("uid", f"{hashlib.sha256(told.encode()).hexdigest()[:32]}@darkfill")
    event.add("dtstamp", season.created_utc)
    event.add("transp", "TRANSPARENT")
    return event
