"""Lists of 10, 30 and 60 targets for seasons: an invented site and rig, real objects spread over the sky.

Each target wants 5 to 20 hours through five filters, and every third has some of its frames in hand. The rig
and the site are those of the twelve nights of `benchmarks/worth_nights.py`. With clear sky in three nights
of ten, 90 nights hold about as many hours as 30 targets want (30 nights as 10): targets contend for them.
"""

from __future__ import annotations

from typing import Any, Literal

from benchmarks.worth_nights import RIG, Wanted
from optimizer.models.request import Request
from optimizer.reading.load import request_from_data

OBJECTS = (
    *("IC 5146", "NGC 1333", "NGC 2244", "M 51", "M 81", "M 33", "NGC 6992", "NGC 4565", "IC 1396", "M 78"),
    *("M 31", "IC 1805", "NGC 7635", "NGC 891", "IC 443", "IC 405", "NGC 2403", "NGC 1499", "M 101", "M 63"),
    *("NGC 4631", "M 64", "M 106", "NGC 3628", "NGC 2903", "NGC 6888", "IC 5070", "M 27", "NGC 7380", "M 42"),
    *("NGC 281", "IC 1848", "NGC 7331", "NGC 2264", "NGC 2174", "NGC 1491", "IC 342", "NGC 6946", "NGC 7023"),
    *("NGC 2237", "IC 410", "IC 434", "NGC 2359", "M 65", "M 97", "NGC 3718", "NGC 4236", "NGC 5907", "M 13"),
    *("M 3", "NGC 4559", "NGC 4725", "M 100", "M 104", "M 74", "M 77", "NGC 253", "NGC 7000", "M 45", "M 1"),
)
SHARES = {"L": 0.40, "R": 0.12, "G": 0.12, "B": 0.12, "Ha": 0.24}  # of a target's hours
EXPOSURES_S = {"L": 120, "R": 180, "G": 180, "B": 180, "Ha": 300}
IN_HAND = {"L": 0.6, "R": 0.3, "Ha": 0.5}  # shares of what is wanted, on every third target
FIRST = "2026-11-01"


def wanted_of(number: int) -> Wanted:
    """The target of this number: 5 to 20 hours, of which some filters have frames in hand on every third."""
    hours = 5 + 7 * number % 16
    recipe = {
        name: (exposure_s, round(3600 * hours * SHARES[name] / exposure_s))
        for name, exposure_s in EXPOSURES_S.items()
    }
    done = {name: int(share * recipe[name][1]) for name, share in IN_HAND.items()} if number % 3 == 2 else {}
    return Wanted(f"{number + 1:02} {OBJECTS[number]}", OBJECTS[number], recipe, done)


def season_data(
    targets: int,
    nights: int,
    value: Literal["hours", "depth"] = "hours",
    balance: float = 0.0,
    odds: float | tuple[float, ...] = 0.3,
    first: str = FIRST,
) -> dict[str, Any]:
    """The request of a season of so many targets (at most 60) and nights as plain data."""
    return {
        "schema": "darkfill-request/1",
        "night": {"evening": first},
        **RIG,
        "targets": [wanted_of(number).target() for number in range(targets)],
        "aim": {"value": value, "balance": balance, "scarcity": 0},
        "season": {"nights": nights, "clear_odds": odds},
    }


def season_request(
    targets: int,
    nights: int,
    value: Literal["hours", "depth"] = "hours",
    balance: float = 0.0,
    odds: float | tuple[float, ...] = 0.3,
    first: str = FIRST,
) -> Request:
    """The same as a request."""
    data = season_data(targets, nights, value, balance, odds, first)
    return request_from_data(data, f"season of {targets} targets")
