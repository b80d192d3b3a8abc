"""A night followed by the clock: what is looked at, how often, and where it is shown."""

from __future__ import annotations

import datetime as dt
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Self

from optimizer import ctrl_c
from optimizer.cli.streams import is_gone
from optimizer.follow.moment import Moment, moment
from optimizer.follow.newest import Newest, NewestList
from optimizer.follow.seen import Seen, seen
from optimizer.follow.watch import FolderWatch, Images
from optimizer.reading.shots_file import read_json
from optimizer.report.follow_facts import Followed, FollowedImages, followed
from optimizer.report.follow_view import follow_view, log_line
from optimizer.report.tables import drawn, show

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList

LOOK_S = 5.0  # between two looks at the folders
TICK_S = 1.0
NARROWEST = 20  # cells of a line that words are folded to; what is wider would be cut at its end
LINE_S = 60.0  # between two lines of a log in which nothing changes
GOES_ON_S = 600.0  # after the end of the list, late as it runs
SETTLES_S = 1.0  # after which a second look knows whether a file has stood still

Clock = Callable[[], dt.datetime]


@dataclass(frozen=True)
class Looked:
    """What was found at a look: the newest list, and the images where some are looked at."""

    newest: Newest
    images: Images | None


@dataclass(frozen=True)
class Told:
    """A night at an instant: the list, the moment by its plan, and all that is said."""

    shots: ShotList
    moment: Moment
    followed: Followed


class Follower:
    """Looks at list and images again and again, and tells what they say at an instant.

    The looks are made in a thread of their own, so that a slow disk or share does not stop the clock.
    """

    def __init__(self, named: Path, folder: Path | None, *, by: dt.datetime | None = None) -> None:
        """Follow the chain of a list, and images in a folder if one is named; `by`: as of that instant."""
        self._named, self._folder, self._by = named, folder, by
        self._list = NewestList(named)
        self._watch = None if folder is None else FolderWatch(folder, by=by)
        self._over = threading.Event()
        self._seen: tuple[Looked, dt.datetime, Seen] | None = None
        self.looked: Looked | None = None
        self.page_trouble: Callable[[], str | None] = lambda: None

    def look(self) -> Looked:
        """Look once. Raises InputError where the list that was named could never be read."""
        newest = self._list.poll()
        if self._by is not None and _begins_later(newest.shots, self._by):
            newest = Newest(self._named, read_json(self._named), "")
        images = None if self._watch is None else self._watch.poll()
        self.looked = Looked(newest, images)
        return self.looked

    def look_twice(self) -> None:
        """Look, and once more where a file must first be seen to stand still."""
        self.look()
        if self._watch is not None and not self._watch.is_quiet:
            time.sleep(SETTLES_S)
            self.look()

    def __enter__(self) -> Self:
        """Look again and again from now on."""
        threading.Thread(target=self._run, name="looks", daemon=True).start()
        return self

    def __exit__(self, *error: object) -> None:
        """Look no more; a look that hangs is not waited for."""
        self._over.set()

    def look_again(self) -> None:
        """Look; what fails unforeseen is told in the view, which goes on with what was known before."""
        before = self.looked
        assert before is not None
        try:
            self.look()
        except Exception as error:
            trouble = f"{type(error).__name__}: {error}"
            self.looked = Looked(replace(before.newest, trouble=trouble), before.images)

    def _run(self) -> None:
        while not self._over.wait(LOOK_S):
            self.look_again()

    def told(self, now: dt.datetime) -> Told:
        """What is said at an instant; what the images say is at most some seconds old."""
        looked = self.looked
        assert looked is not None
        newest = looked.newest
        shots, name = newest.shots, str(newest.path)
        by_images = None
        if looked.images is not None:
            known = self._seen
            if known is None or known[0] is not looked or not 0 <= (now - known[1]).total_seconds() < LOOK_S:
                known = self._seen = (looked, now, seen(shots, now, looked.images))
            by_images = known[2]
        told = followed(
            shots,
            now,
            name=name,
            named=None if newest.path == self._named else str(self._named),
            trouble=newest.trouble,
            passed_over=newest.skipped,
            page_trouble=self.page_trouble(),
            told=by_images,
            folder="" if self._folder is None else str(self._folder),
            by_clock=self._by is None,
        )
        return Told(shots, moment(shots, now), told)


