"""A name looked up: in the user's own catalogue first, then in OpenNGC, then in Sharpless's."""

from __future__ import annotations

import difflib

from optimizer.catalogue import open_ngc, sharpless
from optimizer.catalogue.designations import (
    CALLED,
    LAST_SHARPLESS,
    Designation,
    designation,
    meanings,
    name_key,
)
from optimizer.catalogue.objects import CatalogueObject, OwnCatalogue
from optimizer.words import folded, safe

MOST_OWN_SUGGESTIONS = 2
OWN_LINES = "name,ra,dec"


def look_up(name: str, own: OwnCatalogue | None = None) -> CatalogueObject:
    """Look up the object of a name: `M 33`, `Messier 33`, `NGC 7000`, `Sharpless 132`, or one of one's own.

    Raises ValueError where no catalogue has it; its text has what is known of the name, the nearest names and
    the remedy.
    """
    found = catalogued(name, own)
    if found is None:
        raise ValueError(_missed(name, own))
    return found


def catalogued(name: str, own: OwnCatalogue | None = None) -> CatalogueObject | None:
    """Look up the object of a name; None where no catalogue has it with its place in the sky."""
    found = own.find(name) if own is not None else None
    return found or built_in(name)


def built_in(name: str) -> CatalogueObject | None:
    """Look up the object of a name in the catalogues that are installed alone; None where they lack it."""
    known = designation(name)
    if known is not None and known.catalogue == "Sh2":
        return sharpless.places().get(known.number)
    return open_ngc.find(name)


def also_called(name: str, found: CatalogueObject) -> str:
    """Write a name and the catalogue's own, where that is another: `M 33 is NGC 598`, `IC 5070`."""
    same = name_key(name) == name_key(found.name)
    return found.name if same else f"{safe(name)} is {found.name}"


def _missed(name: str, own: OwnCatalogue | None) -> str:
    known = designation(name)
    if known is not None and known.catalogue in CALLED:
        return _not_carried(known, own)
    either = [str(one) for one in meanings(name)]
    if len(either) > 1:
        return f"this may be {' or '.join(either)}; write the one that is meant"
    near = open_ngc.nearest(name) if name.isprintable() else []  # half characters crash the search
    near = [*_near_own(name, own), *near]
    quoted = [f'"{safe(one)}"' for one in near]
    hint = f"did you mean {' or '.join(quoted)}? Else " if near else "check the spelling, or "
    lacks = "the offline catalogue (OpenNGC) lacks it"
    if own is not None:
        lacks = f"neither {own.file} nor the offline catalogue (OpenNGC) has it"
    return f"{lacks}; {hint}add ra_deg and dec_deg"


def _not_carried(known: Designation, own: OwnCatalogue | None) -> str:
    """What is wrong with a designation that is understood but has no place here, and the remedy."""
    if known.catalogue == "Sh2":
        return f"{CALLED['Sh2']} has the numbers 1 to {LAST_SHARPLESS}; check the number"
    file = 'a CSV file of your own, named at the top of the request like catalogue = "mine.csv",'
    if own is not None:
        file = own.file
    return (
        f"this is {known} of {CALLED[known.catalogue]}, whose place no catalogue installed here has; "
        f"add ra_deg and dec_deg, or put it into {file} with its place (ICRS): "
        f"{OWN_LINES} in the first line, {known},HHhMMmSSs,+DDdMMmSSs below"
    )


def _near_own(name: str, own: OwnCatalogue | None) -> list[str]:
    if own is None:
        return []
    near = difflib.get_close_matches(folded(name), own.objects, MOST_OWN_SUGGESTIONS, 0.75)
    return list(dict.fromkeys(own.objects[key].name for key in near))
