"""What the law plans for the acts in a gap."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from fractions import Fraction

from optimizer.learn.gaps import Sub
from optimizer.learn.pointing import Pointing
from optimizer.learn.rows import ActName, Held
from optimizer.models.request import Request
from optimizer.models.targets import same_exposure
from optimizer.problem.tasks import frame_s


def planned_of(request: Request, held: Held, pointing: Pointing) -> Mapping[ActName, float] | None:
    """Seconds that the request's law plans for each act in a gap; None where a pier side is not known."""
    gap, camera, mount = held.gap, request.camera, request.mount
    planned: dict[ActName, float] = {"between_subs": between_subs_s(request, gap.before)}
    if "dither" in held.acts:
        planned["dither"] = math.ceil(camera.dither_s)
    if "filter" in held.acts:
        planned["filter"] = change_s(request, gap.after.goal.filter)
    if "focus" in held.acts:
        planned["focus"] = math.ceil(request.focus.run_s)
    for act in ("slew", "flip"):
        if act not in held.acts:
            continue
        left = gap.before.closes_utc + dt.timedelta(seconds=planned["between_subs"])
        motion_s = pointing.motion_s(gap, left)
        if motion_s is None:
            return None
        turn_s = 0
        if mount.turn_rotator_after_flip and pointing.sides_differ(gap):
            turn_s = math.ceil(180 / mount.rotator_deg_s)
        planned["flip" if act == "flip" else "slew"] = (
            motion_s + math.ceil(mount.centre_s) + math.ceil(mount.settle_s) + turn_s
        )
    return planned


def between_subs_s(request: Request, sub: Sub) -> float:
    """Seconds from the closing of a sub's shutter to the end of its row."""
    goal = sub.goal
    if not same_exposure(goal.exposure_s, sub.exposure_s):
        # a goal in hours takes subs of any length
        goal = goal.model_copy(update={"exposure_s": round(sub.exposure_s, 1)})
    return float(frame_s(goal, request.camera) - Fraction(repr(goal.exposure_s)))


def change_s(request: Request, filter_name: str) -> int:
    """Whole seconds that a change to a filter is planned to take."""
    return math.ceil(request.filter_named(filter_name).change_s)


def unseen_s(request: Request, act: ActName, filter_name: str | None) -> float | None:
    """What the request has for an act of which there is no gap; None where that depends on the axes."""
    if act == "between_subs":
        return request.camera.download_s + request.camera.overhead_s
    if act == "dither":
        return math.ceil(request.camera.dither_s)
    if act == "focus":
        return math.ceil(request.focus.run_s)
    if act == "filter":
        names = [filter_name] if filter_name else [each.name for each in request.filters]
        lengths = {change_s(request, name) for name in names}
        return lengths.pop() if len(lengths) == 1 else None
    return None
