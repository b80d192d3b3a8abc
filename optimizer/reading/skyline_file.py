"""A skyline from a two-column text or CSV file: azimuth and altitude in degrees, one pair a line."""

from __future__ import annotations

import re

from optimizer.errors import InputProblem
from optimizer.words import quoted

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
_BETWEEN = re.compile(r"[,;\s]+")


def skyline_pairs(text: str, file: str) -> tuple[dict[int, list[float]], list[InputProblem]]:
    """Read pairs of azimuth and altitude in degrees, and say what is wrong with which line.

    The pairs are told by the line on which they stand, counted from 1, in file order. Columns
    are parted by blanks, commas or semicolons; `#` begins a comment, words in the first line are a heading.
    """
    pairs: dict[int, list[float]] = {}
    problems: list[InputProblem] = []
    seen_any = False
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell for cell in _BETWEEN.split(line.split("#", 1)[0].strip()) if cell]
        if not cells:
            continue
        if len(cells) == 2 and all(_NUMBER.fullmatch(cell) for cell in cells):
            pairs[number] = [float(cell) for cell in cells]
        else:
            if seen_any or not re.match(r"[A-Za-z\"]", cells[0]):
                problems.append(
                    InputProblem(
                        file=file,
                        key="",
                        message=f"{quoted(line.strip())} is no pair of numbers",
                        remedy=f"write azimuth and altitude in degrees, {_like(line, len(cells))}",
                        line=number,
                    )
                )
        seen_any = True
    if not pairs and not problems:
        problems.append(
            InputProblem(file=file, key="", message="the file holds no pair", remedy="write one pair a line")
        )
    return pairs, problems


def _like(line: str, cells: int) -> str:
    """An example to write; where commas seem to mark decimals it has a point, and says so."""
    if cells > 2 and re.search(r"[0-9],[0-9]", line):
        return "decimals with a point, like 90.5; 25"
    return "like 90, 25"
