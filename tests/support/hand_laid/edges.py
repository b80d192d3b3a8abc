"""Edges: a whole night under a limit that it just meets, and under one that it misses by a second."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

from astropy.coordinates import AltAz

from tests.support.hand_laid.mutations import Case, asking, later, number_of, shutter_close
from tests.support.hand_laid.night_builder import Almanac, R
from tests.support.hand_laid.night_cases import Night


def opens(night: Night, occurrence: int = 0) -> dt.datetime:
    return night.steps[number_of(night, "expose", occurrence) - 1].start_utc


def closes(night: Night, occurrence: int = -1) -> dt.datetime:
    return shutter_close(night.steps[number_of(night, "expose", occurrence) - 1])


def edge(
    name: str,
    rule: str,
    night: Callable[[], Night],
    when: Callable[[Night], dt.datetime],
    look: Callable[[Night, dt.datetime], float],
    ask: Callable[[Night, float], Night],
    towards: int,
    *,
    unit: str,
    slack: float = 0.0,
) -> Case:
    """`look` at the deciding second gives the twin's limit, `towards` (+1 or -1 s) the broken one's.

    The amount is the difference of the two.
    """

    def limit(seconds: int) -> float:
        return look(night(), later(when(night()), seconds))

    return Case(
        name,
        rule,
        broken=lambda: ask(night(), limit(towards)),
        twin=lambda: ask(night(), limit(0)),
        amount=lambda: abs(limit(towards) - limit(0)),
        unit=unit,
        slack=slack,
    )


def altitude(name: str) -> Callable[[Night, dt.datetime], float]:
    return lambda night, instant: float(Almanac(night.request).altitude_deg(name, instant)[0])


def hour_angle(name: str) -> Callable[[Night, dt.datetime], float]:
    return lambda night, instant: float(Almanac(night.request).hour_angle_s(name, instant)[0])


def sun(night: Night, instant: dt.datetime) -> float:
    return float(Almanac(night.request).body_altitude_deg("sun", instant)[0])


def moon_gap(night: Night, instant: dt.datetime) -> float:
    return float(Almanac(night.request).moon_separation_deg("Cradle", instant)[0])


def moonlight(night: Night, instant: dt.datetime) -> float:
    """Krisciunas & Schaefer 1991 once more, for one instant."""
    almanac, site = Almanac(night.request), night.request.site
    moon = almanac._look("moon", [instant], AltAz)
    sun_there = almanac._look("sun", [instant], AltAz)
    to_moon, to_sun = moon.cartesian.xyz.to_value("km").T[0], sun_there.cartesian.xyz.to_value("km").T[0]
    back, across = -to_moon, to_sun - to_moon
    cosine = float(back @ across) / math.sqrt(float(back @ back) * float(across @ across))
    phase = math.degrees(math.acos(cosine))
    rho = float(almanac.moon_separation_deg("Cradle", instant)[0])
    star = almanac._look(almanac.star("Cradle"), [instant], AltAz)

    def path(altitude_deg: float) -> float:
        return 1 / math.sqrt(1 - 0.96 * math.cos(math.radians(altitude_deg)) ** 2)

    k, here, there = site.extinction_mag, path(float(star.alt.deg[0])), path(float(moon.alt.deg[0]))
    glow = 10**5.36 * (1.06 + math.cos(math.radians(rho)) ** 2) + 10 ** (6.15 - rho / 40)
    lamp = 10 ** (-0.4 * (3.84 + 0.026 * phase + 4e-9 * phase**4))
    moonshine = glow * lamp * 10 ** (-0.4 * k * there) * (1 - 10 ** (-0.4 * k * here))
    dark = 34.08 * math.exp(20.7233 - 0.92104 * site.zenith_sky_mag) * 10 ** (-0.4 * k * (here - 1)) * here
    return 2.5 * math.log10(1 + moonshine / dark)


def slew_end(night: Night) -> dt.datetime:
    return night.steps[0].end_utc


def last_west_close(night: Night) -> dt.datetime:
    return shutter_close([s for s in night.steps if s.kind == "expose" and s.pier_side == "west"][-1])


def flip_start(night: Night) -> dt.datetime:
    return night.steps[number_of(night, "flip") - 1].start_utc


def ask_contact(night: Night, hour_angle_s: float) -> Night:
    """The contact that makes the first side end at this hour angle."""
    mount = night.request.mount
    reading = hour_angle_s / R if hour_angle_s < 0 else hour_angle_s
    return asking(night, mount__contact_min=(reading + mount.clock_error_s) / 60 + mount.clearance_min)


def ask_flip(night: Night, hour_angle_s: float) -> Night:
    """The earliest flip that makes the flipped side begin at this hour angle."""
    reading = hour_angle_s / R if hour_angle_s > 0 else hour_angle_s
    return asking(night, mount__flip_from_min=(reading - night.request.mount.clock_error_s) / 60)


def ask_early_flip(night: Night, hour_angle_s: float) -> Night:
    """The same before the meridian, where the flipped side's own contact decides."""
    mount = night.request.mount
    touches = mount.clearance_min * 60 + mount.clock_error_s - hour_angle_s
    return asking(night, mount__contact_before_min=touches / 60, mount__flip_from_min=-30.0)
