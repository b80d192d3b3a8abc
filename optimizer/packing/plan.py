"""The one type for what a night's plan decides: visits in order, runs in each, segments of each run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from optimizer.problem import Problem, Slot, Span


@dataclass(frozen=True)
class Run:
    """Exposures of one task; a focus run lies between its segments, and before them if `focus_first`.

    `segments` has the number of frames of each; `span` is the window that holds all of them. The first
    shutter opens no sooner than `not_before` (a focus run carried over a wait may not be early), in seconds
    after the night's origin.
    """

    task: int
    segments: tuple[int, ...]
    span: Span
    focus_first: bool
    not_before: int = 0

    @property
    def frames(self) -> int:
        """All exposures of the run."""
        return sum(self.segments)


@dataclass(frozen=True)
class Visit:
    """One slot with its runs in order; no shutter opens sooner than `not_before` (the target shall rise)."""

    slot: int
    runs: tuple[Run, ...]
    not_before: int = 0


@dataclass(frozen=True)
class Plan:
    """The visits of a night in their order; a plan without any is false."""

    visits: tuple[Visit, ...] = ()

    @classmethod
    def of(cls, visits: Iterable[Visit]) -> Plan:
        """Gather visits that come one by one."""
        return cls(tuple(visits))

    def __iter__(self) -> Iterator[Visit]:
        """Go through the visits in their order."""
        return iter(self.visits)

    def __len__(self) -> int:
        """Count the visits."""
        return len(self.visits)

    def as_early_as_possible(self) -> Plan:
        """Let each run begin as soon as its window opens, and change nothing else."""
        return Plan.of(
            replace(visit, runs=tuple(replace(run, not_before=0) for run in visit.runs)) for visit in self
        )

    def without_waiting(self) -> Plan:
        """Let no visit wait for its target to rise, and change nothing else."""
        return Plan.of(replace(visit, not_before=0) for visit in self)

    def with_visit(self, place: int, visit: Visit) -> Plan:
        """Put another visit in the place of the one at this index."""
        return Plan((*self.visits[:place], visit, *self.visits[place + 1 :]))

    def with_more(self, place: int, visit: Visit) -> Plan:
        """Put one more visit in before the one at this index."""
        return Plan((*self.visits[:place], visit, *self.visits[place:]))

    def in_file_order(self, problem: Problem) -> Plan:
        """Sort runs that may change places by the order of the request's goals."""
        return Plan.of(
            replace(visit, runs=_in_file_order(problem.slots[visit.slot], visit.runs))
            if order_is_free(problem, problem.slots[visit.slot])
            else visit
            for visit in self
        )


def draft(runs: Iterable[tuple[int, int, int, int, int]], problem: Problem) -> Plan:
    """Make a plan that need not keep every rule yet, from runs in the order of time.

    Each run is given by its slot, its task, the number of its window, its frames, and the second before which
    it shall not begin. Runs of one slot that follow each other make one visit.
    """
    visits = []
    for slot, group in groupby(runs, key=lambda run: run[0]):
        shutter = problem.slots[slot].shutter
        visits.append(
            Visit(
                slot,
                tuple(
                    Run(task, (frames,), shutter[task][window], False, begins)
                    for _, task, window, frames, begins in group
                ),
            )
        )
    return Plan(tuple(visits))


def order_is_free(problem: Problem, slot: Slot) -> bool:
    """Whether runs with the same windows may change places within a visit, its first and last left alone.

    They may where each run brings its own change of filter and focus run with it and has one window only, and
    where a frame's profit is the same at any time.
    """
    filters = [problem.tasks[task].goal.filter for task in slot.shutter]
    one_window = all(len(spans) == 1 for spans in slot.shutter.values())
    if problem.by_depth or len(set(filters)) < len(filters) or not one_window:
        return False
    return problem.rules.focus_every_s is None or problem.rules.focus_on_filter_change


def _in_file_order(slot: Slot, runs: tuple[Run, ...]) -> tuple[Run, ...]:
    alike = groupby(runs[1:-1], key=lambda run: slot.shutter[run.task])
    between = [run for _, group in alike for run in sorted(group, key=lambda run: run.task)]
    return (*runs[:1], *between, *runs[1:][-1:])
