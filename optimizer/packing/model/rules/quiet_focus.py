"""A focus run that slews away keeps out of the last minutes before the meridian."""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Focus runs lie before or after the quiet time (those of a flip block excepted).

    Focus runs inside a run of exposures lie all before or all after it: some before and some after
    would only matter where the quiet time is longer than the cadence.
    """
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
            if run.split is not None and run.last_focus_end is not None:
                inside_before = model.new_bool_var("")
                model.add(run.last_focus_end <= quiet_from).only_enforce_if(run.split, inside_before)
                model.add(run.first_close + run.task.download_s >= quiet_to).only_enforce_if(
                    run.split, ~inside_before
                )
