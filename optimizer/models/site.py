"""The night and the place: when and from where."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from itertools import pairwise
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, field_validator, model_validator

from optimizer.models.angles import degrees_from_text
from optimizer.models.base import Frozen, FromList, Name

FIRST_YEAR, LAST_YEAR = 1973, 2100  # Earth orientation tables begin in 1973; the Moon series is good past 2100


def _instant(value: Any) -> Any:
    """ISO text with Z or an offset -> aware UTC datetime, whole seconds."""
    if isinstance(value, str):
        try:
            value = dt.datetime.fromisoformat(value.strip().replace("Z", "+00:00"))
        except ValueError as error:
            raise ValueError(f"{value!r} is not an instant like 2026-11-14T20:30:00Z") from error
    if not isinstance(value, dt.datetime):
        raise ValueError("give an instant like 2026-11-14T20:30:00Z")  # noqa: TRY004 - pydantic wants ValueError
    if value.tzinfo is None:
        raise ValueError("the instant has no zone; end it with Z for UTC")
    if value.microsecond:
        raise ValueError("whole seconds only; drop the fraction")
    return value.astimezone(dt.UTC)


def _evening(value: Any) -> Any:
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value)
        except ValueError as error:
            raise ValueError(f"{value!r} is not a date like 2026-11-14") from error
    return value


Instant = Annotated[dt.datetime, BeforeValidator(_instant)]
Span = Annotated[tuple[Instant, Instant], FromList]
AzimuthAltitude = Annotated[
    tuple[Annotated[float, Field(ge=0, le=360)], Annotated[float, Field(ge=-5, le=90)]], FromList
]


class Night(Frozen):
    """Which night, and which parts of it may be used."""

    evening: Annotated[dt.date, BeforeValidator(_evening)] = Field(
        description="civil date at the site on which the night begins"
    )
    clear: Annotated[tuple[Span, ...], FromList] = Field(
        default=(), description="only inside these spans; empty: the whole night"
    )
    blocked: Annotated[tuple[Span, ...], FromList] = Field(default=(), description="never inside these spans")
    ut1_utc_s: Annotated[float, Field(ge=-1, le=1)] | None = Field(
        default=None, description="measured UT1-UTC; omit to use the table that is installed"
    )

    @field_validator("evening")
    @classmethod
    def _year_within_tables(cls, value: dt.date) -> dt.date:
        if not FIRST_YEAR <= value.year <= LAST_YEAR:
            raise ValueError(f"the year must lie in {FIRST_YEAR}..{LAST_YEAR}")
        return value

    @field_validator("clear", "blocked")
    @classmethod
    def _spans_run_forward(cls, value: tuple[Span, ...]) -> tuple[Span, ...]:
        for start, end in value:
            if end <= start:
                raise ValueError(f"the span that starts at {start:%Y-%m-%dT%H:%M:%SZ} ends no later")
        return value


class Site(Frozen):
    """Where the telescope stands and what hides its sky."""

    name: Name = "site"
    latitude_deg: Annotated[float, Field(ge=-90, le=90)] = Field(description="geodetic, north positive")
    longitude_deg: Annotated[float, Field(ge=-180, le=180)] = Field(description="east positive")
    elevation_m: Annotated[float, Field(ge=-500, le=9000)] = 0.0
    time_zone: str = Field(default="UTC", description="IANA name, for times shown to people")
    floor_deg: Annotated[float, Field(ge=0, lt=90)] = Field(description="no shutter open below this altitude")
    skyline: Annotated[tuple[AzimuthAltitude, ...], FromList] = Field(
        default=(), description="what hides the sky: azimuth, altitude; straight between, closed at 360"
    )
    pressure_hpa: Annotated[float, Field(ge=0, le=1100)] = Field(
        default=0.0, description="0: altitudes are geometric; else they are refracted"
    )
    temperature_c: Annotated[float, Field(ge=-60, le=60)] = 10.0
    humidity: Annotated[float, Field(ge=0, le=1)] = 0.5
    zenith_sky_mag: Annotated[float, Field(ge=14, le=23)] = Field(
        default=21.3, description="V mag/arcsec2 at the zenith, no Moon"
    )
    extinction_mag: Annotated[float, Field(ge=0, le=2)] = Field(default=0.20, description="mag per airmass, V")

    @model_validator(mode="before")
    @classmethod
    def _angles_as_text(cls, data: Any) -> Any:
        return with_degrees(data, {"latitude": False, "longitude": False})

    @field_validator("time_zone")
    @classmethod
    def _zone_exists(cls, value: str) -> str:
        try:
            zoneinfo.ZoneInfo(value)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise ValueError("no such time zone; give an IANA name like Europe/Madrid") from error
        return value

    @field_validator("skyline")
    @classmethod
    def _azimuths_ascend(cls, value: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if any(later[0] < earlier[0] for earlier, later in pairwise(value)):
            raise ValueError("azimuths must not descend; sort the pairs from north through east")
        return value


def with_degrees(data: Any, keys: dict[str, bool]) -> Any:
    """Turn text angles (`latitude`, `ra`...) into their `_deg` twins; both at once is an error.

    `keys` maps the bare key to whether a colon in its text means hours.
    """
    if not isinstance(data, dict):
        return data
    result = dict(data)
    for key, colon_means_hours in keys.items():
        if key not in result:
            continue
        text = result.pop(key)
        if f"{key}_deg" in result:
            raise ValueError(f"give {key} or {key}_deg, not both")
        if not isinstance(text, str):
            raise ValueError(f"{key} takes sexagesimal text; for a number of degrees use {key}_deg")  # noqa: TRY004
        try:
            result[f"{key}_deg"] = degrees_from_text(text, colon_means_hours=colon_means_hours)
        except ValueError as error:
            raise ValueError(f"{key}: {error}") from error
    return result
