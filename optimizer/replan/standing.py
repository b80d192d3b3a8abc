"""How a night stands at an instant of its list: which steps were done, and where mount and camera are."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.shots import ShotList, Step
from optimizer.models.targets import GoalKey
from optimizer.replan.told import Told

ARRIVES = ("slew", "flip")
ACQUIRES = ("centre", "settle", "rotate")
# Worth nothing under a closed sky; a motion, a change of filter or a dither is done all the same.
NEEDS_SKY = ("centre", "settle", "focus", "expose")
UNKNOWN = frozenset({0})  # steps pending of which nothing is known but that there are some


@dataclass(frozen=True)
class Standing:
    """A night at the instant at which a new list takes over.

    `done` are the numbers of the older list's steps that were done, those still running that are let end
    included: `let_end` has these, in order. `running` is the step under way as now comes; None: there is
    none, or nobody knows. `lost` are subs that lay in the past and do not count: the sky was closed, or
    there is no image of them.
    `as_listed`: the mount is where the older list has it, so that this could go on.
    """

    begin: Begin
    done: tuple[int, ...]
    running: Step | None
    let_end: tuple[Step, ...]
    lost: tuple[Step, ...]
    as_listed: bool


@dataclass(frozen=True)
class _Mount:
    """Mount and camera between two steps; `pending` are steps of the arrival that are still to be done."""

    target: str | None = None
    side: PierSide | None = None
    stands_since: dt.datetime | None = None
    pending: frozenset[int] = frozenset()
    filter: str | None = None
    focused: dt.datetime | None = None
    focus_due: bool = False
    due_since: dt.datetime | None = None
    run: GoalKey | None = None
    undithered: int = 0
    open_s: float = 0.0

    @classmethod
    def at(cls, begin: Begin | None) -> _Mount:
        """How a list finds mount and camera; without a beginning of its own at home, nothing known."""
        if begin is None:
            return cls()
        return cls(
            target=begin.target,
            side=begin.pier_side,
            stands_since=begin.stands_since_utc,
            pending=frozenset() if begin.acquired else UNKNOWN,
            filter=begin.filter,
            focused=begin.focused_utc,
            focus_due=begin.focus_due,
            due_since=begin.utc if begin.focus_due else None,
            undithered=begin.undithered,
            open_s=begin.open_s,
        )

    def stopped_in(self, step: Step) -> _Mount:
        """The state where a step begun is broken off: a wait has ended the run, and may stand still."""
        if step.kind != "wait" or self.target is None:
            return self
        rested = replace(self, run=None, undithered=0)
        if step.tracking or self.stands_since is not None:
            return rested
        return replace(rested, stands_since=step.start_utc, pending=UNKNOWN)

    def on_target_of(self, step: Step) -> _Mount:
        """The state in which a step can have been done at all: on its target, whatever was told of a slew."""
        there = (self.target, self.side) == (step.target, step.pier_side) and self.stands_since is None
        if there or not step.tracking or step.target is None or step.kind in ARRIVES:
            return self
        return _Mount(step.target, step.pier_side, filter=self.filter, focused=self.focused)

    def after(self, step: Step, arrival: frozenset[int], request: Request) -> _Mount:
        """The state after a step that was done; `arrival` are the steps that acquire what it arrives at."""
        kind = step.kind
        if kind == "park":
            return _Mount(filter=self.filter, focused=self.focused, focus_due=self.focus_due)
        if kind in ARRIVES:  # to centre after a slew, another filter may be put in
            asks = request.focus.on_new_target if kind == "slew" else request.mount.refocus_after_flip
            return _Mount(
                target=step.target,
                side=step.pier_side,
                pending=arrival,
                filter=None if kind == "slew" else self.filter,
                focused=self.focused,
                focus_due=asks or self.focus_due,
                due_since=step.end_utc if asks else self.due_since,
            )
        if kind in ACQUIRES:
            return replace(self, pending=self.pending - {step.step})
        if kind == "filter":
            asks = request.focus.on_filter_change
            return replace(
                self,
                filter=step.filter,
                focus_due=asks or self.focus_due,
                due_since=step.end_utc if asks else self.due_since,
                run=None,
                undithered=0,
            )
        if kind == "focus":  # inside a run the dither that belongs to it is still to come
            return replace(self, focused=step.end_utc, focus_due=False)
        if kind == "dither":
            return replace(self, undithered=0)
        if kind == "expose":
            key = step.goal_key
            return replace(
                self,
                pending=frozenset(),
                filter=step.filter,
                run=key,
                undithered=(self.undithered if self.run in (None, key) else 0) + 1,
                open_s=self.open_s + (step.exposure_s or 0.0),
            )
        return self.stopped_in(step)


def standing_of(older: ShotList, told: Told) -> Standing:
    """Find how the night of a list stands at `told.now`, from the list and what is told beside it.

    Steps that ended by now are done, but for those that needed the sky while it was told to be closed. The
    step under way is let end, unless it is a wait; a sub only if its shutter closes while the sky is open and
    nobody drops it. What arrives is let end with all that acquires the target. Where steps done are told, the
    list may be late: the step under way by its plan is taken to run only if it is among them, and a wait that
    comes next to have begun.
    """
    steps = older.steps
    done, lost = _done(steps, told)
    under_way = next((step for step in steps if step.start_utc <= told.now < step.end_utc), None)
    if under_way is not None and told.done is not None and under_way.step not in done:
        under_way = None
    if under_way is not None and under_way.step in told.not_yet:
        under_way = None
    done -= {under_way.step} if under_way else set()
    mount = _walked(older, done)
    let_end: tuple[Step, ...] = ()
    if under_way is not None and not _is_elsewhere(_after(older, mount, under_way), told):
        let_end = _let_end(steps, under_way, told)
        done |= {step.step for step in let_end}
        if let_end:
            mount = _walked(older, done)
    if not let_end and (wait := _waits(steps, done, under_way, told.now)) is not None:
        mount = mount.stopped_in(wait)
    begins = let_end[-1].end_utc if let_end else told.now
    elsewhere = _is_elsewhere(mount, told)
    if elsewhere:
        mount = _Mount(
            target=None if told.parked else told.at,
            side=None if told.parked else told.pier_side,
            pending=UNKNOWN,
            filter=mount.filter,
            focused=mount.focused,
        )
    running = None if elsewhere else under_way
    return Standing(_begin(mount, begins, told), tuple(sorted(done)), running, let_end, lost, not elsewhere)


def _waits(
    steps: Sequence[Step], done: Collection[int], under_way: Step | None, now: dt.datetime
) -> Step | None:
    """The wait that is broken off: the one under way, or what comes after the steps done of a late list."""
    after = under_way
    if after is None:
        after = next((step for step in steps if step.step == max(done, default=0) + 1), None)
    return after if after is not None and after.kind == "wait" and after.start_utc < now else None


def _done(steps: Sequence[Step], told: Told) -> tuple[set[int], tuple[Step, ...]]:
    """The numbers of the steps done by now, and the subs that are over and lost."""
    if told.done is not None:
        return set(told.done), ()
    over = [step for step in steps if step.end_utc <= told.now]
    blind = [step for step in over if step.kind in NEEDS_SKY and told.closed(*works(step))]
    blind += [step for step in over if step.step in told.missing and step not in blind]
    lost = tuple(step for step in blind if step.kind == "expose")
    return {step.step for step in over} - {step.step for step in blind} - told.not_yet, lost


def works(step: Step) -> tuple[dt.datetime, dt.datetime]:
    """When a step needs the sky: a sub while its shutter is open, all others from start to end."""
    if step.kind != "expose":
        return step.start_utc, step.end_utc
    return step.start_utc, shutter_closes(step)


def shutter_closes(step: Step) -> dt.datetime:
    """When the shutter of a sub closes, rounded up to the second; its tail runs on."""
    return step.start_utc + dt.timedelta(seconds=math.ceil(step.exposure_s or 0.0))


def _let_end(steps: Sequence[Step], under_way: Step, told: Told) -> tuple[Step, ...]:
    """The step under way with what belongs to it, as far as it is let end; empty where it is stopped."""
    if under_way.kind == "wait" or (under_way.kind in NEEDS_SKY and not _may_go_on(under_way, told)):
        return ()
    let_end = [under_way]
    if under_way.kind in (*ARRIVES, *ACQUIRES):
        for step in steps[under_way.step :]:
            if step.kind not in ACQUIRES or not _may_go_on(step, told):
                break
            let_end.append(step)
    return tuple(let_end)


def _may_go_on(step: Step, told: Told) -> bool:
    if step.kind == "expose" and told.drop_current:
        return False
    return step.target not in told.left_out and not told.closed(*works(step))


def _walked(older: ShotList, done: Collection[int]) -> _Mount:
    """Mount and camera after the steps done, in their order."""
    mount = _Mount.at(None if older.continues is None else older.continues.begin)
    for step in older.steps:
        if step.step in done:
            mount = _after(older, mount, step)
    return mount


def _after(older: ShotList, mount: _Mount, step: Step) -> _Mount:
    arrival: set[int] = set()
    if step.kind in ARRIVES:
        for after in older.steps[step.step :]:
            if after.kind not in ACQUIRES:
                break
            arrival.add(after.step)
    return mount.on_target_of(step).after(step, frozenset(arrival), older.request)


def _is_elsewhere(mount: _Mount, told: Told) -> bool:
    """Whether the mount is told to be where the list does not have it."""
    if told.parked:
        return mount.target is not None
    return told.at is not None and (told.at, told.pier_side) != (mount.target, mount.side)


def _begin(mount: _Mount, begins: dt.datetime, told: Told) -> Begin:
    focused = mount.focused if told.focused is None else told.focused
    filter_name = mount.filter if told.filter is None else told.filter
    other_filter = filter_name != mount.filter
    return Begin(
        utc=begins,
        target=mount.target,
        pier_side=mount.side,
        stands_since_utc=mount.stands_since,
        acquired=mount.target is not None and not mount.pending and mount.stands_since is None,
        filter=filter_name,
        focused_utc=focused,
        focus_due=mount.focus_due and not _focused_since(mount, told),
        undithered=0 if other_filter else mount.undithered,
        open_s=mount.open_s,
    )


def _focused_since(mount: _Mount, told: Told) -> bool:
    """Whether the autofocus told ended after what asks for one."""
    return told.focused is not None and (mount.due_since is None or told.focused >= mount.due_since)
