"""What a replan says: what it takes for granted, the one thing to do now, and what changes for each goal."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from optimizer.audit.rule import kind_words
from optimizer.models.base import FromList, Frozen
from optimizer.models.continues import Begin
from optimizer.models.shots import ShotList, Step
from optimizer.models.site import Utc
from optimizer.replan.replanned import Rest
from optimizer.replan.standing import shutter_closes
from optimizer.report.words import clock, count, name

LEAST_TOLD_WAIT_S = 60  # a shorter wait at the beginning is not told


class GoalChange(Frozen):
    """Seconds of open shutter of a goal: what the older list could still give, and what the new one gives."""

    target: str
    filter: str
    exposure_s: float
    old_s: float
    new_s: float


class Replanned(Frozen):
    """A new list for the rest of a night, and what to know before it is started.

    `assumed` says how mount and camera are taken to stand, which a person must verify; `first` is the one
    thing to do now. `changes` has an entry for each goal, in the order of the list; `old_value_s` and
    `value_s` are weighted seconds of the older list's rest and of the new list. `kept_old`: the search found
    nothing better than the older list's rest. `lost` are subs in the past that are not counted as taken.
    """

    shots: ShotList
    now_utc: Utc
    assumed: str
    first: str
    changes: Annotated[tuple[GoalChange, ...], FromList]
    old_value_s: float
    value_s: float
    kept_old: bool
    lost: int


def replanned(rest: Rest) -> Replanned:
    """Put what a rest of a night is into words and sums."""
    shots, standing = rest.shots, rest.standing
    return Replanned(
        shots=shots,
        now_utc=rest.told.now,
        assumed=_assumed(standing.begin, shots.night.time_zone),
        first=f"Now: {_first(rest)}",
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
        lost=len(standing.lost),
    )


def has_subs(shots: ShotList) -> bool:
    """Whether a list takes any sub at all."""
    return any(step.kind == "expose" for step in shots.steps)


def _assumed(begin: Begin, zone: str) -> str:
    verify = "Check that before you start this list."
    light = "filter not known" if begin.filter is None else f"filter {name(begin.filter, 12)} in"
    focused = "" if begin.focused_utc is None else f", autofocus of {clock(begin.focused_utc, zone)}"
    if begin.target is None:
        return f"Assumed: mount parked at its home, tracking off, {light}{focused}. {verify}"
    where = f"on {name(begin.target)}"
    where = f"mount {where}" if begin.pier_side is None else f"tube on pier side {begin.pier_side}, {where}"
    tracks = "tracking" if begin.stands_since_utc is None else "tracking off"
    return f"Assumed: {where}, {tracks}, {light}{focused}. {verify}"


def _first(rest: Rest) -> str:
    """The one thing to do now."""
    shots, standing, zone = rest.shots, rest.standing, rest.shots.night.time_zone
    begin = standing.begin
    starts = f"start this one at {_at(begin.utc, zone)}{_waits(shots.steps, zone)}"
    if not has_subs(shots):
        starts = "park the mount: nothing more can be scheduled tonight"
    if rest.must_leave:
        beyond = f"pier side {begin.pier_side} must not track {name(begin.target or '')} any more"
        return f"stop tracking at once ({beyond}); stop the old list and {starts}{_flips(shots.steps)}"
    running = standing.running
    if running is None or running.kind in ("wait", "park"):
        return f"stop the old list if it still runs, and {starts}"
    what = kind_words(running.kind)
    if not standing.let_end:
        return f"stop the running {what} and the old list, and {starts}"
    if running.kind == "expose":
        closes = _at(shutter_closes(running), zone)
        return f"let the running {what} end ({closes}), then stop the old list and {starts}"
    last = standing.let_end[-1]
    with_it = f" and what follows it to the end of the {kind_words(last.kind)}" if last is not running else ""
    ends = _at(last.end_utc, zone)
    return f"let the running {what}{with_it} end ({ends}), then stop the old list and {starts}"


def _at(instant: dt.datetime, zone: str) -> str:
    return clock(instant, zone, seconds=True)


def _waits(steps: tuple[Step, ...], zone: str) -> str:
    """What a list that begins with a wait does meanwhile, in words; empty where it does something at once."""
    if not steps or steps[0].kind != "wait" or steps[0].seconds < LEAST_TOLD_WAIT_S:
        return ""
    how = "tracks on" if steps[0].tracking else "stands still, tracking off,"
    return f"; it {how} until {_at(steps[0].end_utc, zone)}"


def _flips(steps: tuple[Step, ...]) -> str:
    if not steps or steps[0].kind not in ("flip", "slew"):
        return ""
    return f": it begins with the {steps[0].kind}" + (
        f" to {name(steps[0].target)}" if steps[0].target else ""
    )


def lost_words(lost: int) -> str | None:
    """What is said of subs in the past that are not counted; None where there are none."""
    if not lost:
        return None
    were = "was" if lost == 1 else "were"
    return f"{count(lost, 'sub')} that {were} taken under the closed sky told {were} not counted as in hand."
