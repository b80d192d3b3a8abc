"""Where the targets of a typed plan stand, and how the axes must move to them."""

from __future__ import annotations

import datetime as dt
from functools import cached_property

from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.targets import Target
from optimizer.mount.axes import Axes, axes_at, slew_s
from optimizer.mount.zones import HALF_TURN_S, SIDEREAL_RATE, time_of_hour_angle, zone_s
from optimizer.sky.bodies import night_sky
from optimizer.sky.tracks import Track


class TypedSky:
    """The sky of a request's night; times are whole seconds after its origin, hour angles seconds."""

    def __init__(self, request: Request) -> None:
        """Follow each target of the request through the night."""
        self.request = request
        self._sky = night_sky(request)
        stars = self._sky.stars([(target.ra_deg, target.dec_deg) for target in request.targets])
        self._tracks = {target.name: track for target, track in zip(request.targets, stars, strict=True)}

    def seconds(self, instant: dt.datetime) -> int:
        """Seconds from the night's origin to an instant."""
        return round(self._sky.clock.seconds(instant))

    def utc(self, second: int) -> dt.datetime:
        """The instant so many seconds after the night's origin."""
        return self._sky.clock.utc(second)

    @cached_property
    def west_until_s(self) -> float:
        """The hour angle at which tracking on pier side west must have ended."""
        return zone_s(self.request.mount, "west")[1]

    @cached_property
    def east_from_s(self) -> float:
        """The hour angle from which pier side east may track, which is when the mount takes a flip."""
        return zone_s(self.request.mount, "east")[0]

    def hour_angle_s(self, target: Target, second: int) -> float:
        """The hour angle of a target, in (-43200, 43200]."""
        return float(self._track(target).hour_angle_s(float(second)))

    def when(self, target: Target, hour_angle_s: float, second: int) -> float:
        """When a target is at an hour angle, in the turn between lower culminations that holds `second`."""
        away = hour_angle_s - self.hour_angle_s(target, second)
        return time_of_hour_angle(self._track(target), hour_angle_s, second + away / SIDEREAL_RATE)

    def side(self, target: Target, second: int) -> PierSide | None:
        """The pier side by the transit: west before it, east after it; None on a fork.

        Where the mount takes a flip only from some minutes past the transit on, it is west until then.
        """
        if not self.request.mount.flips:
            return None
        return "west" if self.hour_angle_s(target, second) < max(0.0, self.east_from_s) else "east"

    def axes(self, target: Target, side: PierSide | None, second: int) -> Axes:
        """The angles of the axes on a target, on a pier side or on a fork."""
        middle_s = 0.0 if side is None else -HALF_TURN_S / 2 if side == "west" else HALF_TURN_S / 2
        turned_s = self.hour_angle_s(target, second) - middle_s
        wrapped_s = (turned_s + HALF_TURN_S) % (2 * HALF_TURN_S) - HALF_TURN_S + middle_s
        declination_deg = float(self._track(target).declination_deg(float(second)))
        return axes_at(wrapped_s, declination_deg, side, self.request.site.latitude_deg)

    def slew_s(self, left: Axes, reached: Axes) -> int:
        """Whole seconds of a slew, a flip or, to `HOME`, a park."""
        return slew_s(self.request.mount, left, reached)

    def _track(self, target: Target) -> Track:
        return self._tracks[target.name]
