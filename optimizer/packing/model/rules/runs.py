"""A run exists where it has exposures, lies inside one window, and counts towards its goal's cap."""

from __future__ import annotations

import math
from fractions import Fraction

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars, RunVars, VisitVars


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Tie presence to exposures, keep windows, the goals' caps and the least visit."""
    for visit in night.visits.values():
        for run in visit.runs.values():
            model.add_implication(run.present, visit.present)
            model.add(run.first_segment >= 1).only_enforce_if(run.present)
            model.add(run.first_segment == 0).only_enforce_if(~run.present)
            if run.split is not None:
                model.add_implication(run.split, run.present)
            model.add_implication(run.focus_first, run.present)
            _inside_a_window(model, visit, run)
        model.add_bool_or([run.present for run in visit.runs.values()]).only_enforce_if(visit.present)
    for task in night.problem.tasks:
        frames = [
            visit.runs[task.index].frames for visit in night.visits.values() if task.index in visit.runs
        ]
        if frames:
            model.add(sum(frames) <= task.frames_left)
    for visit in night.visits.values():
        _least_visit(model, night, visit)


def _inside_a_window(model: cp_model.CpModel, visit: VisitVars, run: RunVars) -> None:
    spans = visit.slot.shutter[run.task.index]
    if len(spans) == 1:
        model.add(run.close <= spans[0][1]).only_enforce_if(run.present)
        return
    for number, (first, last) in enumerate(spans):
        chosen = model.new_bool_var(f"v{visit.slot.index}.t{run.task.index}.w{number}")
        model.add(run.start >= first).only_enforce_if(chosen)
        model.add(run.close <= last).only_enforce_if(chosen)
        run.in_span.append(chosen)
    model.add_exactly_one([*run.in_span, ~run.present])


def _least_visit(model: cp_model.CpModel, night: NightVars, visit: VisitVars) -> None:
    least_s = Fraction(repr(visit.slot.target.least_min)) * 60
    if not least_s:
        return
    lengths = [Fraction(repr(run.task.goal.exposure_s)) for run in visit.runs.values()]
    before_s = Fraction(repr(night.problem.start.open_s)) if visit.stays is not None else Fraction(0)
    scale = math.lcm(*(each.denominator for each in (least_s, before_s, *lengths)))
    frames = [run.frames for run in visit.runs.values()]
    open_s = sum(int(length * scale) * count for length, count in zip(lengths, frames, strict=True))
    if visit.stays is not None:
        open_s += int(before_s * scale) * visit.stays
    model.add(open_s >= int(least_s * scale)).only_enforce_if(visit.present)
