"""In how many hours of the nights to come each target may be shot through each of its filters."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from optimizer.ahead.nights import STEP_S, NightsAhead
from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG, Filter
from optimizer.models.targets import Target
from optimizer.mount.sides import permitted_sides
from optimizer.mount.zones import zone_s
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import BoolArray, FloatArray
from optimizer.sky.frames import angle_deg, elevation_deg
from optimizer.sky.moonlight import brightening_mag, full_brightening_mag
from optimizer.sky.skyline import Skyline

SUNSET_DEG = TWILIGHT_LIMIT_DEG["sunset"]
MOST_AT_ONCE = 500_000  # targets times samples in one array: 4 MB for each number kept of them
DECIMALS = 2

Hours = dict[tuple[str, str], float]  # by the names of target and filter


def hours_ahead(request: Request, sky: NightSky, targets: Sequence[Target] | None = None) -> Hours:
    """Hours in which the shutter may be open on targets of the request, by target and filter.

    They are counted in the `aim.look_ahead_nights` nights from tonight's on and rounded to hundredths:
    darkness, Moon gap, moonlight, floor, ceiling, local horizon, `sides` and the zone of the mount allow it,
    the last on either pier side. What tonight's `clear` and `blocked` leave is not asked. `sky` is tonight's.
    """
    wanted = request.targets if targets is None else targets
    filters = {each.name: each for each in request.filters}
    used = {goal.filter for target in wanted for goal in target.goals}
    highest = max((filters[name].sun_limit_deg for name in used), default=SUNSET_DEG)
    nights = NightsAhead(sky, request.aim.look_ahead_nights, min(highest, SUNSET_DEG))
    at_once = max(1, MOST_AT_ONCE // max(1, nights.times_s.size))
    hours: Hours = {}
    for first in range(0, len(wanted), at_once):
        block = _Block(request, nights, wanted[first : first + at_once])
        for name in dict.fromkeys(goal.filter for target in block.targets for goal in target.goals):
            counts = np.count_nonzero(block.open_through(filters[name]), axis=1)
            for target, count in zip(block.targets, counts.tolist(), strict=True):
                if any(goal.filter == name for goal in target.goals):
                    hours[target.name, name] = round(count * STEP_S / 3600, DECIMALS)
    return hours


class _Block:
    """Some targets over all dark samples; arrays have the shape (targets, samples)."""

    def __init__(self, request: Request, nights: NightsAhead, targets: Sequence[Target]) -> None:
        self.targets = targets
        self._request, self._nights = request, nights
        self._unit = nights.stars(
            np.array([target.ra_deg for target in targets]), np.array([target.dec_deg for target in targets])
        )
        self._horizontal = nights.sky.frame.horizontal(self._unit)
        self._reachable = self._above() & self._on_a_side()
        self._gap_deg: FloatArray | None = None
        self._brightening_mag: FloatArray | None = None

    def open_through(self, chosen: Filter) -> BoolArray:
        """Whether the shutter may be open through a filter, at each sample."""
        may = self._reachable & (self._nights.sun_altitude_deg <= chosen.sun_limit_deg)
        moon = (
            self._nights.moon if chosen.moon_gap_deg is not None or chosen.moonlight_mag is not None else None
        )
        if moon is not None and chosen.moon_gap_deg is not None:
            may &= (self._moon_gap_deg() >= chosen.moon_gap_deg) | (moon.limb_above_deg < 0.0)
        if moon is not None and chosen.moonlight_mag is not None:
            most_mag = full_brightening_mag(chosen.moonlight_mag, chosen.moonlight_factor)
            may &= (self._moonlight_mag() <= most_mag) | (moon.zenith_deg > 90.0)
        return may

    def _above(self) -> BoolArray:
        """Whether floor, ceiling and local horizon allow it."""
        site, frame = self._request.site, self._nights.sky.frame
        altitude_deg = elevation_deg(
            frame.refracted(self._horizontal) if frame.refracts else self._horizontal
        )
        floors_deg = np.array([self._request.floor_deg(target) for target in self.targets])
        above = (altitude_deg >= floors_deg[:, None]) & (altitude_deg <= site.ceiling_deg)
        if site.skyline:
            north, east, _ = self._horizontal
            azimuth_deg = np.degrees(np.arctan2(east, north)) % 360.0
            above &= altitude_deg >= Skyline(site.skyline).altitude_deg(azimuth_deg)
        return np.asarray(above)

    def _on_a_side(self) -> BoolArray:
        """Whether some pier side that the target permits may track there; on a fork what `sides` says."""
        x, y, _ = self._unit
        hour_angle_s = np.arctan2(-y, x) * (43200.0 / math.pi)
        may = np.zeros(hour_angle_s.shape, dtype=np.bool_)
        for row, target in enumerate(self.targets):
            own = hour_angle_s[row]
            if not self._request.mount.flips:
                may[row] = {"either": np.full(own.shape, True), "before": own <= 0, "after": own >= 0}[
                    target.sides
                ]
                continue
            for side in permitted_sides(self._request, target):
                low_s, high_s = zone_s(self._request.mount, side)
                may[row] |= (own >= low_s) & (own <= high_s)
        return may

    def _moon_gap_deg(self) -> FloatArray:
        if self._gap_deg is None:
            self._gap_deg = angle_deg(
                np.broadcast_to(self._nights.moon.unit[:, None], self._unit.shape), self._unit
            )
        return self._gap_deg

    def _moonlight_mag(self) -> FloatArray:
        """The brightening in V as if the Moon were up."""
        if self._brightening_mag is None:
            site, moon = self._request.site, self._nights.moon
            self._brightening_mag = brightening_mag(
                moon.phase_angle_deg,
                self._moon_gap_deg(),
                moon.zenith_deg,
                90.0 - elevation_deg(self._horizontal),
                site.zenith_sky_mag,
                site.extinction_mag,
            )
        return self._brightening_mag
