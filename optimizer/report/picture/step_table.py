"""The run sheet: one row for each step, which the page's readout repeats word for word."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.models.shots import Step
from optimizer.report.picture.step_words import KIND_WORDS
from optimizer.report.words import clock, minus
from optimizer.words import safe

Cell = Callable[[Step, str], str]


@dataclass(frozen=True)
class Column:
    """A column: `key` for style and tests, words of its head with the unit, and what its cells say."""

    key: str
    words: str
    cell: Cell


def _utc(instant: dt.datetime) -> str:
    return instant.astimezone(dt.UTC).strftime("%H:%M:%S")


def _number(value: float | None, decimals: int) -> str:
    return "" if value is None else minus(f"{value:.{decimals}f}")


def _whole(value: int | None) -> str:
    return "" if value is None else str(value)


COLUMNS: tuple[Column, ...] = (
    Column("step", "Step", lambda s, zone: str(s.step)),
    Column("act", "Kind", lambda s, zone: KIND_WORDS[s.kind]),
    Column("start", "Local", lambda s, zone: clock(s.start_utc, zone, seconds=True)),
    Column("end", "to", lambda s, zone: clock(s.end_utc, zone, seconds=True)),
    Column("start_utc", "UTC", lambda s, zone: _utc(s.start_utc)),
    Column("end_utc", "to UTC", lambda s, zone: _utc(s.end_utc)),
    Column(
        "latest",
        "Start no later than",
        lambda s, zone: clock(s.latest_start_utc, zone, seconds=True) if s.latest_start_utc else "",
    ),
    Column("target", "Target", lambda s, zone: safe(s.target or "")),
    Column("filter", "Filter", lambda s, zone: safe(s.filter or "")),
    Column("exposure", "Exposure, s", lambda s, zone: "" if s.exposure_s is None else f"{s.exposure_s:g}"),
    Column("side", "Pier side", lambda s, zone: s.pier_side or ""),
    Column("altitude", "Altitude, °", lambda s, zone: _number(s.altitude_deg, 1)),
    Column("hour_angle", "Hour angle, h", lambda s, zone: _number(s.hour_angle_h, 3)),
    Column("azimuth", "Azimuth, °", lambda s, zone: _number(s.azimuth_deg, 1)),
    Column("airmass", "Airmass", lambda s, zone: _number(s.airmass, 2)),
    Column("moon", "Moon separation, °", lambda s, zone: _number(s.moon_separation_deg, 0)),
    Column("gain", "Gain", lambda s, zone: _whole(s.gain)),
    Column("offset", "Offset", lambda s, zone: _whole(s.offset)),
    Column("binning", "Binning", lambda s, zone: _whole(s.binning)),
    Column("note", "Note", lambda s, zone: safe(s.note or "")),
)


def columns_of(steps: Sequence[Step]) -> tuple[Column, ...]:
    """The columns that these steps fill: gain and offset may be left to the camera, and 1 bins nothing."""
    idle = {
        "gain": all(step.gain is None for step in steps),
        "offset": all(step.offset is None for step in steps),
        "binning": all(step.binning in (None, 1) for step in steps),
    }
    return tuple(column for column in COLUMNS if not idle.get(column.key, False))


def table_rows(steps: Sequence[Step], zone: str) -> list[list[str]]:
    """Cells of every row, in the order of `columns_of`."""
    columns = columns_of(steps)
    return [[column.cell(step, zone) for column in columns] for step in steps]
