"""The decisions of the constraint model: for each slot a visit, for each of its tasks a run."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task

Arc = tuple[int, int]


@dataclass
class RunVars:
    """A run of one task in one slot; all but `present` mean nothing where it is absent."""

    task: Task
    present: cp_model.IntVar
    start: cp_model.IntVar  # first shutter opening
    close: cp_model.LinearExprT  # last shutter closing
    end: cp_model.LinearExprT  # end of the last tail
    frames: cp_model.LinearExprT
    first_segment: cp_model.IntVar
    later_runs: cp_model.IntVar | None  # focus runs inside the run; None: never any
    last_segment: cp_model.IntVar | None
    split: cp_model.IntVar | None  # whether there is a focus run inside
    last_focus_end: cp_model.LinearExprT | None  # of the focus runs inside
    first_close: cp_model.LinearExprT  # last shutter closing of the first segment
    later_most: int
    focus_first: cp_model.IntVar
    is_first: cp_model.IntVar | None = None  # in its visit
    is_last: cp_model.IntVar | None = None
    seconds: cp_model.LinearExprT = 0  # from `start` to `end`, 0 where absent
    in_span: list[cp_model.IntVar] = field(default_factory=list)


@dataclass
class VisitVars:
    """A visit of one slot."""

    slot: Slot
    present: cp_model.IntVar
    depart: cp_model.IntVar  # slew or flip begins
    ready: cp_model.IntVar  # centred, settled, rotated
    free: cp_model.IntVar  # last tail over
    by_flip: cp_model.IntVar
    filter_changes: cp_model.IntVar  # on arrival
    runs: dict[int, RunVars]
    arcs: dict[Arc, cp_model.IntVar] = field(default_factory=dict)
    stays: cp_model.IntVar | None = None  # it goes on as the plan begins; None: it cannot


@dataclass
class NightVars:
    """All decisions of the night. An arc's -1 is the beginning or the end of the night."""

    problem: Problem
    visits: dict[int, VisitVars]
    arcs: dict[Arc, cp_model.IntVar]
    horizon: int


def make_variables(model: cp_model.CpModel, problem: Problem) -> NightVars:
    """Create the decisions with the bounds that windows and goals give them."""
    horizon = max((slot.work[1] for slot in problem.slots), default=0) + 86400
    visits = {slot.index: _visit(model, problem, slot, horizon) for slot in problem.slots}
    return NightVars(problem=problem, visits=visits, arcs={}, horizon=horizon)


def _visit(model: cp_model.CpModel, problem: Problem, slot: Slot, horizon: int) -> VisitVars:
    tag = f"v{slot.index}"
    return VisitVars(
        slot=slot,
        present=model.new_bool_var(f"{tag}.present"),
        depart=model.new_int_var(slot.motion[0], slot.work[1], f"{tag}.depart"),
        ready=model.new_int_var(slot.work[0], slot.work[1], f"{tag}.ready"),
        free=model.new_int_var(0, horizon, f"{tag}.free"),
        by_flip=model.new_bool_var(f"{tag}.by_flip"),
        filter_changes=model.new_bool_var(f"{tag}.filter_changes"),
        runs={index: _run(model, problem, slot, problem.tasks[index], horizon) for index in slot.shutter},
        stays=model.new_bool_var(f"{tag}.stays") if problem.start.stays_in(slot) else None,
    )


def _run(model: cp_model.CpModel, problem: Problem, slot: Slot, task: Task, horizon: int) -> RunVars:
    tag = f"v{slot.index}.t{task.index}"
    spans = slot.shutter[task.index]
    longest_s = max(last - first for first, last in spans)
    most = min(task.frames_left, problem.run_lengths.most_frames(task, longest_s))
    first_most = min(most, problem.run_lengths.first_segment_most(task))
    later_most = problem.run_lengths.later_segment_most(task)
    present = model.new_bool_var(f"{tag}.present")
    start = model.new_int_var(spans[0][0], spans[-1][1] - task.shutter_s, f"{tag}.start")
    first_segment = model.new_int_var(0, first_most, f"{tag}.first")
    dither_s = problem.rules.dither_s
    dithers = _dithers(model, problem, first_segment, first_most, present, tag)
    first_s = first_segment * task.frame_s + dithers * dither_s
    shared = {
        "task": task,
        "present": present,
        "start": start,
        "first_segment": first_segment,
        "first_close": start + first_s - task.tail_s,
        "later_most": later_most,
        "focus_first": model.new_bool_var(f"{tag}.focus_first"),
    }
    may_split = most > first_most or (problem.focus_may_be_carried and most > 1)
    if not may_split or later_most == 0:
        return RunVars(
            **shared,
            close=start + first_s - task.tail_s,
            end=start + first_s,
            frames=first_segment,
            later_runs=None,
            last_segment=None,
            split=None,
            last_focus_end=None,
            seconds=first_s,
        )
    # frames = first segment + full segments + last segment, a focus run (and a dither) between any two
    split = model.new_bool_var(f"{tag}.split")
    focuses = model.new_int_var(0, -(-most // later_most), f"{tag}.focuses")
    last_segment = model.new_int_var(0, later_most, f"{tag}.last")
    last_dithers = _dithers(model, problem, last_segment, later_most, split, f"{tag}.z")
    last_s = last_segment * task.frame_s + last_dithers * dither_s
    model.add(focuses >= 1).only_enforce_if(split)
    model.add(last_segment >= 1).only_enforce_if(split)
    model.add(focuses == 0).only_enforce_if(~split)
    model.add(last_segment == 0).only_enforce_if(~split)
    every = problem.rules.dither_every
    full_s = later_most * task.frame_s + ((later_most - 1) // every if every else 0) * dither_s
    pause_s = problem.rules.focus_s + (dither_s if every else 0)
    seconds = first_s + last_s + (focuses - split) * full_s + focuses * pause_s
    frames = first_segment + last_segment + (focuses - split) * later_most
    model.add(frames <= most)
    lead_s = dither_s if every else 0
    return RunVars(
        **shared,
        close=start + seconds - task.tail_s,
        end=start + seconds,
        frames=frames,
        later_runs=focuses,
        last_segment=last_segment,
        split=split,
        last_focus_end=start + seconds - last_s - lead_s,
        seconds=seconds,
    )


def _dithers(
    model: cp_model.CpModel,
    problem: Problem,
    frames: cp_model.IntVar,
    most: int,
    present: cp_model.IntVar,
    tag: str,
) -> cp_model.LinearExprT:
    """Count the dithers inside a segment: one after every `dither_every` frames, if another follows.

    No more than that either: time taken up before a focus run would make the focus fresher than it is.
    """
    every = problem.rules.dither_every
    if not every or most <= every:
        return 0
    dithers = model.new_int_var(0, (most - 1) // every, f"{tag}.dithers")
    model.add(every * (dithers + 1) >= frames)
    model.add(every * dithers <= frames - 1).only_enforce_if(present)
    return dithers
