"""Exposures gathered into runs, and where their labels stand without lying on each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.report.picture.facts import PlacedStep
from optimizer.report.picture.frame import Frame
from optimizer.report.picture.placing import Box, broken_line
from optimizer.report.picture.shapes import BOLDER, Shape, haloed, line, text_width
from optimizer.report.words import name, run_text

BOLD = 12.0 * BOLDER
ROW = 13.0
ROWS = 4
GAP = 5.0
LONGEST = 12  # letters of a filter's name that a label shows


@dataclass(frozen=True)
class ShownRun:
    """Exposures of one filter and length, one after the other on one pier side."""

    placed_steps: tuple[PlacedStep, ...]

    @property
    def filter(self) -> str:
        """The filter's name; empty where a step has none."""
        return self.placed_steps[0].step.filter or ""

    @property
    def exposure_s(self) -> float:
        """Open-shutter time of each exposure in seconds."""
        return self.placed_steps[0].step.exposure_s or 0.0

    def texts(self) -> tuple[str, str]:
        """The label of the run in full and in short."""
        short = name(self.filter, LONGEST)
        return run_text(short, len(self.placed_steps), self.exposure_s), short


def runs_of(exposures: Sequence[PlacedStep]) -> list[ShownRun]:
    """The exposures gathered into runs, in order; another visit begins another run."""
    groups: list[list[PlacedStep]] = []
    for placed in exposures:
        last = groups[-1][-1] if groups else None
        if (
            last is not None
            and (last.step.filter, last.step.exposure_s, last.step.pier_side)
            == (placed.step.filter, placed.step.exposure_s, placed.step.pier_side)
            and placed.start_s - last.end_s < 1800
        ):
            groups[-1].append(placed)
        else:
            groups.append([placed])
    return [ShownRun(tuple(placed_steps)) for placed_steps in groups]


@dataclass(frozen=True)
class RunLabel:
    """A run's label in its row above the blocks (0: the lowest), beginning at `x`."""

    x: float
    row: int
    text: str
    start_x: float  # where its run begins

    def box(self, bottom_y: float) -> Box:
        """The box that the label about covers, above blocks whose top is at `bottom_y`."""
        y = bottom_y - 3 - self.row * ROW
        return Box(self.x - 1, y - 10, self.x + text_width(self.text, BOLD) + 1, y + 3)


def run_labels(frame: Frame, runs: Sequence[ShownRun], bars: Sequence[float]) -> list[RunLabel]:
    """The labels of those runs that have room for one; none lies across `bars`, the upright lines of flips.

    Each label begins where its run does, as far as the bars beside it allow; where it would lie on the one
    before, it goes a row higher. It is shortened where no row has room.
    """
    ends = [-1e9] * ROWS
    labels: list[RunLabel] = []
    for run in runs:
        start_x = frame.x(run.placed_steps[0].start_s)
        for text in run.texts():
            width = text_width(text, BOLD)
            # between the bars on both sides of its run's begin, or of the sheet's edges
            least = max((bar + 3 for bar in bars if bar <= start_x), default=frame.layout.left)
            most = min((bar - 3 for bar in bars if bar > start_x), default=frame.layout.right) - width
            x = max(least, min(start_x, most))
            row = next((row for row in range(ROWS) if all(x >= end + GAP for end in ends[: row + 1])), None)
            row = row if row is not None else next((r for r in range(ROWS) if x >= ends[r] + GAP), None)
            if row is not None and x <= most:
                ends[row] = x + width
                labels.append(RunLabel(x, row, text, start_x))
                break
    return labels


def labels_height(labels: Sequence[RunLabel]) -> float:
    """Height of the rows that the labels take."""
    return (1 + max((each.row for each in labels), default=-1)) * ROW + 2


def label_shapes(labels: Sequence[RunLabel], bottom_y: float) -> list[Shape]:
    """The labels above blocks whose top is at `bottom_y`; a stroke leads from a higher row to its run."""
    strokes: list[Shape] = []
    words: list[Shape] = []
    lower = [each.box(bottom_y) for each in labels]
    for each in labels:
        y, x = bottom_y - 3 - each.row * ROW, each.start_x + 1
        if each.row:
            pieces = broken_line(x, y + 3, bottom_y, lower)
            strokes += [line(x, start, x, end, class_="leader") for start, end in pieces]
        words += haloed(each.x, y, each.text, "run")
    return [*strokes, *words]
