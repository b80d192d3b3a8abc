"""When an exposure began, from the keywords of its header (FITS Standard 4.0, sections 4.4.2 and 9.1.1)."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from typing import NamedTuple

from optimizer.tally.fits_header import Value
from optimizer.words import shown

DATES = ("DATE-OBS", "DATE-BEG", "MJD-OBS", "MJD-BEG")
TIMES = ("TIME-OBS", "TIME-BEG", "UTSTART", "UT")
_MJD_0 = dt.datetime(1858, 11, 17, tzinfo=dt.UTC)
_MJD_LAST = 200_000  # in the year 2406
_TIME = r"(?P<hour>\d{1,2}):(?P<minute>\d{2}):(?P<second>\d{2})(?:\.(?P<part>\d*))?"
_DATE = r"(?P<year>\d{4})-(?P<month>\d{2})-(?P<day>\d{2})"
_OLD = r"(?P<day>\d{2})/(?P<month>\d{2})/(?P<year>\d{2})"  # of the years 1900 to 1999 alone
_BEGUN = re.compile(rf"(?:{_DATE})(?:[T ]{_TIME}(?P<zone>Z|[+-]\d{{2}}:\d{{2}})?)?")
_BEGUN_OLD, _TIME_ALONE = re.compile(_OLD), re.compile(_TIME)


class Begun(NamedTuple):
    """When an exposure began: the instant if it is told, its text, its keywords, what could not be used."""

    utc: dt.datetime | None
    text: str | None
    keyword: str
    odd: tuple[str, ...] = ()


def begun(cards: Mapping[str, Value]) -> Begun:
    """Find when the exposure began, in UTC.

    A date without a time of day takes the time from a keyword of its own (`TIME-OBS`). Times in another scale
    of TIMESYS (TAI, TT, GPS, UT1) are taken as they stand: these are less than 75 s from UTC. Those of a
    local clock are not.
    """
    odd: list[str] = []
    bare: tuple[str, str] | None = None
    scale = cards.get("TIMESYS")
    local = isinstance(scale, str) and scale.strip().upper() == "LOCAL"
    if local:
        odd.append("TIMESYS says that its times are those of a local clock")
    for key in DATES:
        value = cards.get(key)
        if value is None or value == "":
            continue
        told = value.strip() if isinstance(value, str) else shown_number(value)
        try:
            instant, used = _instant(key, value, cards)
        except ValueError as error:
            odd.append(f"{key} = {shown_number(value)} {error}")
            bare = bare or (told, key)
            continue
        if len(used) > 1:
            told = f"{told} {str(cards[used[1]]).strip()}"
        return Begun(None if local else instant, told, " with ".join(used), tuple(odd))
    text, keyword = bare or (None, "")
    return Begun(None, text, keyword, tuple(odd))


def shown_number(value: Value) -> str:
    """Write a value that is no text with all its digits."""
    return str(value) if isinstance(value, complex | float) else shown(value)


def _instant(key: str, value: Value, cards: Mapping[str, Value]) -> tuple[dt.datetime, tuple[str, ...]]:
    """The instant of one keyword, in UTC, and the keywords that were needed.

    Raises ValueError, whose text goes on after the keyword and its value.
    """
    if key.startswith("MJD"):
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < _MJD_LAST:
            raise ValueError("is no date")
        return _MJD_0 + dt.timedelta(days=value), (key,)
    text = value.strip() if isinstance(value, str) else ""
    match = _BEGUN.fullmatch(text) or _BEGUN_OLD.fullmatch(text)
    if match is None:
        raise ValueError("is no date")
    parts, beside = match.groupdict(), None
    if parts.get("hour") is None:
        beside = _time_beside(cards)
        if beside is None:
            raise ValueError("has no time of day")
    year = int(parts["year"]) + (1900 if len(parts["year"]) == 2 else 0)
    try:
        day = dt.datetime(year, int(parts["month"]), int(parts["day"]))  # noqa: DTZ001 - the zone follows
        clock = day + _since_midnight(beside[1] if beside else parts)
        instant = dt.datetime.fromisoformat(f"{clock.isoformat()}{parts.get('zone') or 'Z'}")
        return instant.astimezone(dt.UTC), (key, beside[0]) if beside else (key,)
    except (ValueError, OverflowError) as error:
        raise ValueError("is no date and time of the calendar") from error


def _time_beside(cards: Mapping[str, Value]) -> tuple[str, dict[str, str | None]] | None:
    for key in TIMES:
        value = cards.get(key)
        match = _TIME_ALONE.fullmatch(value.strip()) if isinstance(value, str) else None
        if match:
            return key, match.groupdict()
    return None


def _since_midnight(clock: Mapping[str, str | None]) -> dt.timedelta:
    """Time of a clock since midnight; a leap second, 60, ends with the minute. Raises ValueError."""
    hours, minutes, seconds = (int(clock[part] or 0) for part in ("hour", "minute", "second"))
    if hours > 23 or minutes > 59 or seconds > 60:
        raise ValueError("there is no such time of day")
    microseconds = int((clock["part"] or "")[:6].ljust(6, "0"))
    return dt.timedelta(hours=hours, minutes=minutes, seconds=seconds, microseconds=microseconds)
