"""Lists cut in two: the steps before a cut, and the rest as a list that goes on from there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from optimizer.audit.scene import Scene
from optimizer.audit.standing import begin_after as stands_after
from optimizer.models.continues import Begin, Continues
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from tests.support.hand_laid.mutations import changed
from tests.support.hand_laid.night_builder import NightBuilder

SHA = "5e" * 32


def begin_after(request: Request, steps: Sequence[Step], k: int, begin: Begin | None = None) -> Begin:
    """How mount and camera stand as step `k` starts, read from the steps before it by the audit's own route.

    `begin` is where these themselves go on with a night.
    """
    begins = None if begin is None else {0: begin}
    scene = Scene.of(request, steps[: k - 1], own_list=False, begins=begins)
    return stands_after(scene, scene.clock.seconds(steps[k - 1].start_utc))


def going_on(begin: Begin, done: Iterable[int] = (), *, told: bool = False) -> Continues:
    return Continues(sha256=SHA, now_utc=begin.utc, steps_done=tuple(done), begin=begin, told=told)


def renumbered(steps: Iterable[Step]) -> tuple[Step, ...]:
    return tuple(step.model_copy(update={"step": n}) for n, step in enumerate(steps, start=1))


def rest_of(
    request: Request, steps: Sequence[Step], k: int, begin: Begin | None = None
) -> tuple[tuple[Step, ...], Continues]:
    """The steps from `k` on, numbered anew, and where they begin."""
    begin = begin_after(request, steps, k, begin)
    return renumbered(steps[k - 1 :]), going_on(begin, range(1, k))


def counted(request: Request, done: Iterable[Step]) -> Request:
    """A request with the exposures of these steps in hand."""
    for step in done:
        if step.kind != "expose":
            continue
        t, g = next(
            (t, g)
            for t, target in enumerate(request.targets)
            for g, goal in enumerate(target.goals)
            if (target.name, goal.filter, goal.exposure_s, goal.gain, goal.offset, goal.binning)
            == (step.target, step.filter, step.exposure_s, step.gain, step.offset, step.binning or 1)
            and goal.frames_left
        )
        request = changed(request, f"targets.{t}.goals.{g}.done", request.targets[t].goals[g].done + 1)
    return request


def cut(shots: ShotList, k: int, **begin: Any) -> ShotList:
    """The rest of a list from step `k` on as a list of its own: its request counts what was done.

    It begins as the steps before it say, but for what `begin` says. Totals and proof stay those of the whole
    list: nothing here asks them.
    """
    before = None if shots.continues is None else shots.continues.begin
    steps, continues = rest_of(shots.request, shots.steps, k, before)
    request = counted(shots.request, shots.steps[: k - 1])
    night = request.night
    origin = dt.datetime.combine(night.evening, dt.time(0), tzinfo=dt.UTC)
    blocked = (*night.blocked, (origin, continues.begin.utc))
    request = request.model_copy(update={"night": night.model_copy(update={"blocked": blocked})})
    continues = continues.model_copy(update={"begin": continues.begin.model_copy(update=begin)})
    return shots.model_copy(update={"request": request, "steps": steps, "continues": continues})


class Begun(NamedTuple):
    """A request, steps that go on with a night, and where they begin."""

    request: Request
    steps: tuple[Step, ...]
    continues: Continues


def standing_at(
    request: Request,
    start: dt.datetime,
    target: str = "Cradle",
    side: str | None = "west",
    *,
    stood: int = 0,
) -> NightBuilder:
    """A builder whose mount is on a target already, with L in the light path, and has stood so many seconds."""
    builder = NightBuilder(request, start)
    builder.target, builder.side, builder.filter = target, side, "L"
    builder.tracked_until = start - dt.timedelta(seconds=stood)
    return builder


def on_target(builder: NightBuilder, **facts: Any) -> Begin:
    """Where a builder's mount is now, acquired and in focus since a minute, but for what `facts` say."""
    known: dict[str, Any] = {
        "utc": builder.now,
        "target": builder.target,
        "pier_side": builder.side,
        "acquired": True,
        "filter": builder.filter,
        "focused_utc": builder.now - dt.timedelta(minutes=1),
    }
    return Begin(**{**known, **facts})
