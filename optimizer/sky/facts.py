"""The night's edges, for people: sunset and sunrise, twilights, the Moon."""

from __future__ import annotations

import datetime as dt

from optimizer.models.request import Request
from optimizer.models.rig import TWILIGHT_LIMIT_DEG
from optimizer.models.shots import NightFacts
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import MIDDLE_S, SPAN_S
from optimizer.sky.crossings import Interval, Sampled, spans_where


def night_facts(request: Request, sky: NightSky) -> NightFacts:
    """First event of each kind between the two solar noons, to the nearest second; None where there is none.

    Sun: topocentric centre, geometric, at −50′, −6°, −12°, −18°. Moon: upper limb at −34′ with its actual
    semidiameter. The lit share is that of the middle of the night.
    """
    altitude = Sampled(sky.sun.geometric_altitude_deg)

    def sun(limit: str) -> tuple[dt.datetime | None, dt.datetime | None]:
        """The instants at which the Sun first sinks and first rises through the limit, or None."""
        return _first_edges(sky, altitude.at_most(TWILIGHT_LIMIT_DEG[limit]))

    moonrise, moonset = _first_edges(sky, spans_where(sky.moon.limb_above_deg))
    sunset, sunrise = sun("sunset")
    civil_dusk, civil_dawn = sun("civil")
    nautical_dusk, nautical_dawn = sun("nautical")
    astronomical_dusk, astronomical_dawn = sun("astronomical")
    return NightFacts(
        evening=request.night.evening.isoformat(),
        time_zone=request.site.time_zone,
        sunset_utc=sunset,
        sunrise_utc=sunrise,
        civil_dusk_utc=civil_dusk,
        civil_dawn_utc=civil_dawn,
        nautical_dusk_utc=nautical_dusk,
        nautical_dawn_utc=nautical_dawn,
        astronomical_dusk_utc=astronomical_dusk,
        astronomical_dawn_utc=astronomical_dawn,
        moonrise_utc=moonrise,
        moonset_utc=moonset,
        moon_illuminated=float(sky.moon.illuminated(float(MIDDLE_S))),
        ut1_utc_s=sky.orientation.ut1_utc_s,
    )


def _first_edges(sky: NightSky, spans: tuple[Interval, ...]) -> tuple[dt.datetime | None, dt.datetime | None]:
    """The first start and the first end of the spans that are not ends of the night itself, or None."""
    starts = [start for start, _ in spans if start > 0.0]
    ends = [end for _, end in spans if end < SPAN_S]
    return (
        sky.clock.utc(round(starts[0])) if starts else None,
        sky.clock.utc(round(ends[0])) if ends else None,
    )
