"""Filter sets: what frames are worth together, so that a set without its last filter is not called done.

A target's filter set is made of its goals. Its progress is the mean share of the slowest half of the set,
weighed by the hours that each goal wants in all, the one in the middle counted with the part that falls in.
The plain minimum would be pinned by one goal that cannot be shot; this is as concave, so that a little of
each filter is never worth less than the same time in one of them, and it adds up from night to night.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from optimizer.models.request import Request
from optimizer.problem.tasks import Task

SLOWEST = Fraction(1, 2)  # of a set, by hours, whose progress counts


@dataclass(frozen=True)
class FilterSet:
    """The goals of one target that make its filter set, two or more, by the indices of their tasks.

    `wanted` is the profit of all frames of each goal, every one at its full worth; `in_hand` is that of the
    frames in hand before the night, no more than is wanted.
    """

    target: str
    tasks: tuple[int, ...]
    wanted: tuple[Fraction, ...]
    in_hand: tuple[Fraction, ...]

    def progress(self, gathered: Sequence[int]) -> Fraction:
        """Profit of the whole set times its share in hand, after a night; `gathered` is profit by task."""
        reached = [before + gathered[task] for task, before in zip(self.tasks, self.in_hand, strict=True)]
        return progress_of(self.wanted, reached)

    def share(self, gathered: Sequence[int]) -> Fraction:
        """Share of the set in hand after a night, 0 to 1; `gathered` is profit by task."""
        return self.progress(gathered) / sum(self.wanted)


def progress_of(wanted: Sequence[Fraction], reached: Sequence[Fraction]) -> Fraction:
    """The whole of a set times the mean share of its slowest half; what is beyond a goal does not count."""
    shares = sorted((min(Fraction(1), got / all_), all_) for all_, got in zip(wanted, reached, strict=True))
    left, total = SLOWEST * sum(wanted), Fraction(0)
    for share, whole in shares:
        part = min(whole, left)
        total += part * share
        left -= part
    return total / SLOWEST


@dataclass(frozen=True)
class Worth:
    """What a plan is worth by the profits that it gathers: plain sums, or sums and the progress of sets.

    With a balance b of more than 0, the goals of a set count (1 - b) times what they gather, and b times what
    the set's progress grows by. `sets` is empty where b is 0.
    """

    balance: Fraction = Fraction(0)
    sets: tuple[FilterSet, ...] = ()

    def profit(self, gathered: Sequence[int]) -> int:
        """Profit of a night, rounded down to whole units; `gathered` has the profit of each task's frames."""
        total = sum(gathered)
        if not self.sets:
            return total
        nothing = [0] * len(gathered)
        more = Fraction(0)
        for each in self.sets:
            more += each.progress(gathered) - each.progress(nothing)
            more -= sum(gathered[task] for task in each.tasks)
        return math.floor(total + self.balance * more)

    def gain(self, gathered: Sequence[int], more: Mapping[int, int]) -> Fraction:
        """By how much the profit grows, unrounded, where some tasks gather more; `more` is profit by task."""
        total = Fraction(sum(more.values()))
        grown = [profit + more.get(task, 0) for task, profit in enumerate(gathered)]
        for number in {self._set_of[task] for task in more if task in self._set_of}:
            each = self.sets[number]
            of_sums = each.progress(grown) - each.progress(gathered)
            total += self.balance * (of_sums - sum(more.get(task, 0) for task in each.tasks))
        return total

    def most_share(self, task: int) -> Fraction:
        """The most that a unit of a task's profit counts, whatever else is gathered."""
        return self._most_in_set if task in self._set_of else Fraction(1)

    @cached_property
    def _most_in_set(self) -> Fraction:
        """What `most_share` says of tasks in sets; asked for each task of each of thousands of plans."""
        return 1 - self.balance + self.balance / SLOWEST

    @cached_property
    def _set_of(self) -> dict[int, int]:
        """The number of each task's set; tasks in none are left out."""
        return {task: number for number, each in enumerate(self.sets) for task in each.tasks}


def worth_of(request: Request, tasks: Iterable[Task]) -> Worth:
    """Gather the filter sets of a request, if its aim asks for their balance; one goal makes no set."""
    balance = Fraction(repr(request.aim.balance))
    return Worth(balance, filter_sets_of(tasks) if balance > 0 else ())


def filter_sets_of(tasks: Iterable[Task]) -> tuple[FilterSet, ...]:
    """The filter set of each target of which two goals or more are in it, in the order of the tasks."""
    of_target: dict[str, list[Task]] = {}
    for task in tasks:
        if task.goal.in_set:
            of_target.setdefault(task.target.name, []).append(task)
    return tuple(_filter_set(name, own) for name, own in of_target.items() if len(own) > 1)


def _filter_set(target: str, own: Sequence[Task]) -> FilterSet:
    return FilterSet(
        target=target,
        tasks=tuple(task.index for task in own),
        wanted=tuple(task.whole_profit * task.goal.frames for task in own),
        in_hand=tuple(task.whole_profit * min(task.goal.done, task.goal.frames) for task in own),
    )
