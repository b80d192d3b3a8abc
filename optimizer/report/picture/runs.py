"""Exposures gathered into runs, and where their labels stand without lying on each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.report.picture.facts import Act
from optimizer.report.picture.frame import Frame
from optimizer.report.picture.shapes import Shape, haloed, line, text_width
from optimizer.report.words import name

SIZE = 12.0
ROW = 13.0
ROWS = 3
GAP = 5.0
LONGEST = 12  # letters of a filter's name that a label shows


@dataclass(frozen=True)
class Run:
    """Exposures of one filter and length, one after the other on one pier side."""

    acts: tuple[Act, ...]

    @property
    def filter(self) -> str:
        """The filter's name; empty where a step has none."""
        return self.acts[0].step.filter or ""

    @property
    def exposure_s(self) -> float:
        """Open-shutter time of each."""
        return self.acts[0].step.exposure_s or 0.0

    def texts(self) -> tuple[str, str]:
        """Label in full, and in short."""
        short = name(self.filter, LONGEST)
        return f"{short} {len(self.acts)}×{self.exposure_s:g}s", short


def runs_of(exposures: Sequence[Act]) -> list[Run]:
    """Runs in order; another visit begins another run."""
    found: list[list[Act]] = []
    for act in exposures:
        last = found[-1][-1] if found else None
        if (
            last is not None
            and (last.step.filter, last.step.exposure_s, last.step.pier_side)
            == (act.step.filter, act.step.exposure_s, act.step.pier_side)
            and act.start_s - last.end_s < 1800
        ):
            found[-1].append(act)
        else:
            found.append([act])
    return [Run(tuple(acts)) for acts in found]


@dataclass(frozen=True)
class _Placed:
    x: float
    row: int
    text: str
    start_x: float


def run_labels(frame: Frame, runs: Sequence[Run], bottom_y: float) -> tuple[list[Shape], float]:
    """Labels above the blocks whose top is at `bottom_y`; shapes and the height that they take.

    Each label begins where its run does; where it would lie on the one before, it goes a row higher with a
    stroke down to its run, and is shortened where no row has room.
    """
    ends = [-1e9] * ROWS
    placed: list[_Placed] = []
    for run in runs:
        start_x = frame.x(run.acts[0].start_s)
        for text in run.texts():
            width = text_width(text, SIZE * 1.07)  # bold
            x = max(frame.layout.left, min(start_x, frame.layout.right - width))
            row = next((row for row in range(ROWS) if all(x >= end + GAP for end in ends[: row + 1])), None)
            row = row if row is not None else next((r for r in range(ROWS) if x >= ends[r] + GAP), None)
            if row is not None:
                ends[row] = x + width
                placed.append(_Placed(x, row, text, start_x))
                break
    rows = 1 + max((each.row for each in placed), default=-1)
    strokes: list[Shape] = []
    words: list[Shape] = []
    for each in placed:
        y = bottom_y - 3 - each.row * ROW
        if each.row:
            strokes.append(line(each.start_x + 1, y + 1, each.start_x + 1, bottom_y, class_="leader"))
        words += haloed(each.x, y, each.text, "run")
    return [*strokes, *words], rows * ROW + 2  # no stroke runs through a word
