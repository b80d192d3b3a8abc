"""Odds of clear sky from a two-column text or CSV file: a time and per cent, one pair a line.

Times without a date or an offset are the site's own: they are turned into instants once it is known which
night is asked for.
"""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from optimizer.errors import InputProblem
from optimizer.models.site import FIRST_YEAR, LAST_YEAR, Night, Site, night_span
from optimizer.words import quoted

Span = tuple[dt.datetime, dt.datetime]
CONTENT = "the odds of clear sky"
LARGEST_BYTES = 1_000_000  # a line for each minute of a night takes a thirtieth
_TIME = re.compile(
    r"(?:(?P<date>[0-9]{4}-[0-9]{2}-[0-9]{2})[T ]\s*)?(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})"
    r"(?::(?P<second>[0-9]{2}))?\s*(?P<zone>Z|[+-][0-9]{2}:?[0-9]{2})?",
    re.IGNORECASE,
)
_PERCENT = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+))\s*%?")
_DECIMAL_COMMA = re.compile(r"[;\t ]\s*[0-9]+,[0-9]+\s*%?$")
_TIME_LIKE = "write it like 20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z"


@dataclass(frozen=True)
class OddsRow:
    """One line of a file: its number from 1, the time as it is written, and per cent from 0 to 100."""

    line: int
    time: str
    percent: float


def odds_rows(text: str, file: str) -> tuple[list[OddsRow], list[InputProblem]]:
    """Read pairs of time and per cent in file order, and say what is wrong with which line.

    Columns are parted by commas, semicolons, tabs or blanks; `#` begins a comment, words in the first line
    are a heading.
    """
    rows: list[OddsRow] = []
    problems: list[InputProblem] = []
    seen_any = False
    for number, line in enumerate(text.splitlines(), start=1):
        content = line.split("#", 1)[0].strip()
        cells = _cells(content)
        if not cells:
            continue
        heading = not seen_any and re.match(r"[^\W\d_]", cells[0])
        seen_any = True
        if heading:
            continue
        if len(cells) != 2 or not _TIME.fullmatch(cells[0]) or not _PERCENT.fullmatch(cells[1]):
            problems.append(_told(file, number, *_no_pair(content, cells)))
            continue
        percent = float(cells[1].rstrip("% \t"))
        if not 0 <= percent <= 100:
            size = "large" if percent > 100 else "small"
            words = f"the odds are too {size}", "give per cent from 0 to 100"
            problems.append(_told(file, number, cells[1], *words))
            continue
        rows.append(OddsRow(number, cells[0], percent))
    if not rows and not problems:
        problems.append(
            InputProblem(
                file=file, key="", message="the file holds no odds", remedy="write a line like 20:30, 70"
            )
        )
    return rows, problems


def _cells(content: str) -> list[str]:
    """The columns of a line: by commas, semicolons or tabs, else by the blank before the last word."""
    content = content.replace('"', "")  # as spreadsheets may put around text
    if re.search(r"[,;\t]", content):
        return [cell.strip() for cell in re.split(r"[,;\t]", content) if cell.strip()]
    return re.sub(r"\s+%$", "%", content).rsplit(None, 1)


def _no_pair(content: str, cells: list[str]) -> tuple[str, str, str]:
    """The value, what is wrong with it and the remedy, of a line that is no pair of time and per cent."""
    if _DECIMAL_COMMA.search(content):
        return content, "a comma does not mark decimals", "write it with a point, like 20:30; 70.5"
    if len(cells) != 2:
        return content, "this is no pair of a time and per cent", "write it like 20:30, 70"
    if re.fullmatch(r"[^.]*:[0-9]{2}\.[0-9]+\D?.*", cells[0]):
        return cells[0], "there is a fraction of a second", "give whole seconds"
    if not _TIME.fullmatch(cells[0]):
        return cells[0], "this is not a time", _TIME_LIKE
    return cells[1], "this is not a percentage", "give per cent from 0 to 100, like 70 or 70.5"


def _told(file: str, line: int, value: str, message: str, remedy: str) -> InputProblem:
    return InputProblem(file, "", message, remedy, quoted(value), line=line)


def instants_of(
    rows: list[OddsRow], file: str, night: Night, site: Site, *, whole: bool = True
) -> tuple[list[dt.datetime], list[InputProblem]]:
    """The instants in UTC of all rows, or what is wrong with them: impossible, doubled, not ascending, old.

    Times of day lie between the noons around the night, those without an offset are in the site's zone. If
    the rows are not the `whole` file, only what is wrong with single ones is told.
    """
    span, zone_name = night_span(night, site.longitude_deg, site.time_zone), site.time_zone
    instants: list[dt.datetime] = []
    problems: list[InputProblem] = []
    for row in rows:
        try:
            instants.append(_instant(row.time, span, zone_name))
        except ValueError as error:
            message, _, remedy = str(error).partition("; ")
            problems.append(_told(file, row.line, row.time, message, remedy))
    if whole and not problems:
        problems = [*_out_of_order(rows, instants, file)] or [
            *_of_another_night(instants, file, night.evening, span)
        ]
    return instants, problems


def _out_of_order(rows: list[OddsRow], instants: list[dt.datetime], file: str) -> Iterator[InputProblem]:
    for (before, earlier), (row, later) in pairwise(zip(rows, instants, strict=True)):
        if later == earlier:
            message = f"line {before.line} has the odds of this instant already"
            yield _told(file, row.line, row.time, message, "keep one of the two")
        elif later < earlier:
            message = f"this is earlier than {before.time} on line {before.line}"
            yield _told(file, row.line, row.time, message, "sort the lines by time")


def _of_another_night(
    instants: list[dt.datetime], file: str, evening: dt.date, span: Span
) -> Iterator[InputProblem]:
    begin, end = span
    if instants[-1] < begin or instants[0] > end:
        when = "before" if instants[-1] < begin else "after"
        yield InputProblem(
            file=file,
            key="",
            message=f"all its times lie {when} the night of {evening}, which lasts from "
            f"{begin:%Y-%m-%dT%H:%M}Z to {end:%Y-%m-%dT%H:%M}Z: these are the odds of another night",
            remedy="write those of this night, or leave the file out",
        )


def _instant(text: str, span: Span, zone_name: str) -> dt.datetime:
    """The instant in UTC that a time means. Raises ValueError: what is wrong, a semicolon, and the remedy."""
    parts = _TIME.fullmatch(text)
    assert parts is not None
    try:
        time = dt.time(int(parts["hour"]), int(parts["minute"]), int(parts["second"] or 0))
    except ValueError as error:
        raise ValueError(f"there is no such time of day; {_TIME_LIKE}") from error
    zone = zoneinfo.ZoneInfo(zone_name) if parts["zone"] is None else _offset(parts["zone"])
    if parts["date"] is None:
        return _between_noons(time, zone, span, zone_name)
    try:
        date = dt.date.fromisoformat(parts["date"])
    except ValueError as error:
        raise ValueError(f"there is no such day in the calendar; {_TIME_LIKE}") from error
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
