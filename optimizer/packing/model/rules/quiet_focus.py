"""A focus run that slews away keeps out of the last minutes before the meridian."""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars, RunVars
from optimizer.problem import Span


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Focus runs lie before or after the quiet time (those of a flip block excepted)."""
    if not night.problem.rules.focus_leaves_target:
        return
    focus_s = night.problem.rules.focus_s
    for visit in night.visits.values():
        if visit.slot.quiet is None:
            continue
        quiet_from, quiet_to = visit.slot.quiet
        for run in visit.runs.values():
            assert run.is_first is not None
            before = model.new_bool_var("")
            model.add(run.start <= quiet_from).only_enforce_if(run.focus_first, before)
            after_flip = model.new_bool_var("")
            model.add_implication(after_flip, run.is_first)
            model.add_implication(after_flip, visit.by_flip)
            model.add(run.start - focus_s >= quiet_to).only_enforce_if(run.focus_first, ~before, ~after_flip)
            if run.split is not None and run.later_runs is not None:
                _inside_run(model, night, run, (quiet_from, quiet_to))


def _inside_run(model: cp_model.CpModel, night: NightVars, run: RunVars, quiet: Span) -> None:
    """Of the focus runs inside a run of exposures the first few lie before the quiet time, the rest after it.

    From the begin of one to that of the next it is always as long, for the segments between are full.
    """
    assert run.split is not None
    assert run.later_runs is not None
    lengths, first = night.problem.run_lengths, run.first_close + run.task.tail_s
    period_s = lengths.segment_s(run.task, run.later_most) + run.task.tail_s + lengths.pause_s
    most = night.horizon // period_s + 1
    earlier = model.new_int_var(0, most, "")
    some, all_ = model.new_bool_var(""), model.new_bool_var("")
    model.add(earlier >= 1).only_enforce_if(some)
    model.add(earlier == 0).only_enforce_if(~some)
    model.add(earlier == run.later_runs).only_enforce_if(all_)
    model.add(earlier <= run.later_runs - 1).only_enforce_if(run.split, ~all_)
    last_ends = first + (earlier - 1) * period_s + night.problem.rules.focus_s
    model.add(last_ends <= quiet[0]).only_enforce_if(run.split, some)
    model.add(first + earlier * period_s >= quiet[1]).only_enforce_if(run.split, ~all_)
