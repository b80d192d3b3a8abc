"""What the constraint model maximizes.

Where a frame is worth the same at any time, that is the plan's worth itself. Where the sky decides, a run's
worth is modelled by straight pieces: gathered worth at its last shutter's closing less that at its first
opening, times the share of a run that is open shutter, less what focus runs inside cost. That is near enough
to steer the search (parts in a thousand); plans are always judged by their laid-out exposures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from optimizer.packing.layout import LaidVisit
from optimizer.packing.variables import NightVars, RunVars
from optimizer.problem import Problem, Span
from optimizer.tasks import Task

# Straight pieces may be off by so much of a frame's worth; finer ones cost more than they gain.
PIECE_ERROR = 0.01
SHORTEST_PIECE_S = 240
FRAME = 1_000_000  # worth of a task's best frame inside the model, so that slopes of pieces are whole numbers
SHARES = 1000  # shares and lengths of cycles are whole thousandths
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Piece:
    """A straight piece of gathered worth: `at_first` at `first`, `slope` a second up to `last`."""

    first: int
    last: int
    at_first: int
    slope: int


@dataclass
class _Gathered:
    """Gathered worth at an instant of a run: one literal for each piece."""

    value: cp_model.IntVar
    pieces: list[tuple[_Piece, cp_model.IntVar]]


@dataclass
class Objective:
    """The expression, and what hints need to know of its pieces by (slot, task)."""

    worth: cp_model.LinearExprT
    opening: dict[tuple[int, int], _Gathered]
    closing: dict[tuple[int, int], _Gathered]


def build_objective(model: cp_model.CpModel, night: NightVars) -> Objective:
    """Worth of the night as an expression over its variables."""
    objective = Objective(0, {}, {})
    if not night.problem.by_depth:
        objective.worth = night.worth()
        return objective
    largest = max((task.worth for task in night.problem.tasks), default=1) or 1
    terms: list[cp_model.LinearExprT] = []
    for index, visit in night.visits.items():
        for number, run in visit.runs.items():
            if run.task.worth:
                worth = _run_worth(model, night.problem, objective, (index, number), run, visit.slot.shutter)
                terms.append(max(1, round(SHARES * run.task.worth / largest)) * worth)
    objective.worth = sum(terms)
    return objective


def hint_objective(
    model: cp_model.CpModel, objective: Objective, laid: tuple[LaidVisit, ...], problem: Problem
) -> None:
    """Say on which pieces the runs of a laid-out plan begin and end."""
    opens: dict[tuple[int, int], int] = {}
    closes: dict[tuple[int, int], int] = {}
    for visit in laid:
        for task, opens_s in visit.exposures:
            key = (visit.slot.index, task)
            opens.setdefault(key, opens_s)
            closes[key] = opens_s + problem.tasks[task].shutter_s
    for found, instants in ((objective.opening, opens), (objective.closing, closes)):
        for key, gathered in found.items():
            instant = instants.get(key)
            chosen = False
            for piece, literal in gathered.pieces:
                here = instant is not None and not chosen and piece.first <= instant <= piece.last
                chosen = chosen or here
                model.add_hint(literal, here)


def _run_worth(
    model: cp_model.CpModel,
    problem: Problem,
    objective: Objective,
    key: tuple[int, int],
    run: RunVars,
    shutter: dict[int, tuple[Span, ...]],
) -> cp_model.IntVar:
    task, spans = run.task, shutter[run.task.index]
    outer = (spans[0][0], spans[-1][1])
    rate = _rate(task, outer)
    gathered = np.concatenate([[0.0], np.cumsum(rate)])  # of unbroken open shutter, from outer[0] on
    pieces = _pieces(gathered, outer, PIECE_ERROR * FRAME)
    tag = f"v{key[0]}.t{key[1]}"
    opening = _gathered(model, pieces, run, run.start, f"{tag}.gathered_before", at_least=True)
    closing = _gathered(model, pieces, run, run.close, f"{tag}.gathered_after", at_least=False)
    objective.opening[key], objective.closing[key] = opening, closing
    every = problem.request.camera.dither_every
    cycle_s = task.frame_s + (problem.lengths.dither / every if every else 0.0)
    open_share = task.shutter_s / cycle_s
    # thousandths of seconds of the run beyond those of its frames at the usual cycle, mostly focus runs
    beyond = SHARES * (run.close - run.start) - round(SHARES * cycle_s) * run.frames
    worth = model.new_int_var(0, FRAME * task.frames_left, f"{tag}.worth")
    gained = round(SHARES * open_share) * (closing.value - opening.value)
    model.add(SHARES * worth <= gained - round(open_share * float(np.mean(rate))) * beyond).only_enforce_if(
        run.present
    )
    model.add(worth <= FRAME * run.frames)
    model.add(worth == 0).only_enforce_if(~run.present)
    return worth


def _rate(task: Task, outer: Span) -> Floats:
    """Worth of a second of open shutter at each second of a span, in the model's unit."""
    assert task.worth_by_start is not None
    middles = np.arange(outer[0], outer[1]) - task.shutter_s // 2
    starts = np.clip(middles, 0, len(task.worth_by_start) - 1 - task.shutter_s)
    return np.asarray(task.worth_by_start[starts] * (FRAME / task.worth / task.shutter_s))


def _pieces(gathered: Floats, outer: Span, error: float) -> list[_Piece]:
    """Few straight pieces that stay within an error of a curve at whole seconds."""
    pieces: list[_Piece] = []
    first, end = 0, len(gathered) - 1
    while first < end:
        length = SHORTEST_PIECE_S
        while first + length < end and _off(gathered, first, min(first + 2 * length, end)) <= error:
            length *= 2
        step = length // 2
        while step >= SHORTEST_PIECE_S // 2:
            if first + length < end and _off(gathered, first, min(first + length + step, end)) <= error:
                length += step
            step //= 2
        last = min(first + length, end)
        if end - last < SHORTEST_PIECE_S // 2:
            last = end
        slope = round(float(gathered[last] - gathered[first]) / (last - first))
        pieces.append(_Piece(outer[0] + first, outer[0] + last, round(float(gathered[first])), slope))
        first = last
    return pieces


def _off(gathered: Floats, first: int, last: int) -> float:
    """Greatest distance of the curve from its chord."""
    chord = np.linspace(gathered[first], gathered[last], last - first + 1)
    return float(np.abs(gathered[first : last + 1] - chord).max())


def _gathered(
    model: cp_model.CpModel,
    pieces: list[_Piece],
    run: RunVars,
    instant: cp_model.LinearExprT,
    name: str,
    *,
    at_least: bool,
) -> _Gathered:
    """Gathered worth at an instant, from below or from above: the objective pulls it to the curve."""
    most = max(piece.at_first + piece.slope * (piece.last - piece.first) for piece in pieces)
    value = model.new_int_var(0, max(0, most), name)
    found = _Gathered(value, [])
    for piece in pieces:
        literal = model.new_bool_var("")
        found.pieces.append((piece, literal))
        model.add(instant >= piece.first).only_enforce_if(literal)
        model.add(instant <= piece.last).only_enforce_if(literal)
        line = piece.at_first + piece.slope * (instant - piece.first)
        model.add(value >= line if at_least else value <= line).only_enforce_if(literal)
    model.add(sum(literal for _, literal in found.pieces) == 1).only_enforce_if(run.present)
    for _, literal in found.pieces:
        model.add_implication(literal, run.present)
    return found
