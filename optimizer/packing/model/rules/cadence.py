"""Focus cadence: every shutter closes within `every_s` of the end of the latest focus run."""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars, RunVars, VisitVars


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Carry the end of the latest focus run along visits and runs, where runs may begin without one.

    Segments after a focus run inside a run are short enough by their bounds; the first segment is so by
    its bound where a focus run precedes it, and by these rows where the focus is carried over.
    """
    every_s = night.problem.rules.focus_every_s
    if every_s is None or not night.problem.focus_may_be_carried:
        return
    heard: dict[int, tuple[cp_model.IntVar, cp_model.IntVar]] = {}
    for index, visit in night.visits.items():
        on_arrival = model.new_int_var(-every_s, night.horizon, f"v{index}.focused_in")
        on_leaving = model.new_int_var(-every_s, night.horizon, f"v{index}.focused_out")
        heard[index] = (on_arrival, on_leaving)
        _through_visit(model, night, visit, on_arrival, on_leaving, every_s)
    focused = night.problem.start.focused_s
    # at dusk, and where no focus run is known of, nothing is in focus
    focused_s = -every_s if focused is None else max(-every_s, focused)
    for (before, after), literal in night.arcs.items():
        if after < 0:
            continue
        if before < 0:
            model.add(heard[after][0] == focused_s).only_enforce_if(literal)
        else:
            model.add(heard[after][0] <= heard[before][1]).only_enforce_if(literal)


def _through_visit(
    model: cp_model.CpModel,
    night: NightVars,
    visit: VisitVars,
    on_arrival: cp_model.IntVar,
    on_leaving: cp_model.IntVar,
    every_s: int,
) -> None:
    carried: dict[int, tuple[cp_model.IntVar, cp_model.IntVar]] = {}
    for task, run in visit.runs.items():
        tag = f"v{visit.slot.index}.t{task}"
        into = model.new_int_var(-every_s, night.horizon, f"{tag}.focused_in")
        out = model.new_int_var(-every_s, night.horizon, f"{tag}.focused_out")
        carried[task] = (into, out)
        _through_run(model, run, into, out, every_s)
        assert run.is_first is not None
        assert run.is_last is not None
        model.add(into <= on_arrival).only_enforce_if(run.is_first)
        model.add(on_leaving <= out).only_enforce_if(run.is_last)
    for (task, other), literal in visit.arcs.items():
        model.add(carried[other][0] <= carried[task][1]).only_enforce_if(literal)


def _through_run(
    model: cp_model.CpModel, run: RunVars, into: cp_model.IntVar, out: cp_model.IntVar, every_s: int
) -> None:
    model.add(run.first_close - into <= every_s).only_enforce_if(run.present, ~run.focus_first)
    unsplit = [] if run.split is None else [~run.split]
    model.add(out <= into).only_enforce_if(run.present, ~run.focus_first, *unsplit)
    model.add(out <= run.start).only_enforce_if(run.present, run.focus_first, *unsplit)
    if run.split is not None:
        model.add(out <= run.last_focus_end).only_enforce_if(run.split)
