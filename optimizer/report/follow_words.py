"""What the images say of a night, in sentences: for the terminal's view, for a log and for a served page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from optimizer.models.shots import ShotList
from optimizer.report.follow_facts import FlipDanger, Followed, FollowedImages, GoalLoss
from optimizer.report.moment_words import doing_words, span_words
from optimizer.report.words import clock, count, duration, name, run_text
from optimizer.words import listing, safe

AS_PLANNED = "if the rest goes as planned"
CHECK = "Check where the mount is before you start a new list."


class Line(NamedTuple):
    """A line behind its label; `matters` for what a person should not overlook."""

    label: str
    words: str
    matters: bool = False


def image_lines(shots: ShotList, told: Followed) -> list[Line]:
    """All that the images say, what matters most first; none where no images are looked at."""
    images = told.images
    if images is None:
        return []
    words = _Words(shots, told, images)
    if images.clock_ahead_s is not None:  # what is told of lateness would be the clocks' difference
        return [
            *words.trouble(),
            words.clocks(images.clock_ahead_s),
            words.seen(),
            *words.gaps(),
            *words.files(),
        ]
    flip = list(words.flip())
    danger = [line for line in flip if line.matters]
    lines = [*words.trouble(), *danger, *words.late(), *words.runs(), *words.cost()]
    return [*lines, *(line for line in flip if not line.matters), *words.gaps(), *words.files()]


def page_lines(shots: ShotList, told: Followed) -> tuple[str, ...]:
    """The same as whole sentences for a page that is served; the first names the instant."""
    if told.images is None:
        return ()
    at = clock(told.now_utc, told.time_zone, seconds=True)
    lines = [f"{line.label}: {line.words}." for line in image_lines(shots, told)]
    return (f"By the images, as of {at}:", *lines)


def goals_words(goals: Sequence[GoalLoss]) -> str:
    """What subs come to, by goal: `8 min of open shutter, L 4×120s of Hyades dust`."""
    open_s = sum(each.open_s for each in goals)
    parts = [
        f"{run_text(name(each.filter or '-', 12), each.subs, each.exposure_s)} of {name(each.target or '-')}"
        for each in goals
    ]
    return f"{duration(open_s)} of open shutter, {listing(parts, 'and', 4)}"


def late_words(images: FollowedImages) -> str:
    """How late a night runs, in two or three words for a line of a log."""
    if images.clock_ahead_s is not None:
        return "the images' clock is ahead"
    if images.overdue_step is not None:
        return "an image is overdue"
    if images.latest_step is None:
        return "no image yet"
    late = images.late_since_step is not None
    return f"{span_words(int(images.late_s))} late" if late else "on time by the images"


class _Words:
    """The lines of one instant."""

    def __init__(self, shots: ShotList, told: Followed, images: FollowedImages) -> None:
        self.shots, self.told, self.images = shots, told, images
        self.steps = {step.step: step for step in shots.steps}

    def at(self, instant: dt.datetime | None) -> str:
        return clock(instant, self.told.time_zone, seconds=True)

    def doing(self, number: int) -> str:
        return doing_words(self.shots.steps, self.steps[number])

    def planned(self, number: int | None) -> str:
        return "-" if number is None else self.at(self.steps[number].start_utc)

    def trouble(self) -> Iterator[Line]:
        if self.images.trouble is not None:
            why = safe(self.images.trouble)
            yield Line("Folder", f"not readable just now: {why}; this is as it was last seen", True)

    def clocks(self, ahead_s: float) -> Line:
        """That the images bear times that are still to come."""
        ends = self.at(self.told.now_utc + dt.timedelta(seconds=ahead_s))
        ahead = f"the latest image ends at {ends} by its header, {span_words(int(ahead_s))} from now"
        why = "the clocks of camera and computer differ, or the header has local times"
        return Line("Clock", f"{ahead}: {why}. How late the list runs cannot be told", True)

    def seen(self) -> Line:
        """How many images there are, and the latest one."""
        images = self.images
        if images.latest_step is None:
            others = f"; {count(images.frames, 'other image')} in the folder"
            told = f"{others}: darkfill tally tells what they are of" if images.frames else ""
            asks = "" if told or images.overdue_step is None else ": does the camera write to this folder?"
            return Line("Seen", f"no image of this list yet{told}{asks}")
        have = count(images.subs_seen, "sub has", "subs have")
        seen = f"{have} an image, {images.subs_over} are over by the plan; "
        begun = (
            f"begun {self.at(images.latest_utc)}{'' if images.clock_ahead_s is None else ' by its header'}"
        )
        return Line("Seen", f"{seen}latest {self.doing(images.latest_step)}, {begun}")

    def late(self) -> Iterator[Line]:
        """The latest image, and how late the list runs by it."""
        images = self.images
        yield self.seen()
        late = span_words(int(images.late_s))
        if images.overdue_step is not None:
            since = images.no_image_since_utc
            none = "no image yet" if since is None else f"no image since {self.at(since)}"
            next_one = "first" if since is None else "next"
            due = f"{none}; the {next_one} one was due at {self.at(images.due_utc)}"
            unless = "Unless it was skipped or its file is lost"
            yield Line("Late", f"{due}. {unless}, the list is at least {late} late", True)
        elif images.late_since_step is not None:
            words = f"{late}, since the sub planned for {self.planned(images.late_since_step)}"
            if images.jump_step not in (None, images.late_since_step):
                jump, before = span_words(int(images.jump_s or 0)), self.planned(images.jump_step)
                words += f"; {jump} of it came at once, before the sub planned for {before}"
            yield Line("Late", words, True)
        elif images.latest_step is not None:
            yield Line("Late", "no: the latest image was taken less than 30 s late")

    def runs(self) -> Iterator[Line]:
        """The sub taken to run, where that is not the one that runs by the plan."""
        images = self.images
        if images.running_step is not None and images.running_step != self.told.plan.running_step:
            until = self.at(images.running_ends_utc)
            yield Line("Now", f"taken to run: {self.doing(images.running_step)}; until about {until}")

    def cost(self) -> Iterator[Line]:
        """What lateness costs, and how much more of it the list can bear."""
        images = self.images
        if images.lost:
            subs = count(sum(each.subs for each in images.lost), "sub")
            least = f"at least {subs} would be lost" if images.late_at_least else f"{subs} will be lost"
            yield Line("Cost", f"{least}, {AS_PLANNED}: {goals_words(images.lost)}", True)
        elif images.late_at_least:
            yield Line("Cost", f"no sub so far, {AS_PLANNED} from now on")
        elif images.late_since_step is not None:
            yield Line("Cost", f"no sub, {AS_PLANNED}")
        if not images.lost and images.latest_step is not None:
            spare = images.may_be_later_s
            if spare is None:
                yield Line("Spare", "no later step can be too late")
            elif spare > 0:
                yield Line("Spare", f"{span_words(spare)} more, and still nothing is broken or lost")
            else:
                yield Line("Spare", "none: any later, and something is broken or lost", True)

    def flip(self) -> Iterator[Line]:
        """When the next flip comes by the images, where that is not when the plan has it."""
        images, danger = self.images, self.images.flip_too_late
        if danger is not None:
            yield Line("FLIP", self.too_late(danger), True)
        elif images.flip_step is not None and (images.late_since_step is not None or images.late_at_least):
            latest_start = self.steps[images.flip_step].latest_start_utc
            least = " at the earliest" if images.late_at_least else ""
            words = f"expected at about {self.at(images.flip_expected_utc)}{least}"
            until = "" if latest_start is None else f"; no later than {self.at(latest_start)}"
            yield Line("Flip", words + until)

    def too_late(self, danger: FlipDanger) -> str:
        begins, latest = self.at(danger.begins_utc), self.at(danger.latest_utc)
        if self.told.now_utc > danger.latest_utc:
            return f"latest start was {latest}, and no image shows yet that it was made: look at the mount"
        if self.images.late_at_least:
            late = f"if the list is as late as told below it would begin at {begins} or later"
            return f"perhaps TOO LATE: {late}, its latest start is {latest}"
        why = f"it would begin at {begins}, its latest start is {latest}"
        return f"TOO LATE unless subs before it are skipped: {why}"

    def gaps(self) -> Iterator[Line]:
        goals = self.images.missing
        if goals:
            have = count(sum(each.subs for each in goals), "sub", "subs")
            verb = "has" if len(self.images.missing_steps) == 1 else "have"
            yield Line("Gaps", f"{have} before the latest one {verb} no image: {goals_words(goals)}", True)

    def files(self) -> Iterator[Line]:
        images, parts = self.images, list[str]()
        if images.unusable:
            shown = images.unusable[-1]
            more = f" and {len(images.unusable) - 1} more" if len(images.unusable) > 1 else ""
            parts.append(f"not usable {name(shown.file, 40)}{more} (darkfill tally says why)")
        if images.being_written:
            parts.append(f"{images.being_written} still being written")
        if images.other_images:
            parts.append(f"{images.other_images} are no sub of this list")
        if parts:
            yield Line("Files", "; ".join(parts))
