"""The night and the place: when and from where."""

from __future__ import annotations

import datetime as dt
import difflib
import re
import zoneinfo
from itertools import pairwise
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer, field_validator, model_validator

from optimizer.models.angles import Axis, degrees_from_text
from optimizer.models.base import FromList, Frozen, KeyedError, Name, Readable, Unreadable

FIRST_YEAR, LAST_YEAR = (
    1973,
    2100,
)  # Earth orientation tables begin in 1973; the Moon series is good past 2100
_INSTANT_LIKE = "write it like 2026-11-14T20:30:00Z"
_DATE_LIKE = "write it like 2026-11-14"


def _instant(value: Any) -> Any:
    """Turn ISO text with Z or an offset into a datetime in UTC of whole seconds."""
    if isinstance(value, Unreadable):
        raise ValueError(value.text)
    day_alone = isinstance(value, str) and re.fullmatch(r"\s*[0-9]{4}-[0-9]{2}-[0-9]{2}\s*", value)
    if isinstance(value, str):
        try:
            value = dt.datetime.fromisoformat(value.strip())
        except ValueError as error:
            raise ValueError(f"this is not an instant; {_INSTANT_LIKE}") from error
    if not isinstance(value, dt.datetime):
        raise ValueError(f"this is not an instant; {_INSTANT_LIKE}")
    if day_alone:
        raise ValueError(f"this is a date without a time of day; {_INSTANT_LIKE}")
    if value.tzinfo is None:
        raise ValueError(f"the instant has no time zone; {_INSTANT_LIKE} (Z means UTC)")
    # a night may reach into the years beside; asked before the shift to UTC, which overflows in the year 1
    if not FIRST_YEAR - 1 <= value.year <= LAST_YEAR + 1:
        raise ValueError(f"the year is out of reach; give one from {FIRST_YEAR} to {LAST_YEAR}")
    value = value.astimezone(dt.UTC)
    if value.microsecond:
        raise ValueError("there is a fraction of a second; give whole seconds")
    return value


def _evening(value: Any) -> Any:
    if isinstance(value, str):
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            raise ValueError(f"this is not a date; {_DATE_LIKE}")
        try:
            return dt.date.fromisoformat(value)
        except ValueError as error:
            raise ValueError(f"there is no such day in the calendar; {_DATE_LIKE}") from error
    if isinstance(value, dt.datetime):
        raise ValueError(f"this is an instant, not a date; drop the time and {_DATE_LIKE}")
    return value


def _forward(span: tuple[dt.datetime, dt.datetime]) -> tuple[dt.datetime, dt.datetime]:
    if span[1] <= span[0]:
        raise ValueError(
            "the span ends no later than it starts; write [start, end] with the earlier instant first"
        )
    return span


Instant = Annotated[dt.datetime, BeforeValidator(_instant)]
Evening = Annotated[dt.date, BeforeValidator(_evening)]


def year_within_tables(value: dt.date) -> dt.date:
    """Give the date of an evening back; raises ValueError where no table reaches its year."""
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(f"the year is out of reach; give one from {FIRST_YEAR} to {LAST_YEAR}")
    return value


def iso_utc(instant: dt.datetime) -> str:
    """Write an instant as ISO 8601 in UTC with Z, to the whole second."""
    return instant.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


Date = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
Utc = Annotated[Instant, PlainSerializer(iso_utc, return_type=str)]
Span = Annotated[tuple[Instant, Instant], FromList, AfterValidator(_forward)]
Percent = Annotated[float, Field(ge=0, le=100, description="percent")]
InstantPercent = Annotated[tuple[Instant, Percent], FromList]
AzimuthAltitude = Annotated[
    tuple[Annotated[float, Field(ge=0, le=360)], Annotated[float, Field(ge=-5, le=90)]], FromList
]


class Night(Frozen):
    """Which night, and which parts of it may be used."""

    evening: Evening = Field(description="civil date at the site on which the night begins")
    clear: Annotated[tuple[Span, ...], FromList] = Field(
        default=(), description="work only inside these spans; empty: the whole night"
    )
    blocked: Annotated[tuple[Span, ...], FromList] = Field(
        default=(), description="no work inside these spans"
    )
    clear_odds: Annotated[tuple[InstantPercent, ...], FromList] = Field(
        default=(),
        description="odds of clear sky: instant, percent; straight between, level before and after;"
        " or `clear_odds_file`; empty: every second counts whole",
    )
    ut1_utc_s: Annotated[float, Field(ge=-1, le=1)] | None = Field(
        default=None, description="measured UT1-UTC; omit: from the table that is installed"
    )

    @field_validator("clear_odds")
    @classmethod
    def _instants_ascend(
        cls, value: tuple[tuple[dt.datetime, float], ...]
    ) -> tuple[tuple[dt.datetime, float], ...]:
        for index, (earlier, later) in enumerate(pairwise(value), start=1):
            if later[0] <= earlier[0]:
                raise KeyedError(
                    ("clear_odds", index, 0),
                    "the instant is no later than the one before it; "
                    "sort the pairs by time, each instant once",
                )
        return value

    @field_validator("evening")
    @classmethod
    def _year_within_tables(cls, value: dt.date) -> dt.date:
        return year_within_tables(value)


