"""Filter and focus on arrival: always after a slew, after a flip where the filter changes or it is asked.

A visit that goes on as the plan begins changes the filter and focuses only where another one is in.
"""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.packing.model.rules.order_of_visits import NIGHT
from optimizer.packing.model.variables import NightVars, VisitVars


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Tie the filter's change and the focus run of an arrival to slew or flip."""
    problem = night.problem
    rules = problem.rules
    for index, visit in night.visits.items():
        on = [] if visit.stays is None else [visit.stays]
        model.add_bool_or([visit.by_flip, visit.filter_changes, ~visit.present, *on])
        for (before, after), literal in night.arcs.items():
            if after != index:
                continue
            if before >= 0 and problem.flips_between(night.visits[before].slot, visit.slot):
                _same_filter_across(model, night.visits[before], visit, literal)
            if before == NIGHT and problem.start.focus_due:
                for run in visit.runs.values():
                    assert run.is_first is not None
                    model.add_bool_or([~literal, ~run.is_first, run.focus_first])
            if before == NIGHT and (on or problem.flips_between(problem.start.slot, visit.slot)):
                _same_filter_as_before(model, problem.start.filter, visit, literal)
        for run in visit.runs.values():
            assert run.is_first is not None
            if rules.focus_on_new_target:
                model.add_bool_or([~run.is_first, visit.by_flip, run.focus_first, *on])
            if rules.focus_after_flip:
                model.add_bool_or([~run.is_first, ~visit.by_flip, run.focus_first])
            if rules.focus_on_filter_change:
                model.add_bool_or([~run.is_first, ~visit.filter_changes, run.focus_first])


def _same_filter_as_before(
    model: cp_model.CpModel, filter_name: str | None, visit: VisitVars, first: cp_model.IntVar
) -> None:
    for run in visit.runs.values():
        assert run.is_first is not None
        if run.task.goal.filter != filter_name:
            model.add_bool_or([~first, ~run.is_first, visit.filter_changes])


def _same_filter_across(
    model: cp_model.CpModel, before: VisitVars, after: VisitVars, flip: cp_model.IntVar
) -> None:
    for run in after.runs.values():
        assert run.is_first is not None
        same = [
            other.is_last
            for other in before.runs.values()
            if other.task.goal.filter == run.task.goal.filter and other.is_last is not None
        ]
        model.add_bool_or([~flip, ~run.is_first, after.filter_changes, *same])
