"""How a list goes that runs late: the one law of what it still gives, and how late it may still be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.models.shots import Step

LEAVES = ("slew", "flip", "park")


@dataclass(frozen=True)
class Ran:
    """A step as it goes: from when to when, whatever the list has."""

    step: Step
    start_utc: dt.datetime
    end_utc: dt.datetime


@dataclass(frozen=True)
class LateRun:
    """How the rest of a list goes: its steps as they go, in order, and the subs that it loses."""

    ran: tuple[Ran, ...]
    lost: tuple[Step, ...]


Lasts = Callable[[Step], float]  # seconds that a step really lasts, downloads included


def slack_by_step(steps: Sequence[Step], *, by_mount: bool) -> tuple[int | None, ...]:
    """Seconds by which a list may be late as each of its steps begins and still break and lose nothing.

    Waits take up what is late; they and parks are never late, nor is a flip that the mount makes by itself
    (`by_mount`). None where no later step can be too late.
    """
    exempt = ("wait", "park", "flip") if by_mount else ("wait", "park")
    found: list[int | None] = []
    after: int | None = None
    for step in reversed(steps):
        own = None
        if step.kind not in exempt and step.latest_start_utc is not None:
            own = round((step.latest_start_utc - step.start_utc).total_seconds())
        if step.kind == "wait" and after is not None:
            after += step.seconds
        after = min((each for each in (own, after) if each is not None), default=None)
        found.append(after)
    return tuple(reversed(found))


def late_run(
    steps: Sequence[Step], at: dt.datetime, lasts: Lasts | None = None, *, by_mount: bool = False
) -> LateRun:
    """Run steps from an instant on, one after the other, no step before its time in the list.

    The first of `steps` begins at `at`, or at its own start if that is later; `lasts` tells how long each
    really lasts, None: as long as the list has it. A sub whose latest start has passed is skipped. When the
    time comes by which the mount must leave what it tracks (the latest start of the next step that leaves it,
    or the latest end of a shutter directly before that, if sooner), whatever runs with a closed shutter is
    broken off and the mount leaves, or stands still until a download is over. A visit whose arrival comes too
    late is skipped as a whole, but for a flip that waited for that download. A flip that the mount makes by
    itself (`by_mount`) is never too late, unless the mount was away from its target.
    """
    planned = [(step.start_utc, step.latest_start_utc) for step in steps]
    leave_by = [_leave_by(steps, place) for place in range(len(steps))]
    ran: list[Ran] = []
    now, place, on_target = at, 0, bool(steps) and steps[0].kind not in LEAVES
    flips_until: dt.datetime | None = None
    away = False  # whether the mount never came to a target, or left it, without having arrived at another

    def stands(step: Step) -> bool:
        return step.kind == "wait" and not step.tracking

    while place < len(steps):
        step = steps[place]
        start, latest = planned[place]
        begins, limit = max(now, start), leave_by[place]
        lasts_s = float(step.seconds) if lasts is None else lasts(step)
        length = dt.timedelta(seconds=lasts_s)
        if on_target and limit is not None and begins > limit:
            begins = max(now, limit)
            if step.kind not in LEAVES and not stands(step):
                now, place = begins, _next_leaving(steps, place)
                continue
        ends: dt.datetime | None = begins + length
        if stands(step) or step.kind == "park":
            on_target, away = False, True
            ends = max(begins, step.end_utc) if step.kind == "wait" else ends
        elif step.kind in LEAVES:
            waited = flips_until is not None and step.kind == "flip" and begins <= flips_until
            by_itself = by_mount and step.kind == "flip" and not away
            if latest is not None and begins > latest and not (waited or by_itself):
                now, place, on_target, away = begins, _next_leaving(steps, place + 1), False, True
                continue
            on_target, away = True, False
        elif step.kind == "expose":
            if not on_target or (latest is not None and begins > latest):
                place += 1
                continue
            ends = begins + max(length, dt.timedelta(seconds=step.exposure_s or 0.0))
        elif not on_target:
            ends = None
        else:
            ends = max(begins, step.end_utc) if step.kind == "wait" else ends
            if limit is not None and ends is not None and ends > limit:  # broken off
                now, place = max(begins, limit), _next_leaving(steps, place)
                continue
        if ends is not None:
            ran.append(Ran(step, begins, ends))
            now = max(now, ends)
        place += 1
        after = leave_by[min(place, len(steps) - 1)] if steps else None
        if on_target and after is not None and now > after:  # a download runs on while the mount stands
            flips_until = after + (step.end_utc - step.start_utc) if step.kind == "expose" else None
            on_target = False
    taken = {each.step.step for each in ran}
    lost = tuple(step for step in steps if step.kind == "expose" and step.step not in taken)
    return LateRun(tuple(ran), lost)


def _next_leaving(steps: Sequence[Step], place: int) -> int:
    """The next step that leaves the target: slew, flip, park, or the wait before it that stops tracking."""
    while place < len(steps):
        step = steps[place]
        if step.kind in LEAVES or (step.kind == "wait" and not step.tracking):
            return place
        place += 1
    return place


def _leave_by(steps: Sequence[Step], place: int) -> dt.datetime | None:
    """When the mount must have left what it tracks at this step; None: it never must."""
    leaving = _next_leaving(steps, place)
    if leaving == len(steps):
        return None
    latest = steps[leaving].latest_start_utc
    last = steps[leaving - 1] if leaving else None
    if last is None or last.kind != "expose" or last.latest_start_utc is None:
        return latest
    closes = last.latest_start_utc + dt.timedelta(seconds=last.exposure_s or 0.0)
    return closes if latest is None else min(latest, closes)
