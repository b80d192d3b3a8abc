"""The one type for what a night's plan decides: visits in order, runs in each, segments of each run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from optimizer.problem import Problem, Span


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
