"""How the mount's numbers fit together, and tonight's flips, as data."""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.models.request import Request
from optimizer.models.rig import Mount
from optimizer.models.site import Utc
from optimizer.mount.flip import FlipFit, flip_fit, flip_times, longest_exposure_s
from optimizer.mount.zones import carries_across, first_side_until_s, flipped_side_from_s
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.spans import Windows, intersect
from optimizer.sky.windows import SkyWindows, sky_windows

FLIP_SCHEMA: Final = "darkfill-flip/1"
DECIMALS = 6


class TargetFlip(Frozen):
    """The instants around one transit of a target.

    `first_side_until_utc`: pier side west must have been left; `flipped_side_from_utc`: pier side east may be
    used. The instants of the flip are None where no target is carried across, the latest also where the
    first side must be left before the flip may begin. `in_dark`: the telescope may work on it at either of
    the first two; `in_dark_throughout`: all the time between.
    """

    target: str
    transit_utc: Utc
    first_side_until_utc: Utc
    flipped_side_from_utc: Utc
    due_utc: Utc | None
    earliest_flip_utc: Utc | None
    latest_flip_utc: Utc | None
    in_dark: bool
    in_dark_throughout: bool


class FlipReport(Frozen):
    """`darkfill-flip/1`; minutes are minutes past the meridian.

    None: contact was never measured, there is no exposure to judge, or no flip is ever due.

    The limits are those of the mount. `slack_s` is how much sooner a plan leaves pier side west, by
    `aim.slack_s`; `spare_s` how much later than in the worst case the shutter might still close.
    """

    schema_: Literal["darkfill-flip/1"] = Field(alias="schema")
    kind: str
    flip_by: str
    contact_min: float | None
    clearance_min: float
    clock_error_s: float
    latest_track_min: float
    flip_from_min: float
    flipped_from_min: float
    standstill_min: float
    carries_across: bool
    longest_exposure_s: float | None
    longest_fitting_s: float | None
    last_begin_min: float | None
    worst_end_min: float | None
    margin_min: float | None
    fits: bool | None
    slack_s: int
    spare_s: float | None
    tonight: Annotated[tuple[TargetFlip, ...], FromList]


def flip_report(request: Request, exposure_s: float | None = None) -> FlipReport:
    """The mount's arithmetic and tonight's flips; `exposure_s` replaces the longest exposure of the goals."""
    mount = request.mount
    fit = flip_fit(mount, longest_exposure_s(request) if exposure_s is None else exposure_s)
    gap_s = flipped_side_from_s(mount) - first_side_until_s(mount)
    return FlipReport(
        schema_=FLIP_SCHEMA,
        kind=mount.kind,
        flip_by=mount.flip_by,
        contact_min=mount.contact_min,
        clearance_min=mount.clearance_min,
        clock_error_s=mount.clock_error_s,
        latest_track_min=round(fit.latest_track_min, DECIMALS),
        flip_from_min=mount.flip_from_min,
        flipped_from_min=round(flipped_side_from_s(mount) / 60, DECIMALS),
        standstill_min=round(max(0.0, gap_s) / 60, DECIMALS) if mount.flip_by == "plan" else 0.0,
        carries_across=carries_across(mount),
        longest_exposure_s=fit.longest_exposure_s,
        longest_fitting_s=_rounded(fit.longest_fitting_s),
        last_begin_min=_rounded(fit.last_begin_min),
        worst_end_min=_rounded(fit.worst_end_min),
        margin_min=_rounded(fit.margin_min),
        fits=fit.fits,
        slack_s=request.aim.slack_s,
        spare_s=_spare_s(fit),
        tonight=_tonight(request, mount) if mount.flips and request.targets else (),
    )


def _spare_s(fit: FlipFit) -> float | None:
    """Seconds of tracking left after the worst case, negative where it ends too late."""
    if fit.worst_end_min is None:
        return None
    return round(60 * (fit.latest_track_min - fit.worst_end_min), DECIMALS)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)


def _tonight(request: Request, mount: Mount) -> tuple[TargetFlip, ...]:
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    flips = [flip for target in request.targets for flip in _flips_of(sky, windows, mount, target.name)]
    return tuple(sorted(flips, key=lambda flip: flip.transit_utc))


def _flips_of(sky: NightSky, windows: SkyWindows, mount: Mount, name: str) -> list[TargetFlip]:
    work: Windows = intersect(windows[name].acquisition, windows.sun_down)
    flips = []
    for times in flip_times(mount, windows[name].track):
        left, flipped = math.floor(times.left_s), math.ceil(times.flipped_s)
        latest = None if times.latest_s is None else max(flipped, math.floor(times.latest_s))
        flips.append(
            TargetFlip(
                target=name,
                transit_utc=sky.clock.utc(round(times.transit_s)),
                first_side_until_utc=sky.clock.utc(left),
                flipped_side_from_utc=sky.clock.utc(flipped),
                due_utc=None if times.due_s is None else sky.clock.utc(round(times.due_s)),
                earliest_flip_utc=None if times.due_s is None else sky.clock.utc(flipped),
                latest_flip_utc=None if latest is None else sky.clock.utc(latest),
                in_dark=any(
                    window.start_s <= instant <= window.end_s
                    for window in work
                    for instant in (times.left_s, times.flipped_s)
                ),
                in_dark_throughout=any(
                    window.start_s <= min(times.left_s, times.flipped_s)
                    and max(times.left_s, times.flipped_s) <= window.end_s
                    for window in work
                ),
            )
        )
    return flips
