"""The views of a plan, gathered from its steps and its request alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from optimizer.models.request import Request, sha256_of
from optimizer.models.shots import AuditReport, ShotList, Step
from optimizer.models.targets import goal_key
from optimizer.views.blocks import Block, blocks_of
from optimizer.views.cautions import cautions_of
from optimizer.views.models import (
    Arrival,
    BlockView,
    GoalView,
    PlanFacts,
    PlanView,
    StepView,
    ViewTotals,
    VisitView,
)
from optimizer.views.telling import instants, is_turned, place, position_angles, within_turn
from optimizer.views.visits import ShownVisit, visits_of

ARRIVALS: dict[str, Arrival] = {"slew": "slew", "flip": "flip"}
AS_IN_THE_LIST = (
    "step", "kind", "target", "filter", "exposure_s", "gain", "offset", "binning", "pier_side", "tracking",
    "hour_angle_h", "altitude_deg", "azimuth_deg", "airmass", "moon_separation_deg", "note",
)  # fmt: skip


def view_of(shots: ShotList, audit: AuditReport | None = None) -> PlanView:
    """Gather the views of a shot list; `audit` stands for its own where it was audited again."""
    return _gathered(shots.steps, shots.request, audit or shots.audit, shots)


def view_of_steps(steps: Sequence[Step], request: Request, audit: AuditReport | None = None) -> PlanView:
    """Gather the views of bare steps, such as a CSV file holds, with the request that they are for.

    `audit` is that of these steps; None where none was made.
    """
    return _gathered(steps, request, audit, None)


def _gathered(
    steps: Sequence[Step], request: Request, audit: AuditReport | None, shots: ShotList | None
) -> PlanView:
    zone = request.site.time_zone
    gathered = visits_of(steps)
    parts = blocks_of(gathered)
    wanted = {target.name: within_turn(target.position_angle_deg) for target in request.targets}
    anew = _guide_stars(gathered, request, goes_on=shots is not None and shots.continues is not None)
    visits = tuple(
        _visit(number, visit, zone, wanted.get(visit.target), anew[number - 1], parts)
        for number, visit in enumerate(gathered, start=1)
    )
    blocks = tuple(
        _block(number, block, gathered, zone, wanted, anew, _is_tracking_off(steps, parts, number))
        for number, block in enumerate(parts, start=1)
    )
    return PlanView(
        plan=_facts(steps, request, audit, shots, visits),
        totals=_totals(steps, request, visits, blocks),
        visits=visits,
        blocks=blocks,
        steps=_steps(steps, gathered, parts, zone, wanted),
    )


def _facts(
    steps: Sequence[Step],
    request: Request,
    audit: AuditReport | None,
    shots: ShotList | None,
    visits: Sequence[VisitView],
) -> PlanFacts:
    site, mount = request.site, request.mount
    return PlanFacts(
        evening=request.night.evening.isoformat(),
        site=site.name,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
        time_zone=site.time_zone,
        mount=mount.kind,
        flip_by=mount.flip_by if mount.flips else None,
        rotator_turns=mount.flips and mount.turn_rotator_after_flip,
        **instants(
            site.time_zone,
            start=steps[0].start_utc if steps else None,
            end=steps[-1].end_utc if steps else None,
        ),
        created_utc=None if shots is None else shots.created_utc,
        request_sha256=sha256_of(request) if shots is None else shots.request_sha256,
        continues_sha256=None if shots is None or shots.continues is None else shots.continues.sha256,
        rules_checked=None if audit is None else len(audit.rules),
        violations=None if audit is None else len(audit.violations),
        least_margin_min=None if audit is None else audit.least_margin_min,
        least_slack_s=None if shots is None else shots.totals.least_slack_s,
        cautions=cautions_of(request, steps, audit, shots, visits),
    )


def _visit(
    number: int,
    visit: ShownVisit,
    zone: str,
    wanted_deg: float | None,
    anew: bool | None,
    parts: Sequence[Block],
) -> VisitView:
    first, last, subs = visit.steps[0], visit.steps[-1], visit.exposures
    own = [index for index, block in enumerate(parts, start=1) if block.visit == number]
    return VisitView(
        visit=number,
        target=visit.target,
        **place(first.ra_deg, first.dec_deg),
        **position_angles(wanted_deg, _angle_deg(visit.steps)),
        guide_star_anew=anew,
        pier_side=visit.side,
        arrival=ARRIVALS.get(first.kind, "there"),
        **instants(zone, start=first.start_utc, latest_start=first.latest_start_utc, end=last.end_utc),
        blocks=len(own),
        subs=len(subs),
        open_shutter_s=visit.open_s,
        focus_runs=visit.focus_runs,
        altitude_start_deg=subs[0].altitude_deg if subs else None,
        altitude_end_deg=subs[-1].altitude_deg if subs else None,
        first_block=own[0] if own else None,
        last_block=own[-1] if own else None,
        first_step=first.step,
        last_step=last.step,
    )


def _block(
    number: int,
    block: Block,
    gathered: Sequence[ShownVisit],
    zone: str,
    wanted: dict[str, float],
    anew: Sequence[bool | None],
    tracking_off_before: bool,
) -> BlockView:
    first, last = block.subs[0], block.subs[-1]
    before = {step.kind for step in block.before}
    opens_visit = first is gathered[block.visit - 1].exposures[0]
    target = gathered[block.visit - 1].target
    return BlockView(
        block=number,
        visit=block.visit,
        target=target,
        filter=first.filter,
        count=len(block.subs),
        exposure_s=first.exposure_s,
        gain=first.gain,
        offset=first.offset,
        binning=first.binning,
        **instants(zone, start=first.start_utc, latest_start=block.latest_start, end=last.end_utc),
        pier_side=first.pier_side,
        tracking_off_before=tracking_off_before,
        flip_before="flip" in before,
        slew_before="slew" in before,
        filter_before="filter" in before,
        focus_before="focus" in before,
        focus_within=sum(step.kind == "focus" for step in block.within),
        dithers=sum(step.kind == "dither" for step in block.within),
        open_shutter_s=_open_s(block.subs),
        **place(first.ra_deg, first.dec_deg),
        **position_angles(wanted.get(target), first.position_angle_deg),
        guide_star_anew=anew[block.visit - 1] if opens_visit else False,
        first_step=first.step,
        last_step=last.step,
    )


def _steps(
    steps: Sequence[Step],
    gathered: Sequence[ShownVisit],
    parts: Sequence[Block],
    zone: str,
    wanted: dict[str, float],
) -> tuple[StepView, ...]:
    visit_of = {id(step): number for number, visit in enumerate(gathered, start=1) for step in visit.steps}
    block_of = {id(step): number for number, block in enumerate(parts, start=1) for step in block.subs}
    return tuple(
        StepView(
            **{name: getattr(step, name) for name in AS_IN_THE_LIST},
            visit=visit_of.get(id(step)),
            block=block_of.get(id(step)),
            **instants(zone, start=step.start_utc, end=step.end_utc, latest_start=step.latest_start_utc),
            **_step_place(step),
            **position_angles(wanted.get(step.target or ""), step.position_angle_deg),
        )
        for step in steps
    )


def _step_place(step: Step) -> dict[str, Any]:
    told = place(step.ra_deg, step.dec_deg)
    return {**told, "frame": None} if step.ra_deg is None and step.dec_deg is None else told


def _totals(
    steps: Sequence[Step], request: Request, visits: Sequence[VisitView], blocks: Sequence[BlockView]
) -> ViewTotals:
    subs = [step for step in steps if step.kind == "expose"]
    by_kind: Counter[str] = Counter()
    for step in steps:
        by_kind[step.kind] += step.seconds
    return ViewTotals(
        visits=len(visits),
        blocks=len(blocks),
        subs=len(subs),
        flips=sum(step.kind == "flip" for step in steps),
        open_shutter_s=_open_s(subs),
        length_s=round((steps[-1].end_utc - steps[0].start_utc).total_seconds()) if steps else 0,
        seconds_by_kind=dict(by_kind),
        goals=_goals(subs, request),
    )


def _goals(subs: Iterable[Step], request: Request) -> tuple[GoalView, ...]:
    planned = Counter(step.goal_key for step in subs)
    goals = []
    for target, goal in request.goals():
        frames = planned[goal_key(target, goal)]
        goals.append(
            GoalView(
                target=target.name,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                gain=goal.gain,
                offset=goal.offset,
                binning=goal.binning,
                frames_wanted=goal.frames,
                frames_done=goal.done,
                frames_planned=frames,
                frames_left=max(0, goal.frames_left - frames),
                seconds_planned=frames * goal.exposure_s,
            )
        )
    return tuple(goals)


def _open_s(subs: Iterable[Step]) -> float:
    return sum((step.exposure_s or 0.0 for step in subs), 0.0)


def _is_tracking_off(steps: Sequence[Step], parts: Sequence[Block], number: int) -> bool:
    """Whether a wait with tracking off lies between this block and the one before, or the list's begin."""
    after = parts[number - 2].subs[-1].step if number > 1 else 0
    until = parts[number - 1].subs[0].step
    return any(step.kind == "wait" and step.tracking is False and after < step.step < until for step in steps)


def _guide_stars(gathered: Sequence[ShownVisit], request: Request, *, goes_on: bool) -> list[bool | None]:
    """Find for each visit whether its field is turned from that of the latest visit to its target.

    What was visited before a list that goes on with a night is not known, but for the target that it begins
    on.
    """
    latest: dict[str, float | None] = {}
    anew: list[bool | None] = []
    for visit in gathered:
        angle_deg = _angle_deg(visit.steps)
        if visit.target in latest:
            anew.append(is_turned(latest[visit.target], angle_deg))
        elif visit.by_flip:
            anew.append(not request.mount.turn_rotator_after_flip)
        else:
            anew.append(None if goes_on and visit.by_slew else False)
        latest[visit.target] = angle_deg
    return anew


def _angle_deg(steps: Iterable[Step]) -> float | None:
    """The camera's position angle in a visit: of its first sub, or of its first step that tells one."""
    told = sorted(steps, key=lambda step: step.kind != "expose")  # stable: the first sub comes first
    return next((step.position_angle_deg for step in told if step.position_angle_deg is not None), None)
