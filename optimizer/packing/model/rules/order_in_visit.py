"""Runs of a visit follow one another; a filter change lies between runs of different filters."""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars, VisitVars
from optimizer.packing.plan import order_is_free


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Lead a small circuit through the runs of each visit, from its beginning to its end."""
    for visit in night.visits.values():
        _circuit(model, visit)
        if order_is_free(night.problem, visit.slot):
            _break_symmetry(model, visit)
        _times(model, night, visit)


def _circuit(model: cp_model.CpModel, visit: VisitVars) -> None:
    tag = f"v{visit.slot.index}"
    nodes = {task: number for number, task in enumerate(visit.runs, start=1)}
    if len(nodes) == 1:
        (only,) = visit.runs.values()
        only.is_first = only.is_last = only.present
        return
    arcs: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, ~visit.present)]
    for task, run in visit.runs.items():
        run.is_first = model.new_bool_var(f"{tag}.t{task}.is_first")
        run.is_last = model.new_bool_var(f"{tag}.t{task}.is_last")
        arcs.append((0, nodes[task], run.is_first))
        arcs.append((nodes[task], 0, run.is_last))
        arcs.append((nodes[task], nodes[task], ~run.present))
        for other in visit.runs:
            if other != task:
                literal = model.new_bool_var(f"{tag}.t{task}-t{other}")
                visit.arcs[(task, other)] = literal
                arcs.append((nodes[task], nodes[other], literal))
    model.add_circuit(arcs)


def _break_symmetry(model: cp_model.CpModel, visit: VisitVars) -> None:
    """Between the first and the last run, tasks with the same windows come in the order of the file."""
    for (task, other), literal in visit.arcs.items():
        if task > other and visit.slot.shutter[task] == visit.slot.shutter[other]:
            first, last = visit.runs[task].is_first, visit.runs[other].is_last
            assert first is not None
            assert last is not None
            model.add_bool_or([~literal, first, last])


def _times(model: cp_model.CpModel, night: NightVars, visit: VisitVars) -> None:
    rules = night.problem.rules
    focus_s = rules.focus_s
    for run in visit.runs.values():
        assert run.is_first is not None
        model.add(
            run.start >= visit.ready + visit.filter_changes * run.task.change_s + run.focus_first * focus_s
        ).only_enforce_if(run.is_first)
        assert run.is_last is not None
        model.add(visit.free == run.end).only_enforce_if(run.is_last)
    for (task, other), literal in visit.arcs.items():
        before, after = visit.runs[task], visit.runs[other]
        changes = before.task.goal.filter != after.task.goal.filter
        change_s = after.task.change_s if changes else 0
        model.add(after.start >= before.end + change_s + after.focus_first * focus_s).only_enforce_if(literal)
        if changes and rules.focus_on_filter_change:
            model.add_implication(literal, after.focus_first)
