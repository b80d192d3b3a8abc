"""What a plan is worth, in whole numbers for the constraint model: sums, and the progress of filter sets.

The mean share of the slowest half of a set is the least over all ways to fill a half: some goals whole, and
of one more the part that is wanting. Each way gives a row that the set's variable keeps to. All is counted in
parts of a unit of profit: each set is rounded to such a part, and what that may lose is told, so that a bound
of the model is one of the plans.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars
from optimizer.packing.plan import Plan
from optimizer.problem import Problem
from optimizer.problem.filter_sets import SLOWEST, FilterSet

MOST_MEMBERS = 8  # of a set; one of so many has 280 rows, each more doubles them
PARTS_OF_SET = 64  # of a unit, for each set: what rounding may lose is below one in 64 of a unit
# The solver tells its bound as a floating-point number, and takes whole numbers up to this in its rows.
MOST_VALUE, MOST_IN_ROW = 2**52, 2**61


@dataclass(frozen=True)
class Value:
    """The objective of the model, `parts` of which are one unit of profit.

    `progress` has a variable for each filter set that may gain: its progress times the balance, in parts.
    `rounded` is by how much what the sets have of it before the night is rounded down.
    """

    problem: Problem
    parts: int
    scaled: cp_model.LinearExprT
    progress: tuple[tuple[FilterSet, cp_model.IntVar], ...]
    rounded: Fraction

    def bound_of(self, objective: float) -> int:
        """The profit that no plan exceeds where none exceeds this objective."""
        if not self.progress:
            return round(objective)
        return math.ceil((round(objective) + len(self.progress) - self.rounded) / self.parts) - 1

    def at_most(self, profit: int) -> cp_model.BoundedLinearExprT:
        """A row that every plan of at most this profit keeps."""
        more = self.parts - 1 + len(self.progress)
        return self.scaled <= self.parts * profit + more

    def at_least(self, profit: int) -> cp_model.BoundedLinearExprT:
        """A row that no plan of a lower profit keeps, and but for what rounding loses every other one."""
        return self.scaled >= math.ceil(self.parts * profit + self.rounded)

    def hint(self, model: cp_model.CpModel, plan: Plan) -> None:
        """Offer the progress of a plan, each frame at its best, to the solver."""
        tasks, balance = self.problem.tasks, self.problem.worth.balance
        gathered = [0] * len(tasks)
        for visit in plan:
            for run in visit.runs:
                gathered[run.task] += run.frames * tasks[run.task].profit
        for filter_set, variable in self.progress:
            model.add_hint(variable, math.floor(self.parts * balance * filter_set.progress(gathered)))


def can_count(problem: Problem) -> bool:
    """Whether the model can count what plans are worth: sets of few goals, and numbers that it can hold."""
    sets = _open_sets(problem)
    if any(len(each.tasks) > MOST_MEMBERS for each in sets):
        return False
    parts, balance = _parts(problem, len(sets)), problem.worth.balance
    of_sets = sum((balance * sum(each.wanted) for each in sets), Fraction(0))
    most = parts * (of_sets + sum(task.profit * task.frames_left for task in problem.tasks))
    return most < MOST_VALUE and all(
        _scale(row) * (4 * parts * balance * sum(each.wanted)) < MOST_IN_ROW
        for each in sets
        for row in _rows(problem, each, parts)
    )


def make_value(model: cp_model.CpModel, night: NightVars) -> Value:
    """Make what is to be maximized, with a variable and its rows for each set that may gain."""
    problem, frames = night.problem, dict[int, cp_model.LinearExprT]()
    for visit in night.visits.values():
        for index, run in visit.runs.items():
            frames[index] = frames.get(index, 0) + run.frames
    balance, sets = problem.worth.balance, _open_sets(problem)
    parts, rounded = _parts(problem, len(sets)), Fraction(0)
    progress: list[tuple[FilterSet, cp_model.IntVar]] = []
    in_set = {task for each in sets for task in each.tasks}
    scaled: list[cp_model.LinearExprT] = []
    for index, count in frames.items():
        of_profit = int(parts * (1 - balance)) if index in in_set else parts
        scaled.append(of_profit * problem.tasks[index].profit * count)
    for each in sets:
        before = parts * balance * each.before
        first, most = math.floor(before), math.ceil(parts * balance * sum(each.wanted))
        variable = model.new_int_var(first, most, f"set of {each.target}")
        for row in _rows(problem, each, parts):
            scale = _scale(row)
            constant, *of_frames = (int(scale * part) for part in row)
            terms = zip(of_frames, each.tasks, strict=True)
            reached = sum(part * frames[task] for part, task in terms if task in frames)
            model.add(scale * variable <= constant + reached)
        progress.append((each, variable))
        scaled.append(variable - first)
        rounded += before - first
    return Value(problem, parts, sum(scaled), tuple(progress), rounded)


def _open_sets(problem: Problem) -> list[FilterSet]:
    """The sets of which a goal has a window; the others stand still."""
    return [each for each in problem.worth.sets if any(task in problem.slots_by_task for task in each.tasks)]


def _parts(problem: Problem, sets: int) -> int:
    """Parts of a unit: so many that every share of a profit is whole, and what rounding loses is little."""
    least = problem.worth.balance.denominator
    return least * math.ceil(PARTS_OF_SET * sets / least) if sets else 1


def _rows(problem: Problem, filter_set: FilterSet, parts: int) -> Iterator[tuple[Fraction, ...]]:
    """For each way to fill a half: a constant, and how much a frame of each member adds, in parts."""
    members, wanted = range(len(filter_set.tasks)), filter_set.wanted
    half, factor = SLOWEST * sum(wanted), parts * problem.worth.balance / SLOWEST
    profits = [problem.tasks[task].profit for task in filter_set.tasks]
    for count in members:
        for whole in combinations(members, count):
            left = half - sum(wanted[member] for member in whole)
            for last in members:
                if last in whole or not 0 < left <= wanted[last]:
                    continue
                shares = [Fraction(member in whole) for member in members]
                shares[last] = left / wanted[last]
                constant = sum(
                    share * before for share, before in zip(shares, filter_set.in_hand, strict=True)
                )
                of_frames = (factor * share * profit for share, profit in zip(shares, profits, strict=True))
                yield factor * constant, *of_frames


def _scale(row: tuple[Fraction, ...]) -> int:
    """The least factor that makes all of a row whole."""
    return math.lcm(*(part.denominator for part in row))
