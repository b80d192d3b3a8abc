"""Which rigs stand so near to one another that they have the same weather."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from optimizer.diagnostics.object_places import separation_deg
from optimizer.models.site import Site

EARTH_KM: Final = 6371.0
ONE_PLACE_KM: Final = 20.0  # so near to each other rigs have the same weather


def places_of(sites: Sequence[Site]) -> tuple[int, ...]:
    """The number of each site's place: whatever lies within 20 km of the first site of a place is there."""
    firsts, numbers = list[Site](), list[int]()
    for site in sites:
        near = [place for place, first in enumerate(firsts) if distance_km(first, site) <= ONE_PLACE_KM]
        if not near:
            firsts.append(site)
        numbers.append(near[0] if near else len(firsts) - 1)
    return tuple(numbers)


def distance_km(one: Site, other: Site) -> float:
    """How far two sites are from each other along the ground, by a round Earth."""
    apart_deg = separation_deg(one.longitude_deg, one.latitude_deg, other.longitude_deg, other.latitude_deg)
    return EARTH_KM * math.radians(apart_deg)
