"""Steps that were done, from a CSV file: their numbers in a column `step`; other columns do not matter."""

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
_NUMBER = re.compile(r"[1-9][0-9]{0,6}")


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
