"""Hours in which targets may be shot in the nights to come, by the audit's own route.

Astropy gives each target's hour angle and declination at the middle of each night, and Sun and Moon; from
there to altitude and azimuth it is spherical trigonometry. Instants lie a prime number of seconds apart, all
nights on end, so that no edge is met at the same distance from an instant night after night.
"""

from __future__ import annotations

from dataclasses import dataclass

import erfa
import numpy as np

from optimizer.audit.clock import NIGHT_S, night_origin
from optimizer.audit.moonlight import dark_nanolamberts, moon_nanolamberts
from optimizer.audit.rules.altitude import Profile
from optimizer.audit.rules.moon import MOON_UP_DEG
from optimizer.audit.rules.sun import SUNSET_DEG
from optimizer.audit.sky import VISUAL_UM, Bodies, Places, SkyBook
from optimizer.audit.types import Bools, Floats
from optimizer.audit.zone import SIDEREAL_PER_CLOCK, Zone, wrapped_about
from optimizer.models.request import Request
from optimizer.models.rig import Filter
from optimizer.models.site import Site
from optimizer.models.targets import Target

STEP_S, LONG_STEP_S = 127, 509  # the latter for more nights than these
FINE_NIGHTS = 112
NODE_S = 10800  # of Sun and Moon: what interpolation adds is then 5 arcsec, by the formula of `sky`


@dataclass(frozen=True)
class Ahead:
    """Hours in which a target may be shot through a filter, and the windows that they come in."""

    hours: float
    windows: int


def hours_ahead(request: Request) -> dict[tuple[str, str], Ahead]:
    """Count the `aim.look_ahead_nights` nights from this one on, by the names of target and filter."""
    nights = request.aim.look_ahead_nights
    step_s = STEP_S if nights <= FINE_NIGHTS else LONG_STEP_S
    filters = {each.name: each for each in request.filters}
    book = SkyBook(request, night_origin(request), (nights + 1) * NIGHT_S, NODE_S)
    second = np.arange(step_s // 2, nights * NIGHT_S, step_s, dtype=np.int64)
    second = second[book.bodies(second).sun_altitude_deg <= SUNSET_DEG]
    bodies = book.bodies(second)
    middles = np.arange(nights, dtype=np.int64) * NIGHT_S + NIGHT_S // 2
    places = book.places(*np.broadcast_arrays(np.arange(len(request.targets))[:, None], middles))
    ahead: dict[tuple[str, str], Ahead] = {}
    for index, target in enumerate(request.targets):
        night = second // NIGHT_S
        turned_s = places.hour_angle_s[index, night] + SIDEREAL_PER_CLOCK * (second - middles[night])
        own = _places(
            request.site, wrapped_about(turned_s, np.zeros(1)), places.declination_deg[index, night]
        )
        may = _above(request, target, own) & _on_a_side(request, target, own.hour_angle_s)
        open_to = _Open(request, _at(own, may), Bodies(bodies.sun[may], bodies.moon[may]))
        for name in {goal.filter for goal in target.goals}:
            taken = (second[may] // step_s)[open_to(filters[name])]
            breaks = int(np.count_nonzero(np.diff(taken) > 1))
            ahead[target.name, name] = Ahead(len(taken) * step_s / 3600, breaks + min(1, len(taken)))
    return ahead


def _places(site: Site, hour_angle_s: Floats, declination_deg: Floats) -> Places:
    """Where a target of that hour angle and declination stands: the triangle of pole, zenith and target."""
    latitude, turn, declination = (
        np.radians(site.latitude_deg),
        np.radians(hour_angle_s / 240),
        np.radians(declination_deg),
    )
    up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(turn)
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * np.cos(declination) * np.cos(turn)
    east = -np.cos(declination) * np.sin(turn)
    altitude_deg = np.degrees(np.arctan2(up, np.hypot(north, east)))
    azimuth_deg = np.mod(np.degrees(np.arctan2(east, north)), 360)
    return Places(hour_angle_s, declination_deg, altitude_deg, azimuth_deg, _refracted(site, altitude_deg))


def _refracted(site: Site, altitude_deg: Floats) -> Floats:
    """The altitude as seen: ERFA's A tan z + B tan^3 z of the air, taken back from the true z in one step.

    Below 3 degrees (a height of 0.05) the formula has no use and stays as it is there.
    """
    if site.pressure_hpa <= 0:
        return altitude_deg
    first, third = erfa.refco(site.pressure_hpa, site.temperature_c, site.humidity, VISUAL_UM)
    height = np.maximum(np.sin(np.radians(altitude_deg)), 0.05)
    slope = np.cos(np.radians(altitude_deg)) / height
    lift = (first + third * slope**2) * slope / (1 + (first + 3 * third * slope**2) / height**2)
    seen: Floats = altitude_deg + np.degrees(lift)
    return seen


def _at(places: Places, where: Bools) -> Places:
    return Places(
        places.hour_angle_s[where],
        places.declination_deg[where],
        places.true_altitude_deg[where],
        places.azimuth_deg[where],
        places.altitude_deg[where],
    )


def _above(request: Request, target: Target, places: Places) -> Bools:
    """Whether floor, ceiling and local horizon allow it."""
    above = (places.altitude_deg >= request.floor_deg(target)) & (
        places.altitude_deg <= request.site.ceiling_deg
    )
    if request.site.skyline:
        above &= places.altitude_deg >= Profile(request.site).altitude_deg(places.azimuth_deg)
    return np.asarray(above)


def _on_a_side(request: Request, target: Target, hour_angle_s: Floats) -> Bools:
    """Whether a pier side that the target allows may track there; on a fork what `sides` says."""
    first, second = target.sides != "after", target.sides != "before"
    if not request.mount.flips:
        return (first & (hour_angle_s <= 0)) | (second & (hour_angle_s >= 0))
    zone = Zone.of(request.mount)
    west = (hour_angle_s >= zone.first_from) & (hour_angle_s <= zone.first_until)
    east = (hour_angle_s >= zone.flipped_from) & (hour_angle_s <= zone.flipped_until)
    return (first & west) | (second & east)


class _Open:
    """Whether the shutter may be open through a filter, at instants at which nothing else forbids it."""

    def __init__(self, request: Request, places: Places, bodies: Bodies) -> None:
        site = request.site
        self._sun_deg = bodies.sun_altitude_deg
        self._gap_deg = bodies.moon_separation_deg(places)
        self._limb_deg, moon_deg = bodies.moon_limb_deg, bodies.moon_altitude_deg
        zenith_deg = 90 - places.true_altitude_deg
        moonlight = moon_nanolamberts(
            bodies.phase_angle_deg, self._gap_deg, 90 - moon_deg, zenith_deg, site.extinction_mag
        )
        dark = dark_nanolamberts(zenith_deg, site.zenith_sky_mag, site.extinction_mag)
        self._moon_over_dark = np.where(moon_deg < 0, 0.0, moonlight / dark)

    def __call__(self, chosen: Filter) -> Bools:
        may = self._sun_deg <= chosen.sun_limit_deg
        if chosen.moon_gap_deg is not None:
            may &= (self._gap_deg >= chosen.moon_gap_deg) | (self._limb_deg <= MOON_UP_DEG)
        if chosen.moonlight_mag is not None:
            most = 10 ** (0.4 * chosen.moonlight_mag) - 1
            may &= chosen.moonlight_factor * self._moon_over_dark <= most
        return np.asarray(may)
