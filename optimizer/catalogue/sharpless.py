"""Sharpless's catalogue of H II regions, all 313 of them; SHARPLESS.md says where the table is from."""

from __future__ import annotations

from functools import cache
from importlib import resources

from optimizer.catalogue.designations import Designation
from optimizer.catalogue.objects import CatalogueObject

SOURCE = "Sharpless's catalogue of 1959, to about 1'"


@cache
def places() -> dict[str, CatalogueObject]:
    """All objects by their numbers as text, `1` to `313`; the table is read once."""
    table = resources.files("optimizer.catalogue").joinpath("sharpless.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in table.splitlines()[1:]]
    return {
        number: CatalogueObject(
            str(Designation("Sh2", number)), float(ra_deg), float(dec_deg), SOURCE, float(arcmin) / 120
        )
        for number, _, _, arcmin, ra_deg, dec_deg in rows
    }
