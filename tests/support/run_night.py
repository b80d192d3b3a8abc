"""Nights run by a fake clock: a shot list as a plain executor really goes through it, and the truth of it.

happened = run_night(shots, random.Random(7), more={"expose": 4.0}, jitter=0.1, lost=(12, 13))
happened.under_way(now), happened.late_s(now), happened.whole(now)
happened.frames(now)              # what a reader of the folder would find, without files
happened.write_until(folder, now) # the folder as it would be
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.models.shots import ShotList, Step
from optimizer.tally.frames import Frame
from tests.support.executing import Cloud, Done, Executed, execute
from tests.support.night_files import Camera, Damage, File, frames_of, write_files

MOST_SIGMAS = 2.0  # beyond this no jitter goes, so that no step gets a length below 0
DARK_DOWNLOAD_S = 3.0


@dataclass(frozen=True)
class Happened:
    """A night as it went: the truth, and the files that the camera wrote.

    `spoilt` are the numbers of subs taken through a cloud. Instants are by the clock of
    the computer; the camera's may be off.
    """

    shots: ShotList
    executed: Executed
    spoilt: frozenset[int]
    files: tuple[File, ...]
    clouds: tuple[Cloud, ...] = ()

    @property
    def done(self) -> tuple[Done, ...]:
        """The steps done, in order."""
        return self.executed.done

    @property
    def lateness(self) -> dict[int, float]:
        """By how many seconds the shutter of each sub taken opened late, by the sub's number."""
        return {
            each.step.step: (each.start_utc - each.step.start_utc).total_seconds()
            for each in self.executed.subs
        }

    @property
    def skipped_subs(self) -> tuple[int, ...]:
        """The numbers of the subs that were not taken: too late, left with their visit, or clouded out."""
        return tuple(step.step for step in self.executed.skipped if step.kind == "expose")

    def under_way(self, now: dt.datetime) -> Done | None:
        """The step that is really under way; None before, between and after."""
        spans = (*self.done, *self.executed.broken)
        return next((each for each in spans if each.start_utc <= now < each.end_utc), None)

    def over(self, now: dt.datetime) -> tuple[Done, ...]:
        """The steps that were done and are over."""
        return tuple(each for each in self.done if each.end_utc <= now)

    def late_s(self, now: dt.datetime) -> float | None:
        """How late the latest sub that has begun was; None where none has."""
        begun = [each for each in self.executed.subs if each.start_utc <= now]
        return self.lateness[begun[-1].step.step] if begun else None

    def whole(self, now: dt.datetime) -> frozenset[int]:
        """The numbers of the subs of which a whole and sound file is there."""
        return frozenset(
            file.step.step
            for file in self.files
            if file.kind == "light" and file.damage is None and file.whole_utc <= now
        )

    def newest_whole(self, now: dt.datetime) -> Done | None:
        """The latest sub of which a whole and sound file is there."""
        seen = self.whole(now)
        return next((each for each in reversed(self.executed.subs) if each.step.step in seen), None)

    def rest(self, now: dt.datetime) -> Executed:
        """What the executor really does from an instant on: steps that begin then or later, or never."""
        gone = {each.step.step for each in (*self.done, *self.executed.broken) if each.start_utc < now}
        latest = max(gone, default=0)
        return Executed(
            tuple(each for each in self.done if each.start_utc >= now),
            tuple(each for each in self.executed.broken if each.start_utc >= now),
            tuple(step for step in self.executed.skipped if step.step > latest),
        )

    def frames(self, now: dt.datetime | None = None, folder: Path = Path("images")) -> list[Frame]:
        """The whole and sound files as a reader of the folder finds them, in the order of their names."""
        return frames_of(self.files, folder, now)

    def write_until(self, folder: Path, now: dt.datetime) -> None:
        """Make the folder as it is at an instant; files there already grow on."""
        write_files(self.files, folder, now)


def run_night(
    shots: ShotList,
    rng: random.Random,
    *,
    lasts: Mapping[str, float] | Callable[[Step], float] | None = None,
    more: Mapping[str, float] | None = None,
    jitter: float = 0.0,
    begins_late_s: float = 0.0,
    clouds: Sequence[Cloud] = (),
    stalls: Mapping[int, float] | None = None,
    darks: Mapping[int, float] | None = None,
    lost: Collection[int] = (),
    damaged: Mapping[int, Damage] | None = None,
    copies: Collection[int] = (),
    appears_late: Mapping[int, float] | None = None,
    camera: Camera | None = None,
) -> Happened:
    """Run a list from its first step to its last.

    `lasts` has real seconds by the kind of a step, for `expose` from the closing of the shutter until the next step
    can begin; `filter Ha` stands for changes to that filter alone. Kinds that are not named last as long as the
    list has them. Or it is a function that gives the length of the whole step. `more` adds seconds to that, by the
    same names. `jitter` is the standard deviation of all real lengths (shutters are exact) as a share of them.
    `begins_late_s`: the list is started so late. `stalls` adds seconds to steps by their number, and `darks` has
    dark frames of so many seconds that the camera takes at the end of a step. Of subs by number: of `lost` no file
    is ever there, `damaged` files are never good, of `copies` a second file appears in another folder, and
    `appears_late` has seconds that pass until the file appears.
    """
    camera = camera or Camera()
    stalls, darks = stalls or {}, darks or {}

    def length(step: Step) -> float:
        fixed = step.exposure_s or 0.0 if step.kind == "expose" else 0.0
        planned = lasts(step) if callable(lasts) else step.seconds
        told = planned - fixed
        if isinstance(lasts, Mapping):
            told = _named(lasts, step, told)
        told += _named(more or {}, step, 0.0)
        told *= 1.0 + jitter * min(max(rng.gauss(0.0, 1.0), -MOST_SIGMAS), MOST_SIGMAS)
        dark_s = darks[step.step] + DARK_DOWNLOAD_S if step.step in darks else 0.0
        return fixed + told + stalls.get(step.step, 0.0) + dark_s

    begins = shots.steps[0].start_utc + dt.timedelta(seconds=begins_late_s)
    by_mount = shots.request.mount.flip_by == "mount"
    executed = execute(shots.steps, begins, length, clouds, by_mount=by_mount)
    files = camera.files(
        shots,
        executed.done,
        darks=darks,
        lost=lost,
        damaged=damaged or {},
        copies=copies,
        appears_late=appears_late or {},
    )
    return Happened(shots, executed, _spoilt(executed, clouds), files, tuple(clouds))


def _named(seconds: Mapping[str, float], step: Step, otherwise: float) -> float:
    own = seconds.get(step.kind, otherwise)
    return seconds.get(f"{step.kind} {step.filter}", own)


def _spoilt(executed: Executed, clouds: Sequence[Cloud]) -> frozenset[int]:
    return frozenset(
        each.step.step
        for each in executed.subs
        for cloud in clouds
        if each.start_utc < cloud.end_utc and cloud.start_utc < each.closes_utc
    )
