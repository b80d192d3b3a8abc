"""Which subs of a list were taken, by the images in a folder."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from optimizer.models.shots import ShotList, Step
from optimizer.models.targets import GoalKey, goal_key
from optimizer.tally.counts import CALIBRATION, matched_goal
from optimizer.tally.folder import read_folder
from optimizer.tally.frames import Damaged
from optimizer.tally.matching import Matcher

CLOCKS_APART = dt.timedelta(seconds=60)  # by which the camera's clock may be behind the list's


@dataclass(frozen=True)
class Pictured:
    """The subs over by now that no image shows, by number, and what was found besides.

    `others` are images of this night that are no sub of the list, `unusable` files of light frames that
    cannot be told: damaged, without a date, or of no goal.
    """

    missing: frozenset[int]
    others: int
    unusable: int


def pictured(
    older: ShotList, folder: Path, now: dt.datetime, night: tuple[dt.datetime, dt.datetime]
) -> Pictured:
    """Hold the subs of a list that are over by now against the images of its night in a folder.

    An image stands for the latest sub of its goal that no other stands for and that was planned to begin by
    then: a list may be late, never early. Two files of one exposure count once. Raises InputError where the
    folder cannot be read.
    """
    matcher = Matcher(older.request)
    taken: dict[GoalKey, set[dt.datetime]] = defaultdict(set)
    unusable = 0
    for frame in read_folder(folder):
        if isinstance(frame, Damaged):
            unusable += frame.fault != "being_written"
            continue
        if frame.kind in CALIBRATION:
            continue
        if frame.taken_utc is not None and not night[0] <= frame.taken_utc <= now:
            continue
        found = matched_goal(matcher, frame)
        if isinstance(found, str) or frame.taken_utc is None:
            unusable += 1
            continue
        taken[goal_key(found.target, found.goal)].add(frame.taken_utc)
    over: dict[GoalKey, list[Step]] = defaultdict(list)
    for step in older.steps:
        if step.kind == "expose" and step.end_utc <= now:
            over[step.goal_key].append(step)
    shown: set[int] = set()
    others = 0
    for key, instants in taken.items():
        free = list(over.get(key, ()))
        for instant in sorted(instants, reverse=True):
            while free and free[-1].start_utc > instant + CLOCKS_APART:
                free.pop()
            if free:
                shown.add(free.pop().step)
            else:
                others += 1
    every = {step.step for steps in over.values() for step in steps}
    return Pictured(frozenset(every - shown), others, unusable)
