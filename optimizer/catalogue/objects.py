"""An object of a catalogue, and the catalogue of a user's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from optimizer.catalogue.designations import name_key


class CatalogueObject(NamedTuple):
    """An object with the catalogue's own name for it, and its place as ICRS degrees (J2000).

    `source` says in words where the place is from, if that is not OpenNGC; `radius_deg` is how far the object
    reaches from there, 0 where that is not known.
    """

    name: str
    ra_deg: float
    dec_deg: float
    source: str = ""
    radius_deg: float = 0.0


@dataclass(frozen=True)
class OwnCatalogue:
    """The objects of a user's own file by the keys of their names and aliases (`name_key`).

    `file` is the name of the file for people. Where it could not be read as a `whole`, names that it lacks
    are not missed: what is wrong with the file is told instead. `all_below_24` says that all its right
    ascensions, three or more, were written as plain numbers below 24.
    """

    file: str
    objects: Mapping[str, CatalogueObject]
    whole: bool = True
    all_below_24: bool = False

    def find(self, name: str) -> CatalogueObject | None:
        """The object of that name or alias, however spelled; None where the file has none."""
        return self.objects.get(name_key(name))
