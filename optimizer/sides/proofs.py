"""Whether a choice is impossible tonight, with or without the other targets: said only where it is proven.

What other targets do around a visit can only take from it what these eased rules grant anyway: the mount is
there at once, the rotator turns and focus runs during a visit take no time, and no last minutes before the
meridian are kept quiet. Where the constraint model has no plan even so, there is none.
"""

from __future__ import annotations

from dataclasses import replace

from ortools.sat.python import cp_model

from optimizer.models.rig import SIDES
from optimizer.models.targets import Target
from optimizer.packing.model.build import build_model
from optimizer.packing.model.interruptible import run_solver
from optimizer.packing.model.search import make_solver
from optimizer.problem import Problem, Slot
from optimizer.sides.cases import Case, SideChoice

AT_ONCE_DEG_S = 1e4  # a slew then takes one second, as every slew does at least
LIMIT = 1.0  # of the work of a proof, about a second


def is_impossible(case: Case, target: Target, choice: SideChoice) -> bool:
    """Whether it is proven that no plan of the night shoots the target so. `case` is the night's under it.

    What only the slack asked for forbids is not impossible.
    """
    case = case.without_slack()
    own = [slot for slot in case.problem.slots if slot.target.name == target.name]
    if not own:
        return True
    if choice != "across":
        return _has_no_plan(case.only(target), choice)
    if not case.problem.rules.flips:
        halves: tuple[SideChoice, ...] = ("before", "after")
        return any(is_impossible(case.under(target, half), target, half) for half in halves)
    if {slot.side for slot in own} != set(SIDES):
        return True
    return _has_no_plan(case.only(target), choice)


def _has_no_plan(lonely: Case, choice: SideChoice) -> bool:
    across = choice == "across"
    problem = _eased(lonely.problem, by_flip=across)
    model, night = build_model(problem)
    for side in SIDES if across else (None,):
        visits = [visit for visit in night.visits.values() if side in (None, visit.slot.side)]
        model.add_bool_or([visit.present for visit in visits])
    status, stopped = run_solver(make_solver(problem, LIMIT, workers=1), model)
    if stopped:
        raise KeyboardInterrupt
    return bool(status == cp_model.INFEASIBLE)


def _eased(problem: Problem, *, by_flip: bool) -> Problem:
    """One target's night under rules that no plan of the whole night can better.

    `by_flip`: its later side may be reached by the flip, which may need no focus run and no change of filter;
    or after other targets, and then not by the flip, whose own rules are not asked for.
    """
    rules = replace(
        problem.rules,
        slew_extra_s=0.0,
        slew_deg_s=AT_ONCE_DEG_S,
        rotates_after_flip=False,
        focus_every_s=None,
        focus_leaves_target=False,
    )
    tasks = problem.tasks
    if by_flip:
        rules = replace(rules, focus_on_new_target=False, focus_on_filter_change=False)
        tasks = tuple(replace(task, change_s=0) for task in tasks)
    slots = tuple(_eased_slot(slot, apart=by_flip) for slot in problem.slots)
    return replace(problem, rules=rules, tasks=tasks, slots=slots)


def _eased_slot(slot: Slot, *, apart: bool) -> Slot:
    """`apart`: no flip leads from one side to the other, since they hold targets of different names."""
    if apart and slot.side == SIDES[1]:
        return replace(slot, quiet=None, target=slot.target.model_copy(update={"name": "flipped"}))
    return replace(slot, quiet=None)
