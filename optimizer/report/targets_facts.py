"""The targets of a request with what is in hand of their goals, as `targets --json` prints them."""

from __future__ import annotations

from typing import Annotated, Literal

from optimizer.catalogue.lookup import also_called, catalogued
from optimizer.catalogue.objects import OwnCatalogue
from optimizer.models.base import FromList, Frozen
from optimizer.models.request import Request
from optimizer.models.targets import Goal, Target
from optimizer.words import sexagesimal


class GoalOfTarget(Frozen):
    """A goal, in subs: wanted, in hand by `done` and the tally, still left."""

    filter: str
    exposure_s: float
    gain: int | None
    offset: int | None
    binning: int
    in_set: bool
    hours: float | None
    wanted: int
    in_hand: int
    left: int


class TargetListed(Frozen):
    """A target at its ICRS place; `called` has its object by the catalogue's name too, where one has it."""

    name: str
    aliases: Annotated[tuple[str, ...], FromList]
    object: str | None
    called: str | None
    ra_deg: float
    dec_deg: float
    ra: str
    dec: str
    position_angle_deg: float
    weight: float
    floor_deg: float
    least_min: float
    sides: Literal["either", "before", "after"]
    goals: Annotated[tuple[GoalOfTarget, ...], FromList]


class TargetsReport(Frozen):
    """All targets of a request, in its order; those of a spreadsheet come last."""

    targets: Annotated[tuple[TargetListed, ...], FromList]


def targets_report(request: Request, own: OwnCatalogue | None) -> TargetsReport:
    """List the targets of a request; `own` is the user's catalogue that it names."""
    return TargetsReport(targets=tuple(_listed(request, target, own) for target in request.targets))


def _listed(request: Request, target: Target, own: OwnCatalogue | None) -> TargetListed:
    found = None if target.object is None else catalogued(target.object, own)
    return TargetListed(
        name=target.name,
        aliases=target.aliases,
        object=target.object,
        called=None if found is None or target.object is None else also_called(target.object, found),
        ra_deg=target.ra_deg,
        dec_deg=target.dec_deg,
        ra=sexagesimal(target.ra_deg / 15, "h", decimals=1),
        dec=sexagesimal(target.dec_deg, "d", signed=True),
        position_angle_deg=target.position_angle_deg,
        weight=target.weight,
        floor_deg=request.floor_deg(target),
        least_min=target.least_min,
        sides=target.sides,
        goals=tuple(map(_goal, target.goals)),
    )


def _goal(goal: Goal) -> GoalOfTarget:
    return GoalOfTarget(
        filter=goal.filter,
        exposure_s=goal.exposure_s,
        gain=goal.gain,
        offset=goal.offset,
        binning=goal.binning,
        in_set=goal.in_set,
        hours=goal.hours,
        wanted=goal.frames,
        in_hand=goal.done,
        left=goal.frames_left,
    )
