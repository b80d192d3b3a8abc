"""Places as headers give them -> ICRS degrees, by the precession of ERFA.

Between the equinox 2000 and that of date lie 0.38 degrees in 2027, more than the field of many a camera.
"""

from __future__ import annotations

import datetime as dt
import math

from optimizer.tally.frames import Frame

_JD_2000, _YEAR_DAYS = 2451545.0, 365.25


def icrs_of_frame(frame: Frame) -> tuple[float, float] | None:
    """Turn a frame's place into ICRS degrees; None where its header tells no place, or not of which date."""
    if frame.ra_deg is None or frame.dec_deg is None:
        return None
    return icrs_of(
        frame.ra_deg, frame.dec_deg, equinox=frame.equinox, radesys=frame.radesys, taken_utc=frame.taken_utc
    )


def icrs_of(
    ra_deg: float,
    dec_deg: float,
    *,
    equinox: float | None = None,
    radesys: str | None = None,
    taken_utc: dt.datetime | None = None,
) -> tuple[float, float] | None:
    """Turn a right ascension and a declination into ICRS, all in degrees.

    Without a system and an equinox they are ICRS already; a system alone means its own equinox: 1950 for FK4,
    2000 for FK5, the date for apparent places (GAPPT): FITS Standard 4.0, section 8.3.
    Only precession and frame bias are taken off: a place of date stays wrong by nutation and aberration, up
    to 40 arcseconds, one of FK4 by up to 3. None where it is of date and the date is not known.
    """
    system = (radesys or "").upper()
    if equinox is None:
        equinox = {"FK4": 1950.0, "FK4-NO-E": 1950.0, "FK5": 2000.0}.get(system)
        if system == "GAPPT":
            if taken_utc is None:
                return None
            noon_2000 = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)
            equinox = 2000.0 + (taken_utc - noon_2000) / dt.timedelta(days=_YEAR_DAYS)
    if equinox is None or system == "ICRS":
        return ra_deg % 360, dec_deg
    import erfa

    turned = erfa.pmat06(_JD_2000, (equinox - 2000.0) * _YEAR_DAYS)
    vector = erfa.s2c(math.radians(ra_deg), math.radians(dec_deg)) @ turned
    ra, dec = erfa.c2s(vector)
    return math.degrees(ra) % 360, math.degrees(dec)
