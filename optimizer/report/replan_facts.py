"""What a replan says: what it takes for granted, the one thing to do now, and what changes for each goal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Annotated

from optimizer.audit.rule import kind_words
from optimizer.models.base import FromList, Frozen
from optimizer.models.shots import ShotList, Step
from optimizer.models.site import Utc
from optimizer.replan.replanned import Rest
from optimizer.replan.standing import shutter_closes
from optimizer.report.going_on import assumed_words
from optimizer.report.words import clock, count, name, zone_words

LEAST_TOLD_WAIT_S = 60  # a shorter wait at the beginning is not told
LEAVES = ("flip", "slew")
LEAVES_SOON_S = 600  # a flip or slew that must begin within this is told with the time


class GoalChange(Frozen):
    """Seconds of open shutter of a goal: what the older list could still give, and what the new one gives."""

    target: str
    filter: str
    exposure_s: float
    old_s: float
    new_s: float


class Replanned(Frozen):
    """A new list for the rest of a night, and what to know before it is started.

    `assumed` says how the mount is taken to stand, which a person must verify; `first` is the one thing to do
    now, and `notes` what to know besides. `changes` has an entry for each goal, in the order of the list;
    `old_value_s` and `value_s` are weighted seconds of the older list's rest and of the new list. `kept_old`:
    the search found nothing better than the older list's rest.
    """

    shots: ShotList
    now_utc: Utc
    assumed: str
    first: str
    notes: Annotated[tuple[str, ...], FromList]
    changes: Annotated[tuple[GoalChange, ...], FromList]
    old_value_s: float
    value_s: float
    kept_old: bool


def replanned(rest: Rest) -> Replanned:
    """Put what a rest of a night is into words and sums."""
    shots, standing = rest.shots, rest.standing
    return Replanned(
        shots=shots,
        now_utc=rest.told.now,
        assumed=assumed_words(standing.begin, shots.night.time_zone, starts=has_subs(shots)),
        first=f"Now: {_first(rest)}.",
        notes=tuple(_notes(rest)),
        changes=tuple(
            GoalChange(
                target=goal.target,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                old_s=old_s,
                new_s=goal.seconds_planned,
            )
            for goal, old_s in zip(shots.totals.goals, rest.old_open_s, strict=True)
        ),
        old_value_s=rest.old_value_s,
        value_s=shots.proof.objective,
        kept_old=rest.kept,
    )


def has_subs(shots: ShotList) -> bool:
    """Whether a list takes any sub at all."""
    return any(step.kind == "expose" for step in shots.steps)


def _first(rest: Rest) -> str:
    """The one thing to do now."""
    shots, standing, zone = rest.shots, rest.standing, rest.shots.night.time_zone
    begin, running = standing.begin, standing.running
    then = f"start this one at {_at(begin.utc, zone)}{_latest(rest)}"
    if not has_subs(shots):
        rest_it = "leave the mount parked" if begin.target is None else "park the mount"
        then = f"{rest_it}: nothing more can be scheduled tonight"
    if rest.must_leave and _past_contact(shots):
        go_on = "Start this list only if nothing touches; else free" if has_subs(shots) else "Free"
        again = ", and replan with --parked" if has_subs(shots) else ""
        return (
            "stop tracking at once, stop the old list, and look at the mount: by contact_min it is past "
            f"contact on pier side {begin.pier_side}. {go_on} and park the mount by hand{again}"
        )
    if rest.must_leave:
        beyond = f"pier side {begin.pier_side} must not track {name(begin.target or '')} now"
        return f"stop tracking at once, for {beyond}; stop the old list and {then}"
    if running is None or running.kind in ("wait", "park"):
        return f"stop the old list if it still runs, and {then}"
    what = kind_words(running.kind)
    if not standing.let_end:
        return f"stop the running {what} and the old list, and {then}"
    if running.kind == "expose":
        closes = _at(shutter_closes(running), zone)
        return f"let the running sub end ({closes}), then stop the old list and {then}"
    last = standing.let_end[-1]
    with_it = f" and go on to the end of the {kind_words(last.kind)}" if last is not running else ""
    return (
        f"let the running {what} end{with_it} ({_at(last.end_utc, zone)}), then stop the old list and {then}"
    )


def _latest(rest: Rest) -> str:
    """By when a list must be started that soon has to take the tube off its pier side; empty for others."""
    begin, first = rest.standing.begin, rest.shots.steps[0] if rest.shots.steps else None
    tracks = begin.target is not None and begin.stands_since_utc is None
    if rest.must_leave or not tracks or first is None or first.kind not in LEAVES:
        return ""
    latest = first.latest_start_utc
    if latest is None or (latest - begin.utc).total_seconds() > LEAVES_SOON_S:
        return ""
    what = f"the {kind_words(first.kind)} {'of' if first.kind == 'flip' else 'to'} {name(first.target or '')}"
    return f", at the latest at {_at(latest, rest.shots.night.time_zone)}, for it begins with {what}"


def _past_contact(shots: ShotList) -> bool:
    """Whether the tube is past contact as the list begins; no list ever brings it there."""
    margin = shots.audit_report.least_margin_min
    return margin is not None and margin < 0


def _notes(rest: Rest) -> Iterator[str]:
    """What to know besides: the light path, how the new list begins, what is not counted."""
    shots, begin, zone = rest.shots, rest.standing.begin, rest.shots.night.time_zone
    light = "not known" if begin.filter is None else name(begin.filter, 12)
    focused = "not known" if begin.focused_utc is None else f"ended {clock(begin.focused_utc, zone)}"
    times = zone_words(begin.utc, begin.utc, zone)
    yield f"Also assumed: filter {light}, latest autofocus {focused}. Times are local: {times}."
    if has_subs(shots) and (begins := _begins(shots.steps[0], zone, pressing=rest.must_leave)) is not None:
        yield begins
    if lost := len(rest.standing.lost):
        were = "was" if lost == 1 else "were"
        why = (
            "that fell into a span told to be lost" if not rest.told.missing else "lost, or without an image,"
        )
        yield f"{count(lost, 'sub')} {why} {were} not counted as in hand."
        if rest.older.request.tally is not None and not rest.told.missing:
            yield "The next tally counts their files, where stored, unless it is told to --reject them."
    if rest.told.not_counted is not None:
        yield rest.told.not_counted


def _begins(first: Step, zone: str, *, pressing: bool) -> str | None:
    """How the new list begins, where that matters: by a wait, or by leaving a pier side that must be left."""
    if first.kind == "wait" and (pressing or first.seconds >= LEAST_TOLD_WAIT_S):
        how = "tracks on" if first.tracking else "stands still, tracking off,"
        return f"The new list begins with a wait: the mount {how} until {_at(first.end_utc, zone)}."
    if pressing and first.kind == "flip":
        return f"The new list begins with the flip of {name(first.target or '')}."
    return f"The new list begins with the slew to {name(first.target or '')}." if pressing else None


def _at(instant: dt.datetime, zone: str) -> str:
    return clock(instant, zone, seconds=True)
