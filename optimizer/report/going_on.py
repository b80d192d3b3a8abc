"""The words of a list that goes on with a night: from when, and what of tonight is in hand already."""

from __future__ import annotations

from optimizer.models.continues import Begin, Continues
from optimizer.report.words import clock, name


def from_words(continues: Continues | None, zone: str) -> str:
    """What a title adds: from when the list is; empty for the list of a whole night."""
    return "" if continues is None else f", from {clock(continues.begin.utc, zone)} on"


def tonight_words(continues: Continues | None) -> str:
    """What the subs planned are called beside those in hand."""
    return "tonight" if continues is None else "still tonight"


def begun_words(continues: Continues, zone: str) -> str:
    """That the subs in hand have those of this night in them."""
    return f"In hand counts the subs taken tonight before {clock(continues.begin.utc, zone)} as well."


def assumed_words(begin: Begin, zone: str, *, starts: bool = True) -> str:
    """How mount and camera are taken to stand, which a person must verify; `starts`: a list is to begin."""
    verify = "Check that before you start this list." if starts else "Check that."
    if begin.target is None:
        return f"Assumed: mount parked at its home, tracking off. {verify}"
    where = f"on {name(begin.target)}"
    where = f"mount {where}" if begin.pier_side is None else f"tube on pier side {begin.pier_side}, {where}"
    tracks = "tracking"
    if begin.stands_since_utc is not None:
        tracks = f"standing still since {clock(begin.stands_since_utc, zone)}, tracking off"
    return f"Assumed: {where}, {tracks}. {verify}"
