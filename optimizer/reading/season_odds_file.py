"""Odds of clear sky of whole nights from a CSV file: an evening and a share, one pair a line."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from pydantic import TypeAdapter, ValidationError

from optimizer.diagnostics.csv_header import header_problem
from optimizer.errors import InputProblem
from optimizer.models.season_asked import SHARE, share_problem
from optimizer.models.site import Evening
from optimizer.reading.odds_file import cells_of
from optimizer.words import quoted, said

CONTENT = "the odds of clear sky of each evening"
COLUMNS = ("evening", "odds")
LIKE = "write it like 2026-11-14, 0.6"
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
_DATE = TypeAdapter[dt.date](Evening)


def evening_odds(text: str, file: str) -> tuple[dict[int, list[Any]], list[InputProblem]]:
    """Read pairs of evening and share in file order, and say what is wrong with which line.

    The pairs are told by the line on which they stand, counted from 1. Columns are parted by commas,
    semicolons, tabs or blanks; `#` begins a comment. Words in the first line are a heading, which then names
    the two columns in this order.
    """
    pairs: dict[int, list[Any]] = {}
    problems: list[InputProblem] = []
    line_of: dict[dt.date, int] = {}
    seen_any = False
    for number, line in enumerate(text.splitlines(), start=1):
        content = line.split("#", 1)[0].strip()
        cells = cells_of(content)
        if not cells:
            continue
        heading = not seen_any and re.match(r"[^\W\d_]", cells[0])
        seen_any = True
        wrong = _of_heading(cells) if heading else _of_row(content, cells)
        if wrong is None and not heading:
            evening = _DATE.validate_python(cells[0])
            if evening in line_of:
                words = f"line {line_of[evening]} has the odds of this evening already", "keep one of the two"
                wrong = (cells[0], *words)
            else:
                line_of[evening] = number
                pairs[number] = [evening, float(cells[1])]
        if wrong is not None:
            value, message, remedy = wrong
            problems.append(InputProblem(file, "", message, remedy, quoted(value), line=number))
        if heading and problems:  # what the columns hold is unknown
            break
    if not pairs and not problems:
        message, remedy = "the file holds no odds", "write a line like 2026-11-14, 0.6"
        problems.append(InputProblem(file=file, key="", message=message, remedy=remedy))
    return pairs, problems


def _of_heading(cells: list[str]) -> tuple[str, str, str] | None:
    """What is wrong with a heading: columns the other way round would change what the numbers say."""
    found = header_problem([cell.lower() for cell in cells], COLUMNS)
    return None if found is None else (",".join(cells), *found)


def _of_row(content: str, cells: list[str]) -> tuple[str, str, str] | None:
    """The value, what is wrong with it and the remedy, of a line that is no pair of evening and share."""
    if len(cells) != 2:
        decimal = re.search(r"[;\t ]\s*[0-9]+,[0-9]+$", content)
        what = "a comma does not mark decimals" if decimal else "this is no pair of an evening and a share"
        return content, what, LIKE
    try:
        _DATE.validate_python(cells[0])
    except ValidationError as error:
        words = error.errors()[0].get("ctx", {}).get("error", "this is not a date; write it like 2026-11-14")
        return (cells[0], *said(str(words)))
    if not _NUMBER.fullmatch(cells[1]):
        what, remedy = share_problem(cells[1]) or ("this is not a share", SHARE)
        return cells[1], what, remedy
    problem = share_problem(float(cells[1]))
    return None if problem is None else (cells[1], *problem)
