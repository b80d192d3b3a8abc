"""Targets whose coordinates lie elsewhere than what their catalogue name stands for."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.catalogue.lookup import also_called, built_in, catalogued
from optimizer.catalogue.objects import CatalogueObject
from optimizer.diagnostics.document import Document
from optimizer.errors import InputProblem
from optimizer.models.request import Request
from optimizer.models.targets import Target
from optimizer.words import place_words, sexagesimal

# Large nebulae are framed around other centres than the catalogue's; hardly one of them by more than this.
NEAR_DEG = 1.0
SAME_HOURS = 0.1  # 1.5 degrees: an hour copied from an atlas is nearer than this


def objects_elsewhere(request: Request, document: Document) -> Iterator[InputProblem]:
    """Warn of each target whose coordinates are more than `NEAR_DEG` from what its catalogue name stands for.

    A place within the object, where its size is known, is not told. Those that the user's own catalogue has
    are told as well, where a built-in one has another place for the name. A warning names both places and the
    distance, and says if the right ascension looks like hours.
    """
    for index, target in enumerate(request.targets):
        if target.object is None:
            continue
        keys = [key for key in ("ra_deg", "ra") if document.has(("targets", index, key))]
        own = document.catalogue
        if not keys and (own is None or own.find(target.object) is None):
            continue  # the coordinates are the built-in catalogue's
        found = catalogued(target.object, own) if keys else built_in(target.object)
        if found is None:
            continue  # a comet, or a name of one's own
        apart_deg = separation_deg(target.ra_deg, target.dec_deg, found.ra_deg, found.dec_deg)
        if apart_deg > max(NEAR_DEG, found.radius_deg):
            yield _elsewhere(document, index, keys[0] if keys else "object", target, found, apart_deg)


def catalogue_in_hours(document: Document) -> Iterator[InputProblem]:
    """Warn of a user's own catalogue whose right ascensions all are plain numbers that could be hours."""
    if document.catalogue is not None and document.catalogue.all_below_24:
        yield InputProblem(
            document.catalogue.file,
            "ra",
            "all of them are plain numbers below 24, and are taken as degrees",
            "write hours like 20h51m01s or 20:51:01; leave them so if they are degrees",
        )


def _elsewhere(
    document: Document, index: int, key: str, target: Target, found: CatalogueObject, apart_deg: float
) -> InputProblem:
    own = document.catalogue if key == "object" else None
    given = "the place given" if own is None else f"the place in {own.file}"
    places = (
        f"{given} is {place_words(target.ra_deg, target.dec_deg)}, "
        f"{apart_deg:.1f} degrees from that of its object "
        f"({also_called(target.object or '', found)}: {place_words(found.ra_deg, found.dec_deg)})"
    )
    if looks_like_hours(target.ra_deg, found.ra_deg):
        hours = sexagesimal(found.ra_deg / 15, "h")
        return document.problem(
            ("targets", index, key),
            f"these degrees look like hours: {places}",
            f'write ra_deg = {found.ra_deg:.3f} or ra = "{hours}"'
            if own is None
            else f"write {hours} or {found.ra_deg:.3f} there",
        )
    return document.problem(
        ("targets", index, key),
        places,
        "check the coordinates and the name; leave them so if that is the place you mean",
    )


def looks_like_hours(ra_deg: float, catalogue_ra_deg: float) -> bool:
    """Whether a number of degrees is, read as hours, the right ascension of the catalogue.

    Hours may be decimal (20.85) or have minutes and seconds for decimals (20.5101 for 20h51m01s).
    """
    hours = int(ra_deg)
    seconds = round((ra_deg - hours) * 10_000)
    minutes, seconds = divmod(seconds, 100)
    readings = [ra_deg]
    if minutes < 60 and seconds < 60:
        readings.append(hours + minutes / 60 + seconds / 3600)
    off = [abs((reading - catalogue_ra_deg / 15 + 12) % 24 - 12) for reading in readings]
    return min(off) <= SAME_HOURS


def separation_deg(ra_deg: float, dec_deg: float, other_ra_deg: float, other_dec_deg: float) -> float:
    """The angle in degrees between two places (haversine formula, good for small angles too)."""
    ra, dec, other_ra, other_dec = map(math.radians, (ra_deg, dec_deg, other_ra_deg, other_dec_deg))
    half = (
        math.sin((other_dec - dec) / 2) ** 2
        + math.cos(dec) * math.cos(other_dec) * math.sin((other_ra - ra) / 2) ** 2
    )
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, half))))
