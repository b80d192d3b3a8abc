"""What a visit can bring for its time at most: of a thousand slots a first plan looks at a few only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from optimizer.packing.bound.arcs import Motions
from optimizer.packing.bound.nodes import least_arrival_s
from optimizer.problem import Problem

LEAST_RATE = 1e-12  # profit a second, where no frame has any
ROUNDING_S = 1  # by which a slew rounded up may differ from the same one begun at another second


def promises_of(problem: Problem) -> Promises:
    """The promises of a problem, made once and kept with it: thousands of plans are made of one night."""
    made: Promises | None = problem.__dict__.get("_promises")
    if made is None:
        made = problem.__dict__["_promises"] = Promises(problem)
    return made


class Promises:
    """What a visit of each slot needs, brings and waits for at least or at most."""

    def __init__(self, problem: Problem) -> None:
        """Work out what is the same whatever was visited before."""
        slots = problem.slots
        self.night_begins = min((slot.work[0] for slot in slots), default=0)
        self.opens = np.array([min(spans[0][0] for spans in slot.shutter.values()) for slot in slots])
        self.closes = np.array([max(spans[-1][1] for spans in slot.shutter.values()) for slot in slots])
        tasks = [[problem.tasks[index] for index in slot.shutter] for slot in slots]
        # a frame of a filter set that lags behind counts more than its profit
        share, most = problem.worth.most_share, [float(task.profit) for task in problem.tasks]
        most = [profit * float(share(index)) for index, profit in enumerate(most)]
        rates = np.array([max(most[task.index] / task.frame_s for task in own) for own in tasks])
        self.rates = np.maximum(rates, LEAST_RATE)
        self.tails_s = np.array([max(task.tail_s for task in own) for own in tasks])
        self.weights = np.array([slot.target.weight for slot in slots])
        self.ready_s = np.array(
            [
                min(least_arrival_s(problem, slot, task) for task in own)
                for slot, own in zip(slots, tasks, strict=True)
            ]
        )
        self._motions = Motions(problem, slots)
        self._of_slot = np.repeat(np.arange(len(slots)), [len(own) for own in tasks])
        self._tasks = [task.index for own in tasks for task in own]
        self._profit = np.array([most[task.index] for own in tasks for task in own])

    def ranked(
        self, former: int | None, free_s: int, left: Sequence[int], *, heaviest_first: bool
    ) -> Iterator[tuple[tuple[float, float], int]]:
        """Slots, best first, each with the highest rank that it can have; none that promises nothing.

        `former`: the slot that the mount may leave at `free_s`, None before the first visit; `left`: frames
        by task. A visit brings no more than all that is left, nor more than its time at the slot's best rate.
        """
        began, opens = self.night_begins, self.opens
        if former is not None:  # to wait before a slew brings nobody there sooner
            _, slews_s = self._motions.from_slot(former)
            began, opens = free_s, np.maximum(self.opens, free_s + slews_s - ROUNDING_S + self.ready_s)
        room_s = np.maximum(0, self.closes + self.tails_s - opens)
        frames = np.array([left[task] for task in self._tasks])
        wanted = np.bincount(self._of_slot, self._profit * frames, len(self.opens))
        profit = np.minimum(wanted, room_s * self.rates)
        promised = profit / np.maximum(1.0, opens - began + profit / self.rates) * (1 + 1e-9)
        first = self.weights if heaviest_first else np.zeros_like(promised)
        for index in np.lexsort((np.arange(len(promised)), -promised, -first)).tolist():
            if promised[index] > 0:
                yield (float(first[index]), float(promised[index])), index
