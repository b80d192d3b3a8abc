"""Odds of clear sky from a two-column text or CSV file: a time and per cent, one pair a line.

Times without a date or an offset are the site's own: they are turned into instants once it is known which
night is asked for.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from optimizer.errors import InputProblem
from optimizer.models.site import Night, Site, night_span
from optimizer.reading.instants import TIME, TIME_LIKE, Span, instant_of
from optimizer.words import quoted

CONTENT = "the odds of clear sky"
LARGEST_BYTES = 1_000_000  # a line for each minute of a night takes a thirtieth
_PERCENT = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+))\s*%?")
_DECIMAL_COMMA = re.compile(r"[;\t ]\s*[0-9]+,[0-9]+\s*%?$")


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
        cells = cells_of(content)
        if not cells:
            continue
        heading = not seen_any and re.match(r"[^\W\d_]", cells[0])
        seen_any = True
        if heading:
            continue
        if len(cells) != 2 or not TIME.fullmatch(cells[0]) or not _PERCENT.fullmatch(cells[1]):
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


def cells_of(content: str) -> list[str]:
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
    if not TIME.fullmatch(cells[0]):
        return cells[0], "this is not a time", TIME_LIKE
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
            instants.append(instant_of(row.time, span, zone_name))
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