class Site(Frozen):
    """Where the telescope stands and what hides its sky."""

    name: Name = Field(default="site", description="name of the place, for people")
    latitude_deg: Annotated[float, Field(ge=-90, le=90), Readable] = Field(
        description="geodetic, north positive"
    )
    longitude_deg: Annotated[float, Field(ge=-180, le=180), Readable] = Field(description="east positive")
    elevation_m: Annotated[float, Field(ge=-500, le=9000)] = Field(
        default=0.0, description="height above the ellipsoid; above sea level is near enough"
    )
    time_zone: str = Field(
        default="UTC",
        description="IANA name, for local times, given and shown, and for the date of the evening",
    )
    floor_deg: Annotated[float, Field(ge=0, lt=90)] = Field(description="no shutter open below this altitude")
    ceiling_deg: Annotated[float, Field(gt=0, le=90)] = Field(
        default=90.0, description="no work on a target above this altitude"
    )
    skyline: Annotated[tuple[AzimuthAltitude, ...], FromList] = Field(
        default=(), description="the local horizon: azimuth, altitude; straight between, closed at 360"
    )
    pressure_hpa: Annotated[float, Field(ge=0, le=1100)] = Field(
        default=0.0, description="air pressure, for refraction; 0: altitudes are geometric"
    )
    temperature_c: Annotated[float, Field(ge=-60, le=60)] = Field(
        default=10.0, description="of the air, for refraction; not used where the pressure is 0"
    )
    humidity: Annotated[float, Field(ge=0, le=1)] = Field(
        default=0.5, description="relative, as a share, for refraction; not used where the pressure is 0"
    )
    zenith_sky_mag: Annotated[float, Field(ge=14, le=23)] = Field(
        default=21.3, description="sky brightness at the zenith without Moon, V mag/arcsec2"
    )
    extinction_mag: Annotated[float, Field(ge=0, le=2)] = Field(
        default=0.20, description="extinction in V per airmass"
    )

    @model_validator(mode="before")
    @classmethod
    def _angles_as_text(cls, data: Any) -> Any:
        return with_degrees(data, ("latitude", "longitude"))

    @field_validator("latitude_deg")
    @classmethod
    def _no_minus_nought(cls, value: float) -> float:
        return value + 0.0  # -0.0 would be a southern equator to some code

    @field_validator("time_zone")
    @classmethod
    def _zone_exists(cls, value: str) -> str:
        try:
            zoneinfo.ZoneInfo(value)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
            # an abbreviation is like many names and means none of them
            names = sorted(name for name in zoneinfo.available_timezones() if "/" in name or name == "UTC")
            near = difflib.get_close_matches(value[:64], names, 1, 0.6)
            hint = f"did you mean {near[0]}?" if near else "give an IANA name like Europe/Madrid"
            raise ValueError(f"no such time zone; {hint}") from error
        return value

    @field_validator("skyline")
    @classmethod
    def _azimuths_ascend(cls, value: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        for index, (earlier, later) in enumerate(pairwise(value), start=1):
            if later[0] < earlier[0]:
                raise KeyedError(
                    ("skyline", index, 0),
                    "the azimuth is smaller than the one before it; sort the pairs from north through east",
                )
        return value


def night_span(night: Night, longitude_deg: float, time_zone: str) -> tuple[dt.datetime, dt.datetime]:
    """Begin and end of the night in UTC: from one mean solar noon to the next, 24 h later.

    The first is the noon nearest to 12:00 in the site's time zone on `night.evening`; east longitudes are
    positive.
    """
    noon = dt.datetime.combine(night.evening, dt.time(12), zoneinfo.ZoneInfo(time_zone)).astimezone(dt.UTC)
    mean = dt.datetime.combine(night.evening, dt.time(12), dt.UTC) - dt.timedelta(
        seconds=round(longitude_deg * 240)
    )
    noons = [mean + dt.timedelta(days=days) for days in (-1, 0, 1)]
    start = min(noons, key=lambda candidate: abs(candidate - noon))
    return start, start + dt.timedelta(days=1)


def evening_at(now: dt.datetime, longitude_deg: float, time_zone: str) -> dt.date:
    """The civil date on which the night begins that runs at an instant or comes next.

    A night is counted from 12:00 to 12:00 in the site's time zone; `now` has a time zone of its own. A night
    that is over by its `night_span` is never meant: in a zone far from the site's own, such as UTC for a site
    in Australia, 12:00 may be late in the evening.
    """
    local = now.astimezone(zoneinfo.ZoneInfo(time_zone))
    evening = local.date() - dt.timedelta(days=local.hour < 12)
    _, end = night_span(Night.model_construct(evening=evening), longitude_deg, time_zone)
    return evening + dt.timedelta(days=now >= end)


def with_degrees(data: Any, axes: tuple[Axis, ...]) -> Any:
    """Turn text angles (`latitude`, `ra`...) into their `_deg` twins; both at once is an error.

    What cannot be turned becomes an `Unreadable`, which the field refuses with the words for it.
    """
    if not isinstance(data, dict):
        return data
    result = dict(data)
    for axis in axes:
        if axis not in result:
            continue
        text, twin = result.pop(axis), f"{axis}_deg"
        try:
            if twin in result:
                raise ValueError(f"{twin} is given as well; keep one of the two")
            if not isinstance(text, str):
                raise ValueError(f"{axis} takes sexagesimal text; for a number of degrees write {twin}")
            result[twin] = degrees_from_text(text, colon_means_hours=axis == "ra", axis=axis)
        except ValueError as error:
            result[twin] = Unreadable((axis,), str(error))
    return result
