"""Keywords of a header -> a `Frame`: which keyword counts for what, and how its value is read.

The FITS Standard reserves OBJECT, DATE-OBS, DATE-BEG, XPOSURE, RADESYS and EQUINOX; all others are habits. So
each field has a list of keywords, of which the first with a usable value counts.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from optimizer.models.angles import degrees_from_text
from optimizer.tally.fits_header import Header, Value
from optimizer.tally.frames import Frame, Kind
from optimizer.tally.times import DATES, TIMES, begun
from optimizer.words import number, shown

OBJECTS = ("OBJECT", "OBJNAME", "TARGET", "TARGNAME")
FILTERS = ("FILTER", "FILTERS", "FILTER1", "FILTER2", "FILTER3", "FILTNAM", "INSFLNAM")
EXPOSURES = ("EXPTIME", "EXPOSURE", "XPOSURE")
KINDS = ("IMAGETYP", "OBSTYPE", "FRAME")
PLACES = (("RA", "DEC"), ("OBJCTRA", "OBJCTDEC"))
EQUINOXES, SYSTEMS = ("EQUINOX", "EPOCH"), ("RADESYS", "RADECSYS")
BINNINGS = (("XBINNING", "YBINNING"), ("BINNING", ""), ("CCDSUM", ""))
STACKED = "NCOMBINE"
WANTED = frozenset(
    (
        *(*OBJECTS, *FILTERS, *EXPOSURES, *KINDS, *DATES, *TIMES, "TIMESYS", *EQUINOXES, *SYSTEMS),
        *(key for pair in (*PLACES, *BINNINGS) for key in pair if key),
        *("GAIN", "OFFSET", "PIERSIDE", STACKED),
    )
)
_NOTHING = {"", "-", "none", "null", "n/a", "unknown", "undefined"}
_NO_GLASS = {"open", "clear", "empty", "air", "blank"}
_KIND_WORDS: tuple[tuple[str, Kind], ...] = (  # the first that is found counts: a dark flat is a dark
    ("master|stack|integrat", "other"),
    ("bias|zero|offset", "bias"),
    ("dark", "dark"),
    ("flat", "flat"),
    (r"light|object|science|sci\b", "light"),
)


def frame_of(path: Path, size_bytes: int, header: Header) -> Frame:
    """Make the frame that a header tells of; `size_bytes` is the length of its file."""
    fields = _Fields(header)
    place = fields.place()
    equinox, radesys = fields.system()
    taken = begun(header.cards)
    if taken.keyword:
        fields.used["taken_utc" if taken.utc else "date_obs"] = taken.keyword
    fields.odd.extend(taken.odd)
    return Frame(
        path=path,
        name=path.name,
        size_bytes=size_bytes,
        kind=fields.kind(),
        object=fields.text("object", OBJECTS),
        filter=fields.filter(),
        exposure_s=fields.number("exposure_s", EXPOSURES, least=0.0),
        taken_utc=taken.utc,
        date_obs=taken.text,
        ra_deg=place[0],
        dec_deg=place[1],
        equinox=equinox,
        radesys=radesys,
        gain=fields.number("gain", ("GAIN",)),
        offset=fields.number("offset", ("OFFSET",)),
        binning=fields.binning(),
        pier_side=fields.pier_side(),
        used=MappingProxyType(fields.used),
        odd=tuple(fields.odd),
    )


class _Fields:
    """Fields of one header, and beside them which keywords they came from and which could not be used."""

    def __init__(self, header: Header) -> None:
        self.cards = header.cards
        self.used: dict[str, str] = {}
        self.odd = list(header.odd)

    def refuse(self, key: str, what: str) -> None:
        self.odd.append(f"{key} = {_shown(self.cards[key])} is {what}")

    def text(self, field: str, keys: tuple[str, ...]) -> str | None:
        """The first of these keywords that names something; numbers are written out."""
        for key in keys:
            text = self._named(key)
            if text is not None:
                self.used[field] = key
                return text
        return None

    def _named(self, key: str) -> str | None:
        value = self.cards.get(key)
        if value is None:
            return None
        if isinstance(value, bool | complex):
            self.refuse(key, "no name")
            return None
        text = value.strip() if isinstance(value, str) else number(value)
        return None if text.casefold() in _NOTHING else text

    def filter(self) -> str | None:
        """The filter; of several wheels, the first that does not stand on an empty place."""
        named = {key: text for key in FILTERS if (text := self._named(key)) is not None}
        for key, text in named.items():
            if text.casefold() not in _NO_GLASS:
                self.used["filter"] = key
                return text
        for key, text in named.items():
            self.used["filter"] = key
            return text
        return None

    def kind(self) -> Kind:
        """What the frame is; a result of several frames is none that counts."""
        combined = self.cards.get(STACKED)
        if isinstance(combined, int | float) and combined > 1:
            self.used["kind"] = STACKED
            return "other"
        other = ""
        for key in KINDS:
            value = self.cards.get(key)
            text = value.casefold().replace("_", " ") if isinstance(value, str) else ""
            for words, kind in _KIND_WORDS:
                if re.search(words, text):
                    self.used["kind"] = key
                    return kind
            # FRAME may as well name a system of coordinates, or count
            if text.strip() not in _NOTHING and key != "FRAME":
                other = other or key
        if other:
            self.used["kind"] = other
            return "other"
        return "unknown"

    def number(self, field: str, keys: tuple[str, ...], least: float = -math.inf) -> float | None:
        """The first of these keywords that has a finite number, at least so great; it may stand in quotes."""
        for key in keys:
            value = self.cards.get(key)
            if value is None or (isinstance(value, str) and value.strip().casefold() in _NOTHING):
                continue
            found = _number(value)
            if found is None or found < least:
                self.refuse(key, "no number" if found is None else f"less than {number(least)}")
                continue
            self.used[field] = key
            return found
        return None

    def place(self) -> tuple[float, float] | tuple[None, None]:
        """Right ascension and declination in degrees, both from the same pair of keywords."""
        for ra_key, dec_key in PLACES:
            values = [self.cards.get(key) for key in (ra_key, dec_key)]
            if any(
                value is None or (isinstance(value, str) and value.strip().casefold() in _NOTHING)
                for value in values
            ):
                continue
            ra, dec = self._angle(ra_key, "ra"), self._angle(dec_key, "dec")
            if ra is not None and dec is not None:
                self.used["ra_deg"], self.used["dec_deg"] = ra_key, dec_key
                return ra % 360, dec
        return None, None

    def _angle(self, key: str, axis: Literal["ra", "dec"]) -> float | None:
        value, most = self.cards[key], 360 if axis == "ra" else 90
        try:
            if isinstance(value, str):
                degrees = degrees_from_text(value, colon_means_hours=axis == "ra", axis=axis)
            else:
                degrees = math.nan if isinstance(value, bool | complex | None) else float(value)
        except (ValueError, OverflowError) as error:
            why = str(error).partition(";")[0]
            self.odd.append(f"{key} = {_shown(value)} cannot be used: {why}")
            return None
        if not -most <= degrees <= most:
            self.refuse(key, "no place in the sky")
            return None
        return degrees

    def system(self) -> tuple[float | None, str | None]:
        """Equinox and system of the place; a place of date is in the system GAPPT, as the standard has it."""
        radesys = self.text("radesys", SYSTEMS)
        for key in EQUINOXES:
            value = self.cards.get(key)
            text = value.strip().casefold() if isinstance(value, str) else ""
            if text in ("jnow", "now", "date", "of date", "apparent"):
                self.used["radesys"] = key
                return None, "GAPPT"
            year = _number(re.sub("^[bj]", "", text) if text else value)
            if year is not None and 1800 <= year <= 2200:
                self.used["equinox"] = key
                return year, radesys and radesys.upper()
            if value is not None and (text if isinstance(value, str) else value) not in _NOTHING:
                self.refuse(key, "no year of an equinox")
        return None, radesys and radesys.upper()

    def binning(self) -> int | None:
        """Pixels of the camera along one side of a pixel of the image, where both sides have as many."""
        for key, other in BINNINGS:
            value, beside = self.cards.get(key), self.cards.get(other)
            if value is None:
                continue
            texts = value if isinstance(value, str) else _shown(value if beside is None else [value, beside])
            sides = {int(digits) for digits in re.findall(r"\d+", re.sub(r"\.0*\b", "", texts))}
            if len(sides) != 1 or not 1 <= min(sides) <= 64:
                self.refuse(key, "no binning that is the same both ways")
                continue
            self.used["binning"] = key
            return sides.pop()
        return None

    def pier_side(self) -> Literal["west", "east"] | None:
        """The pier side, where the header names one of the two."""
        value = self.cards.get("PIERSIDE")
        text = value.strip().casefold() if isinstance(value, str) else ""
        west, east = (text == side[0] or side in text for side in ("west", "east"))
        if west == east:
            return None
        self.used["pier_side"] = "PIERSIDE"
        return "west" if west else "east"


def _number(value: Value) -> float | None:
    """The finite number that a value is, or that a text is with nothing else but seconds as its unit."""
    if isinstance(value, str):
        value = re.sub(r"\s*(s|sec|seconds)\s*$", "", value, flags=re.IGNORECASE).strip()
        if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([EeDd][+-]?\d+)?", value):
            return None
        value = float(value.upper().replace("D", "E"))
    if value is None or isinstance(value, bool | complex):
        return None
    try:
        found = float(value)
    except OverflowError:
        return None
    return found if math.isfinite(found) else None


def _shown(value: object) -> str:
    return str(value) if isinstance(value, complex) else shown(value)
