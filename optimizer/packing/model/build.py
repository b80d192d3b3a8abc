"""The constraint model as a whole: variables, rules, and the way from a solution to a plan and back."""

from __future__ import annotations

from itertools import pairwise

from ortools.sat.python import cp_model

from optimizer import ctrl_c
from optimizer.packing.model.rules import (
    arrival,
    cadence,
    night_length,
    order_in_visit,
    order_of_visits,
    quiet_focus,
    runs,
)
from optimizer.packing.model.rules.order_of_visits import NIGHT
from optimizer.packing.model.variables import NightVars, RunVars, VisitVars, make_variables
from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import Schedule, ScheduledVisit
from optimizer.problem import Problem

RULES = (runs, order_in_visit, order_of_visits, arrival, cadence, quiet_focus, night_length)


def build_model(problem: Problem) -> tuple[cp_model.CpModel, NightVars]:
    """Build all rules over fresh variables; there is no objective yet."""
    model = cp_model.CpModel()
    night = make_variables(model, problem)
    for rule in RULES:
        ctrl_c.heed()  # large ones take seconds
        rule.build(model, night)
    return model, night


def read_plan(night: NightVars, values: cp_model.CpSolver | cp_model.CpSolverSolutionCallback) -> Plan:
    """Read the plan that a solution stands for."""
    follows = {before: after for (before, after), arc in night.arcs.items() if values.boolean_value(arc)}
    visits = []
    index = follows.get(NIGHT, NIGHT)
    while index != NIGHT:
        visits.append(_read_visit(night.visits[index], values))
        index = follows[index]
    return Plan(tuple(visits))


def _read_visit(visit: VisitVars, values: cp_model.CpSolver | cp_model.CpSolverSolutionCallback) -> Visit:
    follows = {before: after for (before, after), arc in visit.arcs.items() if values.boolean_value(arc)}
    current = next(
        task
        for task, run in visit.runs.items()
        if run.is_first is not None and values.boolean_value(run.is_first)
    )
    order = [current]
    while (current := follows.get(current, -1)) >= 0:
        order.append(current)
    return Visit(visit.slot.index, tuple(_read_run(visit, visit.runs[task], values) for task in order))


def _read_run(
    visit: VisitVars, run: RunVars, values: cp_model.CpSolver | cp_model.CpSolverSolutionCallback
) -> Run:
    segments = [values.value(run.first_segment)]
    if run.split is not None and run.last_segment is not None and values.boolean_value(run.split):
        segments += [run.later_most] * (values.value(run.later_runs) - 1) + [values.value(run.last_segment)]
    spans = visit.slot.shutter[run.task.index]
    chosen = [number for number, literal in enumerate(run.in_span) if values.boolean_value(literal)]
    span = spans[chosen[0] if chosen else 0]
    focus_first = bool(values.boolean_value(run.focus_first))
    return Run(run.task.index, tuple(segments), span, focus_first, values.value(run.start))


def hint_plan(model: cp_model.CpModel, night: NightVars, plan: Plan, schedule: Schedule) -> None:
    """Offer a plan to the solver; hints of an earlier phase are cleared first."""
    model.clear_hints()
    by_slot = {visit.slot: (visit, in_time) for visit, in_time in zip(plan, schedule, strict=True)}
    order = [NIGHT, *(visit.slot for visit in plan), NIGHT]
    arcs = set(pairwise(order)) if plan else set()
    for arc, literal in night.arcs.items():
        model.add_hint(literal, arc in arcs)
    for index, visit in night.visits.items():
        model.add_hint(visit.present, index in by_slot)
        if index in by_slot:
            _hint_visit(model, visit, *by_slot[index])
        else:
            for run in visit.runs.values():
                model.add_hint(run.present, False)


def _hint_visit(model: cp_model.CpModel, visit: VisitVars, planned: Visit, in_time: ScheduledVisit) -> None:
    starts: dict[int, int] = {}
    for task, opens in in_time.exposures:
        starts.setdefault(task, opens)
    model.add_hint(visit.depart, in_time.depart)
    model.add_hint(visit.free, in_time.free)
    model.add_hint(visit.by_flip, in_time.acts[0].kind == "flip")
    order = [run.task for run in planned.runs]
    for arc, literal in visit.arcs.items():
        model.add_hint(literal, arc in set(pairwise(order)))
    chosen = {run.task: run for run in planned.runs}
    for task, run in visit.runs.items():
        model.add_hint(run.present, task in chosen)
        if len(visit.runs) > 1 and run.is_first is not None and run.is_last is not None:
            model.add_hint(run.is_first, task == order[0])
            model.add_hint(run.is_last, task == order[-1])
        if task not in chosen:
            continue
        mine = chosen[task]
        model.add_hint(run.start, starts[task])
        model.add_hint(run.focus_first, mine.focus_first)
        model.add_hint(run.first_segment, mine.segments[0])
        if run.split is not None and run.later_runs is not None and run.last_segment is not None:
            later = len(mine.segments) - 1
            model.add_hint(run.split, later > 0)
            model.add_hint(run.later_runs, later)
            model.add_hint(run.last_segment, mine.segments[-1] if later else 0)
