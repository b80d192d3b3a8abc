"""Steps that were done: ranges of their numbers, or a CSV file with a column `step`, whatever else it has."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from optimizer.errors import InputError, InputProblem
from optimizer.reading.files import read_text, refuse
from optimizer.words import quoted, safe

COLUMN = "step"
CONTENT = "the steps done"
LARGEST_BYTES = 100_000_000
COUNTED = "steps count from 1, without zeros before them"
RANGES = "1-150,153,160-188"  # how ranges are written, for people
_NUMBER = re.compile(r"[1-9][0-9]{0,6}")
_RANGE = re.compile(r"([0-9]+)(?:\s*-\s*([0-9]+))?")
_DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"


def are_ranges(text: str) -> bool:
    """Whether text is meant as numbers of steps: digits of any script, dashes, commas and blanks alone."""
    return all(char.isdecimal() or char.isspace() or char in _DASHES + ",;" for char in text)


def done_ranges(text: str) -> list[tuple[int, int]]:
    """Read numbers and ranges of steps, such as `1-150,153`: the first and last number of each, as written.

    They may overlap; no range is written out. Raises ValueError, whose text is what is wrong and, after a
    semicolon, the remedy.
    """
    found: list[tuple[int, int]] = []
    for part in text.split(","):
        match = _RANGE.fullmatch(part.strip())
        if match is None:
            shown = part.strip()
            what = f"{quoted(shown)} is no range of numbers of steps" if shown else "a number is missing"
            raise ValueError(f"{what}; write numbers and ranges between commas, such as {RANGES}")
        low, high = match[1], match[2] or match[1]
        for number in (low, high):
            if _NUMBER.fullmatch(number) is None:
                raise ValueError(f"{number[:20]} is no number of a step; {COUNTED}")
        if int(low) > int(high):
            raise ValueError(f"{part.strip()} ends before it begins; write {high}-{low}")
        found.append((int(low), int(high)))
    return found


def done_steps(path: Path) -> dict[int, int]:
    """Read the numbers of the steps done, each with the line, counted from 1, on which it first stands.

    Rows of the shot list itself will do. Raises InputError with every line that cannot be used.
    """
    file = safe(str(path))
    text = read_text(path, str(path), content=CONTENT, largest_bytes=LARGEST_BYTES)
    reader = csv.reader(io.StringIO(text, newline=""))
    place: int | None = None
    found: dict[int, int] = {}
    problems: list[InputProblem] = []
    for cells in reader:
        cells = [cell.strip() for cell in cells]
        if not any(cells):
            continue
        if place is None:
            if COLUMN not in cells:
                what, remedy = f"there is no column {COLUMN}", f"write {COLUMN} into the first line"
                raise refuse(str(path), what, f"{remedy}, then one number a line", line=reader.line_num)
            place = cells.index(COLUMN)
            continue
        cell = cells[place] if place < len(cells) else ""
        if _NUMBER.fullmatch(cell):
            found.setdefault(int(cell), reader.line_num)
        else:
            what, remedy = "is no number of a step", "give a whole number from 1 on, one a line"
            problems.append(InputProblem(file, COLUMN, what, remedy, quoted(cell), line=reader.line_num))
    if problems:
        raise InputError(problems)
    return found
