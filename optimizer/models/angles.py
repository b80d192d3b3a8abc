"""Sexagesimal text to degrees: `03h29m11s`, `+31d18m36s`, `3:29:11`, `38°55'17"N`."""

from __future__ import annotations

import re

_PATTERN = re.compile(
    r"""^\s*(?P<sign>[+\-\u2212]?)\s*
    (?P<whole>\d{1,3}(?:\.\d+)?)\s*(?:(?P<unit>[hd°:])\s*
    (?:(?P<minutes>\d{1,2}(?:\.\d+)?)\s*(?:[m'′:]\s*
    (?:(?P<seconds>\d{1,2}(?:\.\d+)?)\s*(?:s|"|″)?)?)?)?)?
    \s*(?P<hemisphere>[NSEW]?)\s*$""",
    re.VERBOSE,
)


def degrees_from_text(text: str, *, colon_means_hours: bool = False) -> float:
    """Degrees from sexagesimal text.

    `h` marks hours (15 degrees each), `d` or the degree sign marks degrees; a colon means hours only
    where `colon_means_hours` is set (right ascension). N, E are positive, S, W negative.

    Raises ValueError with the remedy in its text.
    """
    match = _PATTERN.match(text)
    if match is None:
        raise ValueError(f"{text!r} is not an angle")
    parts = match.groupdict()
    minutes, seconds = float(parts["minutes"] or 0), float(parts["seconds"] or 0)
    if minutes >= 60 or seconds >= 60:
        raise ValueError(f"{text!r}: minutes and seconds must be below 60")
    if "." in parts["whole"] and parts["minutes"] or "." in (parts["minutes"] or "") and parts["seconds"]:
        raise ValueError(f"{text!r}: only the last part may have decimals")
    if parts["sign"] and parts["hemisphere"]:
        raise ValueError(f"{text!r}: give a sign or a letter N, S, E, W, not both")
    value = float(parts["whole"]) + minutes / 60 + seconds / 3600
    if parts["unit"] == "h" or (parts["unit"] == ":" and colon_means_hours):
        value *= 15
    negative = parts["sign"] in ("-", "\u2212") or parts["hemisphere"] in ("S", "W")
    return -value if negative else value
