"""A night at an instant as data: what the list has for it, what the images say, what can be done."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Annotated

from optimizer.follow.moment import FlipBy, Moment, Phase, moment
from optimizer.follow.replanning import plain_arguments, replan_arguments
from optimizer.follow.seen import Seen
from optimizer.models.base import FromList, Frozen
from optimizer.models.shots import ShotList, Step
from optimizer.models.site import Date, Utc
from optimizer.words import safe


class GoalLoss(Frozen):
    """Subs of a goal, and seconds of open shutter in them."""

    target: str
    filter: str
    exposure_s: float
    subs: int
    open_s: float


class FollowedPlan(Frozen):
    """What the list has for the instant; where the mount really is nobody has asked.

    Steps are told by number. `next_step` is the next one of another kind or goal, dithers passed over;
    `flip_step` the next flip, and `flip_by` who makes it. `slack_s`: by how many seconds the list may be late
    and break and lose nothing, None where no later step can be too late.
    """

    phase: Phase
    begins_utc: Utc | None
    ends_utc: Utc | None
    running_step: int | None
    running_ends_utc: Utc | None
    next_step: int | None
    next_utc: Utc | None
    flip_by: FlipBy
    flip_step: int | None
    flip_utc: Utc | None
    flip_latest_utc: Utc | None
    slack_s: int | None


class FlipDanger(Frozen):
    """A flip that the list comes to later than its latest start, unless subs before it are skipped."""

    step: int
    begins_utc: Utc
    latest_utc: Utc


class UnusableFile(Frozen):
    """A file that cannot be counted, and why."""

    file: str
    reason: str


class FollowedImages(Frozen):
    """What the images say; steps are told by number.

    `trouble` says why the folder cannot be read just now; the rest is then as it was last known. `frames` are
    all images that can be used, of whatever. `late_s` is how late the list runs, by the latest image; where
    the image of `overdue_step` should have come at `due_utc` and has not, it is at least so late
    (`late_at_least`), unless it was skipped or its file is lost. `clock_ahead_s` is by how much later than
    now the latest image ends by its header, where that is more than half a minute: the clocks differ then, or
    the header has local times, and all that is said of lateness, losses and flips is wrong by that.
    `late_since_step` is the first sub of this lateness; `jump_s` of it came at once before `jump_step`, if
    that was half a minute or more. `missing_steps` are subs before the latest one that have no image.
    `running_step` is the sub taken to run. `flip_step` is the next flip, `flip_expected_utc` when it comes if
    the list goes on so late; None where it is past or the mount makes it by itself. `lost` is what the rest
    loses, if it goes as planned from here on; `may_be_later_s` how much later it may still run without
    breaking or losing anything more, None where no later step can be too late. `other_images` began since the
    list has and are no sub of it.
    """

    folder: str
    trouble: str | None
    frames: int
    subs_seen: int
    subs_over: int
    latest_step: int | None
    latest_utc: Utc | None
    late_s: float
    clock_ahead_s: float | None
    late_at_least: bool
    late_since_step: int | None
    jump_step: int | None
    jump_s: float | None
    no_image_since_utc: Utc | None
    overdue_step: int | None
    due_utc: Utc | None
    missing_steps: Annotated[tuple[int, ...], FromList]
    missing: Annotated[tuple[GoalLoss, ...], FromList]
    running_step: int | None
    running_ends_utc: Utc | None
    lost_steps: Annotated[tuple[int, ...], FromList]
    lost: Annotated[tuple[GoalLoss, ...], FromList]
    flip_step: int | None
    flip_expected_utc: Utc | None
    flip_too_late: FlipDanger | None
    may_be_later_s: int | None
    other_images: int
    unusable: Annotated[tuple[UnusableFile, ...], FromList]
    being_written: int


class Followed(Frozen):
    """A night at an instant.

    `shots` is the list that is followed, as its path was given or found, `goes_on_with` the one that was
    named where this is a newer one, `trouble` why the list's folder cannot be read just now, `passed_over`
    the lists in it that cannot be read, each with the reason, `page_trouble` why the page that is served is
    an older one. `replan` are the words of the command that plans the rest of the night anew, None where the
    list has no rest.
    """

    shots: str
    goes_on_with: str | None
    trouble: str | None
    passed_over: Annotated[tuple[str, ...], FromList]
    page_trouble: str | None
    evening: Date
    time_zone: str
    now_utc: Utc
    plan: FollowedPlan
    images: FollowedImages | None
    replan: Annotated[tuple[str, ...], FromList] | None

    @property
    def calls_for_replan(self) -> bool:
        """Whether the images show that something is not as planned."""
        images = self.images
        if images is None or images.clock_ahead_s is not None:
            return False
        return self.warns or bool(images.missing)

    @property
    def warns(self) -> bool:
        """Whether the images show that what is still to come will not go as planned."""
        images = self.images
        if images is None:
            return False
        late = images.late_since_step is not None or images.late_at_least
        return late or bool(images.lost or images.flip_too_late)


def followed(
    shots: ShotList,
    now: dt.datetime,
    *,
    name: str,
    named: str | None = None,
    trouble: str | None = None,
    passed_over: tuple[str, ...] = (),
    page_trouble: str | None = None,
    told: Seen | None = None,
    folder: str = "",
    by_clock: bool = True,
) -> Followed:
    """Gather what a list and its images say for an instant.

    `name` is the path of the list, `named` that of an older one where a person named that. `told` is what the
    images in `folder` say, None where none is looked at. `by_clock`: the instant is now; otherwise the
    command in `replan` says which it is.
    """
    by_plan = moment(shots, now)
    return Followed(
        shots=name,
        goes_on_with=named,
        trouble=trouble,
        passed_over=passed_over,
        page_trouble=page_trouble,
        evening=shots.night.evening,
        time_zone=shots.night.time_zone,
        now_utc=by_plan.now_utc,
        plan=_plan(by_plan),
        images=None if told is None else _images(told, folder),
        replan=_replan(shots, by_plan, told, name, folder, by_clock=by_clock),
    )


def losses(steps: Sequence[Step]) -> tuple[GoalLoss, ...]:
    """Subs gathered by goal, in the order of the list."""
    goals: dict[tuple[str, str, float], list[Step]] = {}
    for step in steps:
        goals.setdefault((step.target or "", step.filter or "", step.exposure_s or 0.0), []).append(step)
    return tuple(
        GoalLoss(target=key[0], filter=key[1], exposure_s=key[2], subs=len(subs), open_s=len(subs) * key[2])
        for key, subs in goals.items()
    )


def _replan(
    shots: ShotList, by_plan: Moment, told: Seen | None, name: str, folder: str, *, by_clock: bool
) -> tuple[str, ...] | None:
    if told is not None:
        gone = set(told.done)
        if by_plan.phase == "after":  # before that a new plan may find other work than the subs that are lost
            gone |= {step.step for step in told.lost}
        if not any(step.kind == "expose" and step.step not in gone for step in told.rest):
            return None
        return replan_arguments(shots, told, name, folder, by_clock=by_clock)
    if by_plan.phase not in ("before", "during"):
        return None
    return plain_arguments(shots, name, None if by_clock else by_plan.now_utc)


def _plan(by_plan: Moment) -> FollowedPlan:
    running, coming, flip = by_plan.running, by_plan.next, by_plan.flip
    return FollowedPlan(
        phase=by_plan.phase,
        begins_utc=by_plan.begins_utc,
        ends_utc=by_plan.ends_utc,
        running_step=_number(running),
        running_ends_utc=None if running is None else running.end_utc,
        next_step=_number(coming),
        next_utc=None if coming is None else coming.start_utc,
        flip_by=by_plan.flip_by,
        flip_step=_number(flip),
        flip_utc=None if flip is None else flip.start_utc,
        flip_latest_utc=None if flip is None or by_plan.flip_by == "mount" else flip.latest_start_utc,
        slack_s=by_plan.slack_s,
    )


def _images(told: Seen, folder: str) -> FollowedImages:
    latest, overdue, coming, flip = told.latest, told.overdue, told.coming_flip, told.flip
    return FollowedImages(
        folder=folder,
        trouble=told.images.trouble,
        frames=len(told.images.frames),
        subs_seen=len(told.taken),
        subs_over=told.over,
        latest_step=None if latest is None else latest.step.step,
        latest_utc=None if latest is None else _whole(latest.frame.taken_utc),
        late_s=_tenths(told.late_s),
        clock_ahead_s=None if told.ahead_s is None else _tenths(told.ahead_s),
        late_at_least=overdue is not None,
        late_since_step=_number(told.since),
        jump_step=None if told.jump is None else told.jump.step.step,
        jump_s=None if told.jump is None else _tenths(told.jump.seconds),
        no_image_since_utc=None if overdue is None else _whole(overdue.since_utc),
        overdue_step=None if overdue is None else overdue.step.step,
        due_utc=None if overdue is None else _whole(overdue.due_utc),
        missing_steps=tuple(step.step for step in told.missing),
        missing=losses(told.missing),
        running_step=_number(told.running),
        running_ends_utc=_whole(told.running_ends_utc),
        lost_steps=tuple(step.step for step in told.lost),
        lost=losses(told.lost),
        flip_step=None if coming is None else coming.step.step,
        flip_expected_utc=None if coming is None else _sure(coming.begins_utc),
        flip_too_late=None
        if flip is None
        else FlipDanger(
            step=flip.step.step, begins_utc=_sure(flip.begins_utc), latest_utc=_sure(flip.latest_utc)
        ),
        may_be_later_s=told.may_s,
        other_images=told.others,
        unusable=tuple(
            UnusableFile(file=safe(each.path.name), reason=each.reason) for each in told.images.damaged
        ),
        being_written=len(told.images.being_written),
    )


def _tenths(seconds: float) -> float:
    """Seconds cut to tenths, so that no more is said than is so."""
    return math.floor(10 * seconds) / 10


def _number(step: Step | None) -> int | None:
    return None if step is None else step.step


def _whole(instant: dt.datetime | None) -> dt.datetime | None:
    return None if instant is None else _sure(instant)


def _sure(instant: dt.datetime) -> dt.datetime:
    """The nearest whole second: a camera's clock tells fractions."""
    return (instant + dt.timedelta(microseconds=500_000)).replace(microsecond=0)
