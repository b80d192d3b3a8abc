"""Designations of deep-sky objects, however they are spelled: `Sharpless 2-132`, `SH2-132` -> `Sh2-132`."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from optimizer.words import folded

# Up to this number `Abell 39` means the planetary nebula of Abell's list of 1966, above it the cluster of
# galaxies: the list ends here, and the clusters that people shoot have greater numbers.
LAST_ABELL_PLANETARY = 86
LAST_SHARPLESS = 313


@dataclass(frozen=True)
class Designation:
    """Which catalogue an object stands in, by our word for it, and its number there, with its letter."""

    catalogue: str
    number: str

    def __str__(self) -> str:
        """Write it as this program does: `Sh2-132`, `LDN 1251`, `PN A66 39`."""
        return f"{self.catalogue}{'-' if self.catalogue == 'Sh2' else ' '}{self.number}"


# What each catalogue is called in a sentence.
CALLED = {
    "ACO": "Abell's catalogue of clusters of galaxies",
    "B": "Barnard's catalogue of dark nebulae",
    "Ced": "Cederblad's catalogue of bright nebulae",
    "Gum": "Gum's catalogue of emission nebulae",
    "LBN": "Lynds' catalogue of bright nebulae",
    "LDN": "Lynds' catalogue of dark nebulae",
    "PN A66": "Abell's list of planetary nebulae",
    "RCW": "the RCW catalogue of emission nebulae",
    "Sh2": "Sharpless's catalogue of H II regions",
    "vdB": "van den Bergh's catalogue of reflection nebulae",
}

# Ways to write each catalogue, in small letters; blanks, hyphens and underscores between the words may be
# left out. Of two that fit, the longer one is meant.
_SPELLED: dict[str, tuple[str, ...]] = {
    "ACO": ("aco", "abell cluster", "abell galaxy cluster"),
    "Abell": ("abell", "a"),  # which of the two lists, the number says
    "B": ("b", "barnard"),
    "C": ("c", "caldwell"),
    "Ced": ("ced", "cederblad"),
    "Cl": ("cl", "cr", "collinder"),
    "Gum": ("gum",),
    "H": ("h", "harvard"),
    "HCG": ("hcg", "hickson"),
    "IC": ("ic", "index catalogue"),
    "LBN": ("lbn", "lynds bright nebula", "lynds bright"),
    "LDN": ("ldn", "lynds dark nebula", "lynds dark"),
    "M": ("m", "messier"),
    "MWSC": ("mwsc",),
    "Mel": ("mel", "melotte"),
    "NGC": ("ngc", "new general catalogue"),
    "PGC": ("pgc", "leda"),
    "PN A66": ("pn a66", "a66", "pn a", "pn abell", "abell planetary", "abell pn", "abell planetary nebula"),
    "RCW": ("rcw",),
    "Sh2": ("sh2", "sharpless 2", "sharpless"),
    "UGC": ("ugc",),
    "UGCA": ("ugca",),
    "vdB": ("vdb", "van den bergh"),
}
_BETWEEN = r"[\s_\-]*"
_CATALOGUES = sorted(
    ((spelling, catalogue) for catalogue, spellings in _SPELLED.items() for spelling in spellings),
    key=lambda pair: -len(pair[0]),
)
_NUMBER = r"0*(?P<number>[1-9][0-9]{0,6})(?P<letter>[a-z]?)"
_HYPHENS = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212"), "-")


def _pattern(spelling: str) -> re.Pattern[str]:
    parts = re.sub(r"(?<=[a-z])(?=[0-9])", " ", spelling).split()
    # a digit that belongs to the catalogue must be parted from the number: `Sh213` says too little
    gap = r"[\s_\-]+" if spelling[-1].isdigit() else _BETWEEN
    return re.compile(_BETWEEN.join(parts) + gap + _NUMBER)


_PATTERNS = [(_pattern(spelling), catalogue) for spelling, catalogue in _CATALOGUES]
_GLUED = re.compile(r"sh[\s_\-]*2(?P<number>[1-9][0-9]{0,2})")
_DARK_OR_BRIGHT = re.compile(rf"lynds{_BETWEEN}{_NUMBER}")


def designation(name: str) -> Designation | None:
    """Read a name as a designation; None where it is none, or where it may be one of two."""
    found = meanings(name)
    return found[0] if len(found) == 1 else None


def meanings(name: str) -> tuple[Designation, ...]:
    """All designations that a name may be: none, one, or two where it says too little (`Lynds 1251`)."""
    text = " ".join(unicodedata.normalize("NFKC", name).translate(_HYPHENS).casefold().split())
    for pattern, catalogue in _PATTERNS:
        if match := pattern.fullmatch(text):
            return (_of(catalogue, int(match["number"]), match["letter"]),)
    if match := _DARK_OR_BRIGHT.fullmatch(text):
        number = int(match["number"])
        return _of("LDN", number, match["letter"]), _of("LBN", number, match["letter"])
    if match := _GLUED.fullmatch(text):  # `Sh2132` can be no number 2132, but `Sh213` may be number 213
        one, other = int(match["number"]), int("2" + match["number"])
        return tuple(_of("Sh2", number, "") for number in (one, other) if number <= LAST_SHARPLESS)
    return ()


def _of(catalogue: str, number: int, letter: str) -> Designation:
    if catalogue == "Abell":
        catalogue = "PN A66" if number <= LAST_ABELL_PLANETARY else "ACO"
    return Designation(catalogue, f"{number}{letter.upper() if catalogue in ('NGC', 'IC') else letter}")


def name_key(name: str) -> str:
    """What a name is known by: equal for all spellings of a designation, and for other case and blanks."""
    found = designation(name)
    return folded(name if found is None else str(found))
