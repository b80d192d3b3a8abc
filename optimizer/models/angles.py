"""Degrees from sexagesimal text: `03h29m11s`, `+31d18m36s`, `3:29:11`, `03 29 11`, `38°55'17"N`."""

from __future__ import annotations

import re
from typing import Literal

from optimizer.words import quoted

Axis = Literal["ra", "dec", "latitude", "longitude"]

_PATTERN = re.compile(
    r"""\s*(?P<sign>[+\-\u2212]?)\s*
    (?P<whole>[0-9]{1,3}(?:\.[0-9]+)?)\s*(?:(?P<unit>[hd°:])\s*
    (?:(?P<minutes>[0-9]{1,2}(?:\.[0-9]+)?)\s*(?:[m'′’:]\s*
    (?:(?P<seconds>[0-9]{1,2}(?:\.[0-9]+)?)\s*(?:s|"|″|”|'')?)?)?)?)?
    \s*(?P<hemisphere>[NSEW]?)\s*""",
    re.VERBOSE,
)
_LIKE: dict[Axis, str] = {
    "ra": '"03h29m11s" or "52.297d"',
    "dec": '"+31d18m36s"',
    "latitude": '"38d55m12s" or "38d55m12sN"',
    "longitude": '"-3d06m36s" or "3d06m36sW"',
}
COMMA = "a comma does not mark decimals"
_LETTERS: dict[Axis, str] = {"ra": "", "dec": "", "latitude": "NS", "longitude": "EW"}


def degrees_from_text(text: str, *, colon_means_hours: bool = False, axis: Axis | None = None) -> float:
    """Read degrees from sexagesimal text.

    `h` marks hours (15 degrees each), `d` or the degree sign marks degrees; a colon or bare spaces mean
    hours only where `colon_means_hours` is set (right ascension). N, E are positive, S, W negative.
    With `axis` given, only what makes sense there is taken: hours and no bare number for `ra`, N and S for
    `latitude`, E and W for `longitude`; without it everything is.

    Raises ValueError, whose text is what is wrong, a semicolon, and the remedy.
    """
    remedy = f"write it like {_LIKE[axis] if axis else _LIKE['dec']}"
    # catalogues print "03 29 11.3"; spaces between numbers say the same as colons
    match = _PATTERN.fullmatch(re.sub(r"(?<=[0-9])\s+(?=[0-9])", ":", text.strip()))
    if match is None:
        if "," in text:
            raise ValueError(f"{COMMA}; {_without_comma(text, colon_means_hours, axis, remedy)}")
        raise ValueError(f"this is not an angle; {remedy}")
    parts = match.groupdict()
    minutes, seconds = float(parts["minutes"] or 0), float(parts["seconds"] or 0)
    if minutes >= 60 or seconds >= 60:
        raise ValueError("minutes and seconds must be below 60; carry the rest over to the number before")
    if ("." in parts["whole"] and parts["minutes"]) or ("." in (parts["minutes"] or "") and parts["seconds"]):
        raise ValueError("only the last number may have decimals; round the ones before it")
    if parts["sign"] and parts["hemisphere"]:
        raise ValueError("it has a sign and a letter; keep one of the two")
    hours = parts["unit"] == "h" or (parts["unit"] == ":" and colon_means_hours)
    if axis is not None:
        _refuse_wrong_axis(axis, parts["unit"], parts["hemisphere"], remedy)
    value = (float(parts["whole"]) + minutes / 60 + seconds / 3600) * (15 if hours else 1)
    negative = parts["sign"] in ("-", "\u2212") or parts["hemisphere"] in ("S", "W")
    return -value if negative else value


def _without_comma(text: str, colon_means_hours: bool, axis: Axis | None, remedy: str) -> str:
    """The remedy for text with a comma: the text with a point, where that is an angle on this axis."""
    pointed = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text.strip())
    try:
        if pointed.count(".") > text.count("."):
            degrees_from_text(pointed, colon_means_hours=colon_means_hours, axis=axis)
            return f"write {quoted(pointed)}, with a point"
    except ValueError:
        pass
    return f"{remedy}, decimals with a point"


def _refuse_wrong_axis(axis: Axis, unit: str | None, letter: str, remedy: str) -> None:
    if axis == "ra" and unit is None:
        raise ValueError(f"it does not say whether it counts hours or degrees; {remedy}")
    if axis != "ra" and unit == "h":
        raise ValueError(f"only right ascensions are counted in hours; {remedy}")
    if letter and letter not in _LETTERS[axis]:
        raise ValueError(f"the letter {letter} makes no sense here; {remedy}")
