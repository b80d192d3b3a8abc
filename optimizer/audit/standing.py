"""How mount and camera stand after steps that were done, and whether a list begins like that."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from optimizer.audit.replay import AuditedVisit
from optimizer.audit.rows import SIDE_NAMES, SIDES, Row
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import whole_seconds
from optimizer.models.continues import Begin

SIDE_OF = {number: side for side, number in SIDES.items()}


def begin_after(scene: Scene, second: int) -> Begin:
    """How mount and camera stand at `second` of the night, after all rows of the scene.

    Read from the rows alone, and from where the first of them began.
    """
    utc = scene.clock.instant(second)
    if not scene.rows:
        return Begin(utc=utc) if scene.start is None else scene.start.begin.model_copy(update={"utc": utc})
    visits = scene.replay.visits
    visit = visits[-1] if visits else None
    parked = visit is None or scene.rows[-1].kind == "park"
    home = _camera(scene, utc)
    if visit is None or parked:
        return home
    stands = scene.rows[-1].idle_wait
    target = scene.target(visit.target)
    return home.model_copy(
        update={
            "target": None if target is None else target.name,
            "pier_side": SIDE_OF[visit.side],
            "stands_since_utc": scene.clock.instant(visit.end) if stands else None,
            "acquired": not stands and _is_acquired(scene, visit),
            "undithered": 0 if stands else _undithered(visit),
            "open_s": _open_s(visit),
        }
    )


def _camera(scene: Scene, utc: dt.datetime) -> Begin:
    """A parked mount, with the filter in the light path, the latest autofocus, and whether one is due."""
    request, start = scene.request, scene.start
    current = None if start is None else start.begin.filter
    focused = None if start is None else start.focused
    due = start is not None and start.begin.focus_due
    for row in scene.rows:
        if row.kind == "slew":
            current, due = None, due or request.focus.on_new_target
        elif row.kind == "flip":
            due = due or request.mount.refocus_after_flip
        elif row.kind == "filter":
            current, due = row.step.filter, due or request.focus.on_filter_change
        elif row.kind == "focus":
            focused, due = row.end, False
        elif row.kind == "expose":
            current, due = row.step.filter, False
    instant = None if focused is None else scene.clock.instant(focused)
    return Begin(utc=utc, filter=current, focused_utc=instant, focus_due=due)


def _is_acquired(scene: Scene, visit: AuditedVisit) -> bool:
    """Whether subs may go on: all that acquires the target was done, or subs were taken already."""
    if visit.exposures or (visit.start is not None and visit.start.begin.acquired):
        return True
    mount, before = scene.request.mount, visit.before
    turns = mount.turn_rotator_after_flip and before is not None and before.side != visit.side
    due = {
        kind
        for kind, is_due in (
            ("centre", whole_seconds(mount.centre_s) > 0),
            ("settle", whole_seconds(mount.settle_s) > 0),
            ("rotate", turns and visit.arrival is not None),
        )
        if is_due
    }
    return due <= {row.kind for row in visit.rows}


def _undithered(visit: AuditedVisit) -> int:
    """Exposures since the latest dither of the run that is going on; 0 where none is."""
    count = 0 if visit.start is None else visit.start.begin.undithered
    latest: Row | None = None
    for row in visit.rows:
        if row.gap or row.kind == "focus":
            continue
        if row.kind == "expose":
            other = latest is not None and latest.goal_key != row.goal_key
            count, latest = (0 if other else count) + 1, row
        elif row.kind == "dither":
            count = 0
        else:
            count, latest = 0, None
    return count


def _open_s(visit: AuditedVisit) -> float:
    """Seconds of open shutter in a visit, each exposure rounded up as the law counts it."""
    before_s = 0.0 if visit.start is None else visit.start.begin.open_s
    return before_s + sum(row.works_until - row.start for row in visit.exposures)


def differences(done: Begin, begin: Begin, frames: int, *, told: bool) -> Iterator[tuple[float, str, str]]:
    """Where `begin` says something else than the steps done do: by how much, its unit and a sentence.

    A person may have `told` where the mount is, the filter and the latest autofocus: these are not held
    against the steps then. `begin` may say less, such as that a target is not acquired. `frames` are the
    exposures done, whose parts of a second `open_s` may hold or round up.
    """
    here = (done.target, done.pier_side, done.stands_since_utc)
    same_place = here == (begin.target, begin.pier_side, begin.stands_since_utc)
    if not told:
        if not same_place:
            yield (
                1,
                "places",
                f"begin says that the mount {_place(begin)}; by the steps done it {_place(done)}",
            )
        elif begin.acquired and not done.acquired:
            yield 1, "facts", "begin says that the target is acquired; by the steps done it is not"
        if done.filter != begin.filter:
            names = [each or "no known filter" for each in (begin.filter, done.filter)]
            yield 1, "filters", f"begin says {names[0]} is set; by the steps done it is {names[1]}"
        if done.focused_utc != begin.focused_utc:
            ends = (begin.focused_utc, done.focused_utc)
            texts = [f"at {each:%H:%M:%S} UTC" if each else "never" for each in ends]
            yield (
                _apart_s(begin, done),
                "s",
                f"begin says that the latest autofocus ended {texts[0]}; by the steps done {texts[1]}",
            )
        if done.focus_due and not begin.focus_due:
            yield 1, "runs", "an autofocus is due by the steps done, which begin does not say"
    if not same_place or begin.target is None or (told and done.filter != begin.filter):
        return
    off = abs(done.undithered - begin.undithered)
    if off and begin.stands_since_utc is None:
        yield (
            off,
            "subs",
            f"begin says {begin.undithered} subs since the latest dither; by the steps done it is "
            f"{done.undithered}",
        )
    off_s = abs(done.open_s - begin.open_s)
    if off_s > frames:
        yield (
            off_s,
            "s",
            f"begin says {begin.open_s:g} s of open shutter in the visit; by the steps done it is "
            f"{done.open_s:g} s",
        )


def _place(begin: Begin) -> str:
    if begin.target is None:
        return "is parked"
    side = f" on {SIDE_NAMES[SIDES[begin.pier_side]]}" if begin.pier_side else ""
    since = begin.stands_since_utc
    return f"{'tracks' if since is None else f'stands since {since:%H:%M:%S} UTC on'} {begin.target}{side}"


def _apart_s(one: Begin, other: Begin) -> float:
    """Seconds between two ends of autofocus; 1 where one of them is not known."""
    if one.focused_utc is None or other.focused_utc is None:
        return 1
    return abs((one.focused_utc - other.focused_utc).total_seconds())
