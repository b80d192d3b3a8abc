"""Where a night and its list parted: how late from when on, by which acts, and which subs have no frame."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal

from optimizer.models.shots import ShotList, Step
from optimizer.pace.aligned import Aligned, Taken, aligned
from optimizer.pace.late import late_run
from optimizer.tally.frames import Damaged, Frame

LATE_S = 30.0  # less is no lateness: clocks of camera and list may differ by some seconds
HELD_UP_S = 60.0  # by which a gap is longer than its acts were planned, at least, to be told by itself
HELD_UP_SHARE = 0.5  # and by at least such a part of what they were planned to take
BEFORE_S = 60.0  # a frame of the list's night may have been taken so long before its first sub
ACTS = ("flip", "slew", "rotate", "centre", "settle", "filter", "focus", "dither")

Why = Literal["damaged", "too_late", "no_time", "no_file", "not_reached"]


@dataclass(frozen=True)
class Spell:
    """A stretch of the night in which all subs were late: its first and last sub, and the latest one."""

    first: Taken
    last: Taken
    latest: Taken


@dataclass(frozen=True)
class Grown:
    """Seconds by which the list came to be later, in sum, over `count` gaps between subs.

    `acts` are the kinds of steps in these gaps, in order; none: from one sub to the next alone.
    """

    acts: tuple[str, ...]
    count: int
    seconds: float


@dataclass(frozen=True)
class HeldUp:
    """A gap between two subs that was by so many seconds longer than planned; `missing` subs lie in it."""

    after: Taken
    before: Taken
    seconds: float
    missing: int = 0


@dataclass(frozen=True)
class Without:
    """A sub of the list that has no whole frame, and why as far as files tell.

    `damaged`: there is a file of it, and `reason` says what is wrong with it. `too_late`: its latest start
    had passed when the list came to it. `no_time`: between the frames around it was no time for it.
    `no_file`: there was time for it, and no file tells more. `not_reached`: it comes after the last frame.
    """

    step: Step
    why: Why
    reason: str = ""


@dataclass(frozen=True)
class Parted:
    """A list beside the frames of its night.

    `subs` are those of the list, `taken` those of which there is a frame, damaged ones included.
    `caught_up_s` are the seconds by which waits and skipped subs made the list less late. `others` are frames
    of the night that are no sub of the list, `untold` damaged files whose header tells nothing.
    """

    shots: ShotList
    subs: int
    taken: tuple[Taken, ...]
    spells: tuple[Spell, ...]
    grown: tuple[Grown, ...]
    held_up: tuple[HeldUp, ...]
    caught_up_s: float
    without: tuple[Without, ...]
    others: tuple[Frame, ...]
    untold: tuple[Damaged, ...]


def parted(
    shots: ShotList,
    frames: Iterable[Frame],
    damaged: Sequence[tuple[Damaged, Frame | None]] = (),
) -> Parted:
    """Hold the frames of a folder against the list of one night; frames of other nights are left out.

    `damaged` are files that cannot be used, each with what its header tells all the same, if that is known.
    """
    begins, ends = _night(shots)
    broken = {frame.path: each.reason for each, frame in damaged if frame is not None}
    found = [*frames, *(frame for _, frame in damaged if frame is not None)]
    own = [each for each in found if each.taken_utc is not None and begins <= each.taken_utc < ends]
    beside: Aligned = aligned(shots, own)
    taken = beside.taken
    grown, held_up, caught_up_s = _growth(shots, taken)
    return Parted(
        shots=shots,
        subs=sum(step.kind == "expose" for step in shots.steps),
        taken=taken,
        spells=tuple(_spells(taken)),
        grown=grown,
        held_up=held_up,
        caught_up_s=caught_up_s,
        without=tuple(_without(shots, beside, broken)),
        others=beside.others,
        untold=tuple(each for each, frame in damaged if frame is None and each.fault != "being_written"),
    )


def taken_at(taken: Taken) -> dt.datetime:
    """The second in which a sub was begun."""
    begun = taken.step.start_utc + dt.timedelta(seconds=taken.late_s)
    return begun.replace(microsecond=0)


def _night(shots: ShotList) -> tuple[dt.datetime, dt.datetime]:
    """From when to when frames may be of this list: none of its subs begins before, nor so late."""
    starts = [step.start_utc for step in shots.steps if step.kind == "expose"] or [shots.created_utc]
    begins = starts[0] - dt.timedelta(seconds=BEFORE_S)
    return begins, begins + dt.timedelta(hours=18)


def _spells(taken: Sequence[Taken]) -> Iterator[Spell]:
    late: list[Taken] = []
    for each in (*taken, None):
        if each is not None and each.late_s >= LATE_S:
            late.append(each)
        elif late:
            yield Spell(late[0], late[-1], max(late, key=lambda one: one.late_s))
            late = []


def _growth(shots: ShotList, taken: Sequence[Taken]) -> tuple[tuple[Grown, ...], tuple[HeldUp, ...], float]:
    """By which acts the list came to be late, where it was held up, and by how much it caught up."""
    place = {step.step: index for index, step in enumerate(shots.steps)}
    sums: dict[tuple[str, ...], tuple[int, float]] = {}
    held_up: list[HeldUp] = []
    caught_up_s = 0.0
    for before, after in pairwise(taken):
        between = shots.steps[place[before.step.step] + 1 : place[after.step.step]]
        later_s = after.late_s - before.late_s
        kinds = {step.kind for step in between}
        missing = sum(step.kind == "expose" for step in between)
        if missing:  # nobody knows what happened in their stead
            caught_up_s += max(0.0, -later_s)
            if later_s >= HELD_UP_S:
                held_up.append(HeldUp(before, after, later_s, missing))
            continue
        if "wait" in kinds and later_s < 0:
            caught_up_s -= later_s
            continue
        planned_s = sum(step.seconds for step in between)
        if later_s >= max(HELD_UP_S, HELD_UP_SHARE * planned_s):
            held_up.append(HeldUp(before, after, later_s))
            continue
        acts = tuple(kind for kind in ACTS if kind in kinds)
        count, seconds = sums.get(acts, (0, 0.0))
        sums[acts] = (count + 1, seconds + later_s)
    grown = [Grown(acts, count, seconds) for acts, (count, seconds) in sums.items()]
    return tuple(sorted(grown, key=lambda each: -each.seconds)), tuple(held_up), caught_up_s


def _without(shots: ShotList, beside: Aligned, broken: dict[Path, str]) -> Iterator[Without]:
    """The subs of the list without a whole frame, in its order."""
    by_step = {each.step.step: each for each in beside.taken}
    missing = {step.step for step in beside.missing}
    last = beside.taken[-1].step.step if beside.taken else 0
    before: Taken | None = None
    too_late: set[int] = set()
    for place, step in enumerate(shots.steps):
        if step.kind != "expose":
            continue
        if (each := by_step.get(step.step)) is not None:
            before = each
            too_late = _too_late(shots, place + 1, each)
            if each.frame.path in broken:
                yield Without(step, "damaged", broken[each.frame.path])
        elif step.step in too_late:
            yield Without(step, "too_late")
        elif step.step > last:
            yield Without(step, "not_reached")
        elif step.step in missing:
            after = next(one for one in beside.taken if one.step.step > step.step)
            if before is not None and not _fits(step, before, after):
                yield Without(step, "no_time")
            else:
                yield Without(step, "no_file")


def _ends(each: Taken) -> dt.datetime:
    """When a sub that was taken was over, its download included, as the list has it."""
    return taken_at(each) + (each.step.end_utc - each.step.start_utc)


def _too_late(shots: ShotList, place: int, before: Taken) -> set[int]:
    """The subs that a list loses that goes on at a place, from a sub taken as late as it was."""
    by_mount = shots.request.mount.flip_by == "mount"
    return {step.step for step in late_run(shots.steps[place:], _ends(before), by_mount=by_mount).lost}


def _fits(step: Step, before: Taken, after: Taken) -> bool:
    """Whether a sub could have been taken between two others, with what the list has beside it."""
    return _ends(before) + (step.end_utc - step.start_utc) <= taken_at(after) + dt.timedelta(seconds=1)
