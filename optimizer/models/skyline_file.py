"""A skyline from a two-column text or CSV file: azimuth and altitude in degrees, one pair a line."""

from __future__ import annotations

import re

from optimizer.models.base import InputProblem
from optimizer.models.words import quoted

_BETWEEN = re.compile(r"[,;\s]+")


def skyline_pairs(text: str, file: str) -> tuple[list[list[float]], list[InputProblem]]:
    """Pairs, and what is wrong with which line.

    Columns are parted by blanks, commas or semicolons; `#` begins a comment, words in the first line are a
    heading.
    """
    pairs: list[list[float]] = []
    problems: list[InputProblem] = []
    seen_any = False
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell for cell in _BETWEEN.split(line.split("#", 1)[0].strip()) if cell]
        if not cells:
            continue
        try:
            azimuth, altitude = (float(cell) for cell in cells)
        except ValueError:
            if seen_any or not re.match(r"[A-Za-z\"]", cells[0]):
                problems.append(
                    InputProblem(
                        file=file,
                        key="",
                        message=f"{quoted(line.strip())} is no pair of numbers",
                        remedy="write azimuth and altitude in degrees, like 90, 25",
                        line=number,
                    )
                )
        else:
            pairs.append([azimuth, altitude])
        seen_any = True
    if not pairs and not problems:
        problems.append(
            InputProblem(file=file, key="", message="the file holds no pair", remedy="write one pair a line")
        )
    return pairs, problems
