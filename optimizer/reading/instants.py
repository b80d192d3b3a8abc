"""Instants as people write them: a time of day of the night or a date and time, local or with an offset."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo

from optimizer.models.site import FIRST_YEAR, LAST_YEAR

Span = tuple[dt.datetime, dt.datetime]
TIME = re.compile(
    r"(?:(?P<date>[0-9]{4}-[0-9]{2}-[0-9]{2})[T ]\s*)?(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})"
    r"(?::(?P<second>[0-9]{2}))?\s*(?P<zone>Z|[+-][0-9]{2}:?[0-9]{2})?",
    re.IGNORECASE,
)
TIME_LIKE = "write it like 20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z"


def instant_of(text: str, span: Span, zone_name: str) -> dt.datetime:
    """Find the instant in UTC that a time means in the night between the two noons of `span`.

    A time of day is the one in that night; a time without an offset is in the zone of that name. Raises
    ValueError with what is wrong, a semicolon, and the remedy: no time at all, one that does not exist, or
    one that a change of the clocks leaves out or has twice.
    """
    parts = TIME.fullmatch(text)
    if parts is None:
        raise ValueError(f"this is no time; {TIME_LIKE}")
    try:
        time = dt.time(int(parts["hour"]), int(parts["minute"]), int(parts["second"] or 0))
    except ValueError as error:
        raise ValueError(f"there is no such time of day; {TIME_LIKE}") from error
    zone = zoneinfo.ZoneInfo(zone_name) if parts["zone"] is None else _offset(parts["zone"])
    if parts["date"] is None:
        return _between_noons(time, zone, span, zone_name)
    try:
        date = dt.date.fromisoformat(parts["date"])
    except ValueError as error:
        raise ValueError(f"there is no such day in the calendar; {TIME_LIKE}") from error
    if not FIRST_YEAR - 1 <= date.year <= LAST_YEAR + 1:
        raise ValueError(f"the year is out of reach; give one from {FIRST_YEAR} to {LAST_YEAR}")
    return _in_utc(dt.datetime.combine(date, time, zone), zone_name)


def _offset(text: str) -> dt.tzinfo:
    if text in "Zz":
        return dt.UTC
    hours, minutes = int(text[1:3]), int(text[-2:])
    if hours > 23 or minutes > 59:
        raise ValueError("there is no such offset from UTC; write it like +01:00")
    away = dt.timedelta(hours=hours, minutes=minutes)
    return dt.timezone(-away if text[0] == "-" else away)


def _between_noons(time: dt.time, zone: dt.tzinfo, span: Span, zone_name: str) -> dt.datetime:
    """The instant of a time of day in the night; of one by day that the clocks leave out, the nearest."""
    begin, end = span
    days = [begin.date() + dt.timedelta(days=days) for days in (-1, 0, 1, 2)]
    local = [dt.datetime.combine(day, time, zone) for day in days]

    def outside(each: dt.datetime) -> dt.timedelta:
        return max(begin - each, each - end + dt.timedelta(seconds=1), dt.timedelta(0))

    return _in_utc(min(local, key=outside), zone_name)


def _in_utc(local: dt.datetime, zone_name: str) -> dt.datetime:
    """A local time in UTC. Raises ValueError where a change of the clocks leaves it out or has it twice."""
    one, two = (local.replace(fold=fold) for fold in (0, 1))
    before, after = one.utcoffset(), two.utcoffset()
    assert before is not None
    assert after is not None
    if before == after:
        return local.astimezone(dt.UTC)
    clocks = f"on {local:%Y-%m-%d} in {zone_name}"
    offsets = _offset_words(before), _offset_words(after)
    if before < after:
        instant = one.astimezone(dt.UTC)
        raise ValueError(
            f"there is no {local:%H:%M:%S} {clocks}, where the clocks go from UTC{offsets[0]} to "
            f"UTC{offsets[1]}; write the instant in UTC, like {instant:%Y-%m-%dT%H:%M:%SZ}"
        )
    like = (f"{local:%Y-%m-%dT%H:%M:%S}{each}" for each in offsets)
    raise ValueError(
        f"{local:%H:%M:%S} comes twice {clocks}, where the clocks go from UTC{offsets[0]} to "
        f"UTC{offsets[1]}; say which: {' or '.join(like)}"
    )


def _offset_words(offset: dt.timedelta) -> str:
    minutes = round(offset.total_seconds() / 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
