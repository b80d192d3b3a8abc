"""Subs of one kind, one after the other, gathered into blocks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.models.shots import Step
from optimizer.views.visits import ShownVisit

BETWEEN = ("dither", "focus")  # what may stand between the subs of one block


@dataclass(frozen=True)
class Block:
    """Subs of one visit with the same filter, length and settings, and the other steps around them."""

    visit: int  # number of the visit, from 1
    subs: tuple[Step, ...]
    before: tuple[Step, ...]  # of the visit, since the block before or since its beginning
    within: tuple[Step, ...]  # between its subs

    @property
    def latest_start(self) -> dt.datetime | None:
        """The last second at which the block may start so that nothing in it comes too late as it runs on."""
        begin = self.subs[0].start_utc
        spare = [
            step.latest_start_utc - step.start_utc
            for step in (*self.subs, *self.within)
            if step.latest_start_utc is not None
        ]
        return begin + min(spare) if spare else None


def blocks_of(visits: Sequence[ShownVisit]) -> list[Block]:
    """Part the subs of each visit into blocks.

    A block ends where filter, length, gain, offset or binning change, and where anything but an autofocus run
    or a dither comes between two subs: after a wait the next sub starts later than a count would say.
    """
    return [block for number, visit in enumerate(visits, start=1) for block in _parted(number, visit.steps)]


def _parted(number: int, steps: Iterable[Step]) -> list[Block]:
    blocks: list[Block] = []
    between: list[Step] = []
    for step in steps:
        if step.kind != "expose":
            between.append(step)
            continue
        last = blocks[-1] if blocks else None
        if last is not None and _goes_on(last.subs[-1], step, between):
            within = (*last.within, *between)
            blocks[-1] = Block(number, (*last.subs, step), last.before, within)
        else:
            blocks.append(Block(number, (step,), tuple(between), ()))
        between = []
    return blocks


def _goes_on(last: Step, step: Step, between: list[Step]) -> bool:
    return step.goal_key == last.goal_key and all(other.kind in BETWEEN for other in between)
