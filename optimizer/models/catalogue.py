"""Deep-sky names, offline, from OpenNGC through the pyongc package (data CC BY-SA 4.0)."""

from __future__ import annotations


def coordinates_of(name: str) -> tuple[float, float]:
    """ICRS right ascension and declination in degrees of a catalogued object.

    Raises ValueError with the remedy in its text where the catalogue lacks the name.
    """
    import math

    from pyongc import ongc
    from pyongc.exceptions import ObjectNotFound, UnknownIdentifier

    try:
        found = ongc.get(name)
    except (ObjectNotFound, UnknownIdentifier):
        found = None
    if found is None or found.rad_coords is None:
        raise ValueError(
            "the offline catalogue (OpenNGC) lacks it; check the spelling, or add ra_deg and dec_deg"
        )
    ra_rad, dec_rad = found.rad_coords
    return math.degrees(ra_rad), math.degrees(dec_rad)
