"""How long each act of a rig really takes, beside what the request plans for it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.learn.by_list import by_list
from optimizer.learn.estimate import estimated
from optimizer.learn.gaps import Gap, Gaps, gaps_between
from optimizer.learn.planned import planned_of
from optimizer.learn.pointing import SIDE_UNKNOWN, Pointing
from optimizer.learn.rows import ACTS, ActName, Held, LearnedAct, Measured
from optimizer.learn.rules import LONG, by_rules
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.pace.aligned import aligned
from optimizer.tally.frames import Frame

__all__ = ["ACTS", "ActName", "Learned", "LearnedAct", "SetAside", "learned"]


@dataclass(frozen=True)
class SetAside:
    """Gaps that say nothing of the acts, or frames that are no subs: why, as a clause, and how many."""

    reason: str
    count: int


@dataclass(frozen=True)
class Learned:
    """What the frames of some nights tell of the rig.

    `acts` has a row for each of `ACTS`, in that order, and behind that of `filter` one for each filter that
    was put in. `sums` are acts that were measured only together. `pairs` is the number of gaps between two
    consecutive frames that were looked at, `evenings` the dates on which their nights began, `frames` how
    many frames of goals there are. `others` are dated light frames that are no sub of the request.
    """

    acts: tuple[LearnedAct, ...]
    sums: tuple[LearnedAct, ...]
    set_aside: tuple[SetAside, ...]
    evenings: tuple[dt.date, ...]
    frames: int
    pairs: int
    others: tuple[SetAside, ...] = ()

    def of(self, act: ActName, filter_name: str | None = None) -> LearnedAct | None:
        """The row of an act, or of the change to one filter; None where there is none."""
        return next((row for row in self.acts if row.acts == (act,) and row.filter == filter_name), None)


def learned(request: Request, frames: Iterable[Frame], shots: ShotList | None = None) -> Learned:
    """Measure the acts between the frames of some nights, taken by the rig of a request.

    `frames` are all that lie in a folder, in any order. `shots` is the list that one of the nights was taken
    by: it says which acts lie between two of its subs. Without it the request's rules, the place of a sub in
    its run and the lengths of the gaps do.
    """
    frames = tuple(frames)
    found = gaps_between(request, frames)
    pointing = Pointing(request)
    held, aside = _sorted(request, frames, found, pointing, shots)
    measured: list[Measured] = []
    for each in held:
        planned = planned_of(request, each, pointing)
        if planned is None:
            aside.append((each.gap, SIDE_UNKNOWN))
        else:
            measured.append(Measured(each, planned))
    acts, sums, outside = estimated(request, measured, whole_seconds=found.whole_seconds)
    reasons = Counter(reason for _, reason in aside)
    reasons[LONG] += outside
    return Learned(
        acts,
        sums,
        _counted(reasons),
        tuple(sorted({sub.evening for sub in found.subs})),
        len(found.subs),
        len(found.gaps),
        _counted(found.others),
    )


def _counted(reasons: Counter[str]) -> tuple[SetAside, ...]:
    return tuple(SetAside(reason, count) for reason, count in reasons.most_common() if count)


def _sorted(
    request: Request, frames: tuple[Frame, ...], found: Gaps, pointing: Pointing, shots: ShotList | None
) -> tuple[list[Held], list[tuple[Gap, str]]]:
    """The gaps by the acts in them: those of the list's night by the list, all others by the rules."""
    listed: list[Gap] = []
    others = list(found.gaps)
    held: list[Held] = []
    aside: list[tuple[Gap, str]] = []
    if shots is not None:
        beside = aligned(shots, frames)
        if beside.taken:  # else the list is of another night
            evening = shots.request.night.evening
            listed = [gap for gap in found.gaps if gap.before.evening == evening]
            others = [gap for gap in found.gaps if gap.before.evening != evening]
            held, aside = by_list(shots, beside, listed)
    more_held, more_aside = by_rules(request, others, pointing, whole_seconds=found.whole_seconds)
    return [*held, *more_held], [*aside, *more_aside]
