"""Visits in time -> the rows of the shot list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimizer.models.request import Request
from optimizer.models.shots import Step, StepKind
from optimizer.mount.axes import HOME, slew_s
from optimizer.mount.sides import position_angle_deg
from optimizer.mount.zones import times_within, zone_s
from optimizer.packing.schedule import Act, ScheduledVisit
from optimizer.problem import Problem, Slot
from optimizer.problem.start import STANDING
from optimizer.sky.airmass import airmass
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import SPAN_S
from optimizer.sky.windows import SkyWindows

ANGLE_DECIMALS, HOUR_DECIMALS = 4, 6
BEGIN_NOTE = "the mount's own limits must be set: this list plans, it does not guard"
STANDS_STILL = "tracking off"
NOTES = {
    "flip": "the mount goes from pier side west to east: keep clear",
    "park": "to home: telescope at the pole, counterweight down, tracking off",
}


@dataclass(frozen=True)
class _Row:
    """A step before it has numbers from the sky."""

    kind: StepKind
    start: int
    end: int
    latest: int | None
    slot: Slot | None
    task: int | None
    tracking: bool
    note: str | None


def build_steps(
    request: Request, sky: NightSky, windows: SkyWindows, problem: Problem, visits: Sequence[ScheduledVisit]
) -> tuple[Step, ...]:
    """Contiguous steps from the first slew to park; none where nothing is planned.

    Where the plan begins within a night, they begin with it: by a wait, if nothing is done at once. Where
    the mount tracks then and nothing is planned, it is parked.
    """
    rows: list[_Row] = []
    stands = _standing(problem)
    for number, visit in enumerate(visits):
        before = visits[number - 1] if number else stands
        rows.extend(_rows_of(request, windows, problem, before, visit))
    if visits and problem.start.is_begun and rows[0].start > problem.start.at_s:
        rows.insert(0, _wait_at_home(problem, rows[0].start))
    last = visits[-1] if visits else stands
    if last is not None:
        rows.append(_park(request, windows, problem, last))
        note = rows[0].note
        rows[0] = replace(rows[0], note=BEGIN_NOTE if note is None else f"{note}; {BEGIN_NOTE}")
    positions = _positions(sky, windows, rows)
    return tuple(
        _step(request, sky, problem, number, row, position)
        for number, (row, position) in enumerate(zip(rows, positions, strict=True), start=1)
    )


def _standing(problem: Problem) -> ScheduledVisit | None:
    """What is tracked as the plan begins, as a visit that is over then; None where the mount is at home."""
    slot, at_s = problem.start.slot, problem.start.at_s
    return None if slot is None else ScheduledVisit(slot, (Act("wait", at_s, at_s, at_s),))


def _stopped_by(problem: Problem, visit: ScheduledVisit) -> int:
    """When the mount stopped tracking what it leaves after a visit."""
    return problem.start.left_s if visit.slot.index == STANDING else visit.free


def _wait_at_home(problem: Problem, until: int) -> _Row:
    return _Row(
        kind="wait",
        start=problem.start.at_s,
        end=until,
        latest=None,
        slot=None,
        task=None,
        tracking=False,
        note=STANDS_STILL,
    )


def _rows_of(
    request: Request,
    windows: SkyWindows,
    problem: Problem,
    before: ScheduledVisit | None,
    visit: ScheduledVisit,
) -> list[_Row]:
    slot = visit.slot
    stays = before is not None and problem.stays(before.slot, slot)
    leave_by = None if before is None or stays else _leave_by(request, windows, problem, before)
    arrive_by = leave_by  # last start of the slew or flip, for the sake of what is tracked until then
    rows = []
    if before is not None and problem.flips_by_itself(before.slot, slot):
        leave_by = arrive_by = visit.depart  # the mount does it by itself, and no later
    if before is not None and not stays and visit.depart > before.free:
        tracked = problem.tracks_to_flip(before.slot, slot)
        rows.append(_wait_between(problem, before, visit, leave_by, tracked=tracked))
        flips_in_time = visit.acts[0].kind == "flip" and leave_by is not None and visit.depart <= leave_by
        if not (tracked or flips_in_time):
            arrive_by = None  # the mount stands still, so nothing presses any more
    of_flip = visit.acts[0].kind == "flip"  # until its first exposure: what belongs to it may not wait
    for act in visit.acts:
        of_flip = of_flip and act.kind != "expose"
        latest = _latest_start(problem, slot, act, of_flip=of_flip)
        if act is visit.acts[0] and arrive_by is not None:
            latest = min(latest, arrive_by)
        note = "until the window opens" if act.kind == "wait" else NOTES.get(act.kind)
        rows.append(_Row(act.kind, act.start, act.end, max(latest, act.start), slot, act.task, True, note))
    return rows


def _wait_between(
    problem: Problem, before: ScheduledVisit, visit: ScheduledVisit, leave_by: int | None, *, tracked: bool
) -> _Row:
    """The wait before a slew or flip, with the instant by which the mount must have stopped tracking."""
    note = STANDS_STILL
    if tracked:
        by_itself = problem.flips_by_itself(before.slot, visit.slot)
        note = "the mount tracks on until it flips by itself" if by_itself else "tracks on until the flip"
    tracked_s = visit.depart - before.free if tracked else 0
    if tracked and leave_by is not None:
        leave_by = min(leave_by, before.slot.stretch[1])
    return _Row(
        kind="wait",
        start=before.free,
        end=visit.depart,
        latest=None if leave_by is None else max(leave_by - tracked_s, before.free),
        slot=before.slot if tracked else None,
        task=None,
        tracking=tracked,
        note=note,
    )


def _latest_start(problem: Problem, slot: Slot, act: Act, *, of_flip: bool) -> int:
    """Last start at which the act by itself still keeps window, zone and quiet time.

    `of_flip`: it belongs to a flip, whose focus run may leave the target in the quiet time.
    """
    length_s = act.end - act.start
    if act.kind == "expose" and act.task is not None:
        length_s = problem.tasks[act.task].shutter_s
    latest = slot.ends_by(act.ends_by, act.task if act.kind == "expose" else None) - length_s
    leaves = act.kind == "focus" and problem.rules.focus_leaves_target and not of_flip
    quiet_from = slot.quiet_from()
    if (act.kind == "slew" or leaves) and quiet_from is not None and act.end <= quiet_from:
        latest = min(latest, quiet_from - length_s)
    return latest


def _leave_by(request: Request, windows: SkyWindows, problem: Problem, visit: ScheduledVisit) -> int | None:
    """When tracking on a visit's side must have ended; None where there are no sides, or nothing tracks.

    Where the mount is outside the side's zone as the plan begins, that is at once.
    """
    begins = visit.slot.index == STANDING
    if visit.slot.side is None or (begins and problem.start.still_s is not None):
        return None
    track = windows[visit.slot.target.name].track
    for start, end in times_within(track, *zone_s(request.mount, visit.slot.side), float(SPAN_S)):
        if start <= visit.slot.work[0] + 1 and end >= visit.slot.work[0]:
            return int(end)
    return visit.free if begins else None


def _park(request: Request, windows: SkyWindows, problem: Problem, last: ScheduledVisit) -> _Row:
    axes = last.slot.axes(_stopped_by(problem, last), request.site.latitude_deg)
    leave_by = _leave_by(request, windows, problem, last)
    return _Row(
        kind="park",
        start=last.free,
        end=last.free + slew_s(request.mount, axes, HOME, last.slot.uneven_deg),
        latest=None if leave_by is None else max(leave_by, last.free),
        slot=None,
        task=None,
        tracking=False,
        note=NOTES["park"],
    )


def _positions(sky: NightSky, windows: SkyWindows, rows: Sequence[_Row]) -> list[dict[str, Any]]:
    """Sky columns of each row, at its start; computed per target in one go."""
    columns: list[dict[str, Any]] = [{} for _ in rows]
    by_target: dict[str, list[int]] = {}
    for number, row in enumerate(rows):
        if row.slot is not None:
            by_target.setdefault(row.slot.target.name, []).append(number)
    for name, numbers in by_target.items():
        times = np.array([float(rows[number].start) for number in numbers])
        track = windows[name].track
        altitudes = track.altitude_deg(times)
        values = zip(
            numbers,
            track.hour_angle_s(times) / 3600,
            altitudes,
            track.azimuth_deg(times),
            airmass(altitudes),
            track.separation_deg(sky.moon, times),
            strict=True,
        )
        for number, hour_angle_h, altitude, azimuth, mass, moon in values:
            columns[number] = {
                "hour_angle_h": round(float(hour_angle_h), HOUR_DECIMALS),
                "altitude_deg": round(float(altitude), ANGLE_DECIMALS),
                "azimuth_deg": round(float(azimuth), ANGLE_DECIMALS) % 360.0,
                "airmass": None if math.isnan(mass) else round(float(mass), ANGLE_DECIMALS),
                "moon_separation_deg": round(float(moon), ANGLE_DECIMALS),
            }
    return columns


def _step(
    request: Request, sky: NightSky, problem: Problem, number: int, row: _Row, position: dict[str, Any]
) -> Step:
    columns: dict[str, Any] = {
        "step": number,
        "kind": row.kind,
        "start_utc": sky.clock.utc(row.start),
        "end_utc": sky.clock.utc(row.end),
        "latest_start_utc": None if row.latest is None else sky.clock.utc(row.latest),
        "tracking": row.tracking,
        "note": row.note,
    }
    if row.slot is not None:
        target = row.slot.target
        columns |= {
            "target": target.name,
            "ra_deg": target.ra_deg,
            "dec_deg": target.dec_deg,
            "position_angle_deg": position_angle_deg(request.mount, target, row.slot.side),
            "pier_side": row.slot.side,
            **position,
        }
    if row.kind == "dither" and row.task is None:  # of what goes on as the plan begins
        columns["filter"] = problem.start.filter
    if row.task is not None:
        goal = problem.tasks[row.task].goal
        columns["filter"] = goal.filter
        if row.kind == "expose":
            columns |= {
                "exposure_s": goal.exposure_s,
                "gain": goal.gain,
                "offset": goal.offset,
                "binning": goal.binning,
            }
    return Step(**columns)
