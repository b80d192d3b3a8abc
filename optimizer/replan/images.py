"""Which subs of a list were taken, by the images in a folder."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.models.shots import ShotList
from optimizer.pace.aligned import Taken, aligned
from optimizer.pace.late import late_run
from optimizer.tally.counts import CALIBRATION, matched_goal
from optimizer.tally.folder import read_folder
from optimizer.tally.frames import Damaged, Frame
from optimizer.tally.matching import Matcher

LEAST_LATE_S = 30.0  # below this the clocks of camera and list may just differ


@dataclass(frozen=True)
class Pictured:
    """The subs over by now that no image shows, by number, and what was found besides.

    `not_yet` are the numbers of steps that the list has begun by its plan, but not as late as the latest
    image shows it to be. `others` are images of this night that are no sub of the list, `unusable` files of
    light frames that cannot be told: damaged, without a date, or of no goal.
    """

    missing: frozenset[int]
    not_yet: frozenset[int]
    others: int
    unusable: int


def pictured(
    older: ShotList, folder: Path, now: dt.datetime, night: tuple[dt.datetime, dt.datetime]
) -> Pictured:
    """Hold the subs of a list that are over by now against the images of its night in a folder.

    Two files of one exposure count once. Raises InputError where the folder cannot be read.
    """
    matcher = Matcher(older.request)
    frames: list[Frame] = []
    unusable = 0
    for frame in read_folder(folder):
        if isinstance(frame, Damaged):
            unusable += frame.fault != "being_written"
            continue
        if frame.kind in CALIBRATION:
            continue
        if frame.taken_utc is not None and not night[0] <= frame.taken_utc <= now:
            continue
        if frame.taken_utc is None or isinstance(matched_goal(matcher, frame), str):
            unusable += 1
        else:
            frames.append(frame)
    found = aligned(older, frames)
    shown = {each.step.step for each in found.taken}
    over = {step.step for step in older.steps if step.kind == "expose" and step.end_utc <= now}
    begun = {each.frame.taken_utc for each in found.taken}
    others = {frame.taken_utc for frame in found.others} - begun
    return Pictured(frozenset(over - shown), _not_yet(older, found.taken, now), len(others), unusable)


def _not_yet(older: ShotList, taken: Sequence[Taken], now: dt.datetime) -> frozenset[int]:
    """The steps after the latest sub seen that should be under way or over, and are not that far."""
    if not taken or taken[-1].late_s < LEAST_LATE_S:
        return frozenset()
    last = taken[-1].step
    began = last.start_utc + dt.timedelta(seconds=taken[-1].late_s)
    by_mount = older.request.mount.flip_by == "mount"
    run = late_run(older.steps[last.step - 1 :], began, by_mount=by_mount)
    went = {each.step.step: each for each in run.ran}

    def as_planned(number: int, ends: dt.datetime) -> bool:
        """Whether a step is over, or under way as the list has it."""
        step = went.get(number)
        return step is not None and (step.end_utc <= now or step.start_utc <= now < ends)

    begun = (step for step in older.steps[last.step :] if step.start_utc <= now)
    return frozenset(step.step for step in begun if not as_planned(step.step, step.end_utc))
