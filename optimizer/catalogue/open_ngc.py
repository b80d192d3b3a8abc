"""OpenNGC through the pyongc package (data CC BY-SA 4.0): places, and names like a name that is missed."""

from __future__ import annotations

import difflib
import math
import re
from contextlib import closing

from optimizer.catalogue.designations import designation
from optimizer.catalogue.objects import CatalogueObject

MOST_SUGGESTIONS = 4


def find(name: str) -> CatalogueObject | None:
    """Look up the object of a name; None where OpenNGC lacks it or its place in the sky."""
    from pyongc import ongc
    from pyongc.exceptions import ObjectNotFound, UnknownIdentifier

    try:
        found = ongc.get(_short(name))
    except (ObjectNotFound, UnknownIdentifier):
        return None
    if found is None or found.rad_coords is None:
        return None
    ra_rad, dec_rad = found.rad_coords
    return CatalogueObject(_spaced(found.name), math.degrees(ra_rad), math.degrees(dec_rad))


def nearest(name: str) -> list[str]:
    """Names like this one: objects that people call so, then catalogue numbers that look alike."""
    import sqlite3

    from pyongc import DBPATH

    wanted = _short(name)
    with closing(sqlite3.connect(f"file:{DBPATH}?mode=ro", uri=True)) as catalogue:
        called = catalogue.execute(
            "SELECT name FROM objects WHERE lower(commonnames) LIKE ? ORDER BY length(commonnames)",
            (f"%{wanted.lower()}%",),
        ).fetchmany(MOST_SUGGESTIONS)
        if called and len(wanted) > 3:
            return [_spaced(row[0]) for row in called]
        letters = re.match(r"[A-Za-z]*", wanted.replace(" ", ""))
        prefix = letters[0] if letters else ""
        rows = catalogue.execute(
            "SELECT name FROM objects WHERE upper(name) LIKE ?", (f"{prefix.upper()}%",)
        ).fetchall()
    names = {_spaced(row[0]).lower(): _spaced(row[0]) for row in rows}
    near = difflib.get_close_matches(_spaced(wanted.replace(" ", "")).lower(), names, MOST_SUGGESTIONS, 0.8)
    return [names[match] for match in near]


def _short(name: str) -> str:
    """`Messier 33` -> `M 33`; what is no designation as it is, with single blanks."""
    found = designation(name)
    return " ".join(name.split()) if found is None else str(found)


def _spaced(name: str) -> str:
    """`NGC0598` -> `NGC 598`."""
    match = re.fullmatch(r"([A-Za-z]+)0*(\d+)(.*)", name)
    return f"{match[1]} {match[2]}{match[3]}" if match else name
