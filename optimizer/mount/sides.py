"""Windows for each target and pier side: the times that both the sky and the mount allow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.rig import SIDES, Mount, PierSide
from optimizer.models.targets import Target
from optimizer.mount.zones import HALF_TURN_S, times_within, zone_s
from optimizer.sky.clock import SPAN_S
from optimizer.sky.spans import WHOLE_NIGHT, Edge, Windows, intersect, windows_of
from optimizer.sky.windows import SkyWindows

ZONE_WORDS = {
    "west": (
        Edge("zone", "pier side west opens after the lower culmination"),
        Edge("zone", "pier side west must be left"),
    ),
    "east": (
        Edge("zone", "pier side east opens"),
        Edge("zone", "pier side east ends before the lower culmination"),
    ),
}
BEFORE_TRANSIT = (Edge("zone", "lower culmination"), Edge("zone", "transit"))
AFTER_TRANSIT = (Edge("zone", "transit"), Edge("zone", "lower culmination"))


@dataclass(frozen=True)
class SideWindows:
    """The windows of one target on one pier side (None: a mount without pier sides).

    `zone`: the mount may track it. `motion`: a slew to it may lie here. `work`: the
    telescope may work on it. `shutter[filter]`: the shutter may be open. `quiet`: the last minutes before
    its transits.
    """

    side: PierSide | None
    zone: Windows
    motion: Windows
    work: Windows
    shutter: Mapping[str, Windows]
    quiet: Windows


def permitted_sides(request: Request, target: Target) -> tuple[PierSide | None, ...]:
    """Pier sides on which a target may be shot; (None,) for mounts without pier sides."""
    if not request.mount.flips:
        return (None,)
    wished: dict[str, tuple[PierSide | None, ...]] = {
        "either": SIDES,
        "before": SIDES[:1],
        "after": SIDES[1:],
    }
    return wished[target.sides]


def side_windows(request: Request, sky: SkyWindows, target: Target, side: PierSide | None) -> SideWindows:
    """The windows of a target on a pier side of its mount."""
    own, span_s = sky[target.name], float(SPAN_S)
    zone, wish, quiet = WHOLE_NIGHT, WHOLE_NIGHT, Windows()
    if side is not None:
        zone = windows_of(times_within(own.track, *zone_s(request.mount, side), span_s), *ZONE_WORDS[side])
        edge = Edge("quiet", "last minutes before the meridian")
        quiet = windows_of(times_within(own.track, -request.mount.quiet_min * 60, 0.0, span_s), edge, edge)
    elif target.sides == "before":
        wish = windows_of(times_within(own.track, -HALF_TURN_S, 0.0, span_s), *BEFORE_TRANSIT)
    elif target.sides == "after":
        wish = windows_of(times_within(own.track, 0.0, HALF_TURN_S, span_s), *AFTER_TRANSIT)
    work = intersect(intersect(own.acquisition, zone), sky.sun_down)
    return SideWindows(
        side=side,
        zone=zone,
        motion=intersect(zone, sky.sun_down),
        work=work,
        shutter={name: intersect(intersect(windows, work), wish) for name, windows in own.shutter.items()},
        quiet=quiet,
    )


def position_angle_deg(mount: Mount, target: Target, side: PierSide | None) -> float:
    """Camera angle on the sky: turned by 180 degrees on the flipped side unless the rotator undoes it."""
    turned = side == "east" and not mount.turn_rotator_after_flip
    return (target.position_angle_deg + (180.0 if turned else 0.0)) % 360.0
