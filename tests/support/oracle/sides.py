"""The best of each choice of sides for each target, from the exact oracle's own states; no search has a limit.

One pass through a night tells the best value for every set of (target, side) that is visited, so each choice is
a maximum over the sets that it admits. Forks have no sides: there the choice is one of shutter windows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from optimizer.models.request import Request
from optimizer.problem import Problem, build_problem, only_slots, only_tasks
from optimizer.sky.bodies import NightSky
from optimizer.sky.windows import SkyWindows
from tests.support.oracle.best import _Left, _Search

Visited = frozenset[tuple[str, str | None]]


class _BySides(_Search):
    """The oracle, that remembers which sides its best plans visit."""

    def profits(self) -> dict[Visited, int]:
        found: dict[Visited, int] = {}
        self.left[0][_Left(-1, (), "", (0,) * len(self.problem.tasks))] = self.night.first()
        for made in range(self.wanted + 1):
            for state, timetable in self.inside[made].items():
                self._go_on(state, timetable)
            for left, timetable in self.left[made].items():
                visited = frozenset((target, side) for target, side, _ in left.used)
                tasks = zip(self.problem.tasks, left.given, strict=True)
                profit = sum(task.profit * frames for task, frames in tasks)
                found[visited] = max(found.get(visited, 0), profit)
                self._go_elsewhere(left, timetable)
            self.inside[made].clear()
            self.left[made].clear()
        return found


def profits_by_sides(request: Request, problem: Problem, sky: SkyWindows) -> dict[Visited, int]:
    """Best profit for each set of target and side that a plan may visit."""
    return _BySides(request, problem, sky, None).profits() if problem.slots else {frozenset(): 0}


def with_wish(request: Request, name: str, wish: str) -> Request:
    targets = [
        each.model_copy(update={"sides": wish}) if each.name == name else each for each in request.targets
    ]
    return request.model_copy(update={"targets": tuple(targets)})


def best_of(profits: dict[Visited, int], name: str, sides: Iterable[str | None]) -> int | None:
    """The best plan that visits the target on just these sides; None where there is none."""
    wanted = set(sides)
    matching = [
        profit
        for visited, profit in profits.items()
        if {side for target, side in visited if target == name} == wanted
    ]
    return max(matching, default=None)


class OracleOfSides:
    """Values (weighted seconds) of every choice, alone and in the whole night."""

    def __init__(self, request: Request, sky: NightSky, windows: SkyWindows) -> None:
        self.request, self.sky, self.windows = request, sky, windows
        self._known: dict[tuple[str, str, bool], tuple[Problem, dict[Visited, int]]] = {}

    def value(self, name: str, choice: str, *, alone: bool) -> float | None:
        """None where the choice cannot be made. On a fork the best across is at most this (see `exact`)."""
        if self.request.mount.kind == "fork":
            if choice == "across" and not self._both_sides(name, alone):
                return None
            wish = "either" if choice == "across" else choice
            problem, profits = self._pass(name, wish, alone)
            profit = best_of(profits, name, {None})
        else:
            problem, profits = self._pass(name, "either", alone)
            sides = {"before": {"west"}, "after": {"east"}, "across": {"west", "east"}}[choice]
            profit = best_of(profits, name, sides)
        return None if profit is None else problem.weighted_seconds(profit)

    def exact(self, name: str, choice: str) -> bool:
        """Whether `value` is the best itself.

        A fork's best plan is across where it is worth more than the best of those that stay on one side.
        """
        if choice != "across" or self.request.mount.kind != "fork":
            return True
        for alone in (True, False):
            best = self.value(name, "across", alone=alone)
            one_sided = [self._half(name, half, alone) for half in (0, 1)]
            if best is not None and best <= max(each or 0.0 for each in one_sided):
                return False
        return True

    def _both_sides(self, name: str, alone: bool) -> bool:
        return all(self._half(name, half, alone) is not None for half in (0, 1))

    def _half(self, name: str, half: int, alone: bool) -> float | None:
        """The best that exposes the target before its transit alone (0), or after it (1), by the middles."""
        problem, profits = self._pass(name, f"half {half}", alone)
        profit = best_of(profits, name, {None})
        return None if profit is None else problem.weighted_seconds(profit)

    def _pass(self, name: str, wish: str, alone: bool) -> tuple[Problem, dict[Visited, int]]:
        request = with_wish(self.request, name, "either" if wish.startswith("half") else wish)
        key = ("" if not alone and request == self.request else name, wish, alone)
        if wish.startswith("half"):
            key = (name, wish, alone)
        if key not in self._known:
            problem = build_problem(request, self.windows)
            if wish.startswith("half"):
                problem = self._halved(problem, name, int(wish[-1]))
            if alone:
                mine = {task.index for task in problem.tasks if task.target.name == name}
                problem = only_tasks(problem, mine)
            self._known[key] = (problem, profits_by_sides(request, problem, self.windows))
        return self._known[key]

    def _halved(self, problem: Problem, name: str, half: int) -> Problem:
        """Shutter windows of a target cut where the middle of an exposure would pass the transit."""
        slots = []
        for slot in problem.slots:
            if slot.target.name != name:
                slots.append(slot)
                continue
            shutter = {}
            for task, spans in slot.shutter.items():
                length_s = problem.tasks[task].shutter_s
                cut = [self._cut(name, span, length_s, half) for span in spans]
                kept = tuple(span for span in cut if span[1] - span[0] >= length_s)
                if kept:
                    shutter[task] = kept
            slots.append(replace(slot, shutter=shutter))
        kept_slots = [slot for slot in slots if slot.shutter]
        return only_slots(replace(problem, slots=tuple(slots)), lambda slot: slot in kept_slots)

    def _cut(self, name: str, span: tuple[int, int], length_s: int, half: int) -> tuple[int, int]:
        opens = np.arange(span[0], span[1] - length_s + 1)
        middles = self.windows[name].track.hour_angle_s(np.asarray(opens + length_s / 2, dtype=np.float64))
        good = opens[(middles < 0) if half == 0 else (middles >= 0)]
        return (int(good[0]), int(good[-1]) + length_s) if good.size else (0, 0)
