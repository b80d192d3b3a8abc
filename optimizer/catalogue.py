"""Names of deep-sky objects looked up offline, in OpenNGC through the pyongc package (data CC BY-SA 4.0).

In: a name as people write it. Out: the catalogue's own name and place. It may import `words` alone, for
models that are given a name and no coordinates ask it while they are validated.
"""

from __future__ import annotations

import difflib
import math
import re
from contextlib import closing
from typing import NamedTuple

from optimizer.words import safe

MOST_SUGGESTIONS = 4
# Spelled-out catalogue names -> the letters that the catalogue knows.
_SPELLED = {
    "messier": "M",
    "caldwell": "C",
    "barnard": "B",
    "melotte": "Mel",
    "collinder": "Cl",
    "index catalogue": "IC",
    "new general catalogue": "NGC",
}


class CatalogueObject(NamedTuple):
    """An object with the catalogue's own name for it, and its place as ICRS degrees (J2000)."""

    name: str
    ra_deg: float
    dec_deg: float


def look_up(name: str) -> CatalogueObject:
    """Look up the object of a name: `M 33`, `Messier 33`, `NGC 7000`, `IC 1805`, `C 14`.

    Raises ValueError where the catalogue lacks it; its text has the nearest names and the remedy.
    """
    found = catalogued(name)
    if found is None:
        near = _nearest(name) if name.isprintable() else []  # half characters crash the search
        hint = f"did you mean {' or '.join(near)}? Else " if near else "check the spelling, or "
        raise ValueError(f"the offline catalogue (OpenNGC) lacks it; {hint}add ra_deg and dec_deg")
    return found


def catalogued(name: str) -> CatalogueObject | None:
    """Look up the object of a name; None where the catalogue lacks it or its place in the sky."""
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


def also_called(name: str, found: CatalogueObject) -> str:
    """Write a name and the catalogue's own, where that is another: `M 33 is NGC 598`, `IC 5070`."""
    same = _spaced("".join(_short(name).split())).casefold() == found.name.casefold()
    return found.name if same else f"{safe(name)} is {found.name}"


def _short(name: str) -> str:
    """`Messier 33` -> `M 33`; anything else as it is, with single blanks."""
    words = " ".join(name.split())
    for spelled, letters in _SPELLED.items():
        if words.lower().startswith(spelled + " "):
            return f"{letters} {words[len(spelled) + 1 :]}"
    return words


def _spaced(name: str) -> str:
    """`NGC0598` -> `NGC 598`."""
    match = re.fullmatch(r"([A-Za-z]+)0*(\d+)(.*)", name)
    return f"{match[1]} {match[2]}{match[3]}" if match else name


def _nearest(name: str) -> list[str]:
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
            return [f'"{_spaced(row[0])}"' for row in called]
        letters = re.match(r"[A-Za-z]*", wanted.replace(" ", ""))
        prefix = letters[0] if letters else ""
        rows = catalogue.execute(
            "SELECT name FROM objects WHERE upper(name) LIKE ?", (f"{prefix.upper()}%",)
        ).fetchall()
    names = {_spaced(row[0]).lower(): _spaced(row[0]) for row in rows}
    near = difflib.get_close_matches(_spaced(wanted.replace(" ", "")).lower(), names, MOST_SUGGESTIONS, 0.8)
    return [f'"{names[match]}"' for match in near]