def _begins_later(shots: ShotList, instant: dt.datetime) -> bool:
    return shots.continues is not None and shots.continues.begin.utc > instant


def over(told: Told) -> bool:
    """Whether the list has ended for good, late as it runs."""
    ends, images = told.moment.ends_utc, told.followed.images
    if ends is None:
        return True
    late_s = 0.0 if images is None or images.latest_step is None else images.late_s
    if images is not None and images.late_at_least and _gives_nothing(told.shots, images):
        late_s = 0.0  # the night was given up: for how long no image has come says nothing
    elif images is not None and images.overdue_step is not None and images.due_utc is not None:
        # the image that is missing makes it later and later: what counts is how late its sub was to be
        (sub,) = (step for step in told.shots.steps if step.step == images.overdue_step)
        late_s = (images.due_utc - sub.end_utc).total_seconds()
    return (told.moment.now_utc - ends).total_seconds() > late_s + GOES_ON_S


def _gives_nothing(shots: ShotList, images: FollowedImages) -> bool:
    """Whether the list loses all subs after the latest that has an image."""
    latest, lost = images.latest_step or 0, set(images.lost_steps)
    return all(step.step in lost for step in shots.steps if step.kind == "expose" and step.step > latest)


def follow_on_terminal(follower: Follower, clock: Clock, wait: Callable[[float], bool]) -> None:
    """Draw the view anew each second until the list is over or `wait` says that Ctrl-C has come."""
    from rich.console import Console
    from rich.live import Live
    from rich.text import Text

    console = Console(file=sys.stdout, highlight=False)

    def view() -> tuple[Told, Text]:
        told = follower.told(clock())
        for brief in (False, True):
            shown = follow_view(told.shots, told.moment, told.followed, brief=brief)
            text = drawn(shown, sys.stdout, least=NARROWEST).rstrip("\n")
            if text.count("\n") + 1 < console.size.height:
                break
        return told, Text.from_ansi(text, no_wrap=True, overflow="ignore")

    told, text = view()
    with Live(
        text,
        console=console,
        auto_refresh=False,
        redirect_stdout=False,
        redirect_stderr=False,
        vertical_overflow="crop",
    ) as live:
        console.show_cursor(True)  # a process that is killed leaves the terminal as it was
        while not over(told) and not wait(TICK_S) and not is_gone(sys.stdout):
            told, text = view()
            live.update(text, refresh=True)


def follow_in_pipe(follower: Follower, clock: Clock, wait: Callable[[float], bool]) -> None:
    """Write the view where something has changed, and one line a minute where nothing has."""
    key: object = None
    written: dt.datetime | None = None
    while True:
        told = follower.told(clock())
        now = told.moment.now_utc
        if (changed := _key(told)) != key:
            if key is not None:
                sys.stdout.write("\n")
            show(follow_view(told.shots, told.moment, told.followed), crop=False)
            key, written = changed, now
        elif written is None or (now - written).total_seconds() >= LINE_S:
            sys.stdout.write(log_line(told.shots, told.moment, told.followed) + "\n")
            sys.stdout.flush()
            written = now
        if over(told) or wait(TICK_S) or is_gone(sys.stdout):
            return


def _key(told: Told) -> object:
    """What makes a new block where it changes."""
    plan, images = told.followed.plan, told.followed.images
    running = told.moment.running
    act = "dither" if running is not None and running.kind == "dither" else plan.next_step
    by_plan = (told.followed.shots, told.followed.trouble, plan.phase, plan.flip_step, act)
    if images is None:
        return by_plan
    return (
        by_plan,
        images.trouble,
        images.clock_ahead_s is not None,
        images.late_since_step,
        images.overdue_step,
        images.missing_steps,
        len(images.lost_steps),
        images.flip_too_late is not None,
        len(images.unusable),
    )


def wait_for_ctrl_c(seconds: float) -> bool:
    """Wait so long, or until Ctrl-C comes; whether it has."""
    end = time.monotonic() + seconds
    while not ctrl_c.presses() and (left := end - time.monotonic()) > 0:
        time.sleep(min(ctrl_c.POLL_S, left))
    return ctrl_c.presses() > 0
