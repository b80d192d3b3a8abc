"""How long each act of a rig really takes, beside what the request plans for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.tally.frames import Frame

# `between_subs`: download and overhead. `slew`: slew, centre and settle. `flip`: flip, centre and settle.
ActName = Literal["between_subs", "dither", "filter", "focus", "slew", "flip"]
ACTS: tuple[ActName, ...] = ("between_subs", "dither", "filter", "focus", "slew", "flip")


@dataclass(frozen=True)
class LearnedAct:
    """How long an act really took, in seconds, or why that is not known.

    `acts` holds one act; it holds several where only their sum can be measured, since they come together.
    `filter` is the filter put in, of a row for that filter alone. `planned_s` is what the request's law plans
    for the same gaps, their median; where there is no gap what the request has, or None if that depends on
    the way of the axes. `median_s`, `low_s` and `high_s` (5 % and 95 %) are None where the act is not known,
    and `unknown` then is a clause that says why; `count` gaps were measured all the same.

    `longer_s` is the median of what each gap took beyond what was planned for it, negative where less, and
    `longer_from_s` to `longer_to_s` the interval that holds the true median with 95 %: if both lie on one
    side of 0, the act takes longer, or shorter, than planned. `how` is a sentence on how the gaps of this act
    were told apart.
    """

    acts: tuple[ActName, ...]
    filter: str | None
    planned_s: float | None
    median_s: float | None
    low_s: float | None
    high_s: float | None
    count: int
    longer_s: float | None
    longer_from_s: float | None
    longer_to_s: float | None
    how: str
    unknown: str | None = None

    @property
    def act(self) -> ActName:
        """The act; of a sum the first one."""
        return self.acts[0]

    @property
    def known(self) -> bool:
        """Whether its length is known, to about a tenth."""
        return self.unknown is None


@dataclass(frozen=True)
class SetAside:
    """Gaps that say nothing of the acts: why, as a clause, and how many."""

    reason: str
    count: int


@dataclass(frozen=True)
class Learned:
    """What the frames of some nights tell of the rig.

    `acts` has a row for each of `ACTS`, in that order, and behind that of `filter` one for each filter that
    was put in. `sums` are acts that were measured only together. `pairs` is the number of gaps between two
    consecutive frames that were looked at, `evenings` the dates on which their nights began, `frames` how
    many frames of goals they lie between.
    """

    acts: tuple[LearnedAct, ...]
    sums: tuple[LearnedAct, ...]
    set_aside: tuple[SetAside, ...]
    evenings: tuple[dt.date, ...]
    frames: int
    pairs: int

    def of(self, act: ActName, filter_name: str | None = None) -> LearnedAct | None:
        """The row of an act, or of the change to one filter; None where there is none."""
        return next((row for row in self.acts if row.acts == (act,) and row.filter == filter_name), None)


def learned(request: Request, frames: Iterable[Frame], shots: ShotList | None = None) -> Learned:
    """Measure the acts between the frames of some nights, taken by the rig of a request.

    `frames` are all that lie in a folder, in any order. `shots` is the list that one of the nights was taken
    by: it says which acts lie between two of its subs. Without it the request's rules, the place of a sub in
    its run and the lengths of the gaps do.
    """
    raise NotImplementedError
