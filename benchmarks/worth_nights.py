"""Twelve invented nights of one imager: real objects, an invented site, a German mount and a wheel of seven.

Lists are LRGB, narrowband or mixed, the Moon is new to full, and some goals are further on than others, as
they are after a few nights. What is wanted is far more than a night holds, as it mostly is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Recipe = dict[str, tuple[int, int]]  # seconds of one sub and subs wanted, by filter

BROADBAND, NARROWBAND = ("L", "R", "G", "B"), ("Ha", "OIII", "SII")
LRGB: Recipe = {"L": (120, 120), "R": (180, 30), "G": (180, 30), "B": (180, 30)}
RGB: Recipe = {"R": (180, 50), "G": (180, 50), "B": (180, 50)}
HALRGB: Recipe = {**LRGB, "Ha": (300, 36)}
SHO: Recipe = {"Ha": (300, 60), "OIII": (300, 60), "SII": (300, 60)}
HOO: Recipe = {"Ha": (300, 72), "OIII": (300, 72)}
STARS: Recipe = {"R": (60, 15), "G": (60, 15), "B": (60, 15)}  # beside a narrowband set, in no set

RIG: dict[str, Any] = {
    "site": {
        "name": "Quiet Ford",
        "latitude_deg": 46.71,
        "longitude_deg": 9.84,
        "elevation_m": 610.0,
        "time_zone": "Europe/Zurich",
        "floor_deg": 28.0,
        "skyline": [[0, 10], [80, 14], [130, 22], [200, 12], [260, 26], [330, 18]],
        "zenith_sky_mag": 21.1,
        "extinction_mag": 0.22,
    },
    "mount": {
        "contact_min": 35,
        "clearance_min": 10,
        "flip_from_min": 5,
        "quiet_min": 5,
        "clock_error_s": 15,
    },
    "camera": {"download_s": 3, "dither_every": 3, "dither_s": 12},
    "focus": {"run_s": 150, "every_min": 90},
    "filters": [
        {"name": "L", "moonlight_mag": 1.0, "moon_gap_deg": 40},
        {"name": "R", "moonlight_mag": 1.5, "moon_gap_deg": 40},
        {"name": "G", "moonlight_mag": 1.5, "moon_gap_deg": 40},
        {"name": "B", "moonlight_mag": 1.2, "moon_gap_deg": 40},
        {"name": "Ha", "kind": "narrowband", "darkness": "nautical", "moon_gap_deg": 25},
        {
            "name": "OIII",
            "kind": "narrowband",
            "moonlight_factor": 1,
            "moonlight_mag": 2.0,
            "moon_gap_deg": 40,
        },
        {"name": "SII", "kind": "narrowband", "darkness": "nautical", "moon_gap_deg": 25},
    ],
}


@dataclass(frozen=True)
class Wanted:
    """A target with its recipe, and with subs that are in hand already, by filter."""

    name: str
    object: str
    recipe: Recipe
    done: dict[str, int] = field(default_factory=dict)
    stars: bool = False

    def target(self) -> dict[str, Any]:
        """The target as a request has it."""
        parts = [(self.recipe, True), *([(STARS, False)] if self.stars else [])]
        goals = [
            {
                "filter": name,
                "exposure_s": exposure_s,
                "frames": frames,
                "done": self.done.get(name, 0) if in_set else 0,
                "in_set": in_set,
            }
            for recipe, in_set in parts
            for name, (exposure_s, frames) in recipe.items()
        ]
        return {"name": self.name, "object": self.object, "goals": goals}


@dataclass(frozen=True)
class WorthNight:
    """One night: its evening, the kind of its list (`mixed`, `LRGB` or `narrowband`), and what is wanted."""

    number: int
    evening: str
    kind: str
    targets: tuple[Wanted, ...]

    def request(self, aim: dict[str, Any]) -> dict[str, Any]:
        """The request as plain data, with an aim of one's own."""
        return {
            "schema": "darkfill-request/1",
            "night": {"evening": self.evening},
            **RIG,
            "targets": [each.target() for each in self.targets],
            "aim": aim,
        }


AUTUMN = (
    Wanted("Cocoon", "IC 5146", HALRGB),
    Wanted("Whirl in Triangulum", "M 33", HALRGB),
    Wanted("Andromeda", "M 31", LRGB),
    Wanted("Heart", "IC 1805", SHO),
    Wanted("Bubble", "NGC 7635", SHO),
    Wanted("Cradle", "NGC 1333", LRGB),
    Wanted("Edge-on in Andromeda", "NGC 891", LRGB),
    Wanted("Elephant's trunk", "IC 1396", HOO),
)
WINTER = (
    Wanted("Rosette", "NGC 2244", SHO, stars=True),
    Wanted("Jellyfish", "IC 443", HOO),
    Wanted("Flaming star", "IC 405", HALRGB),
    Wanted("Bode's pair", "M 81", HALRGB),
    Wanted("Cradle", "NGC 1333", LRGB),
    Wanted("Spiral of the Giraffe", "NGC 2403", LRGB),
    Wanted("California", "NGC 1499", SHO),
    Wanted("Ghosts of M 78", "M 78", LRGB),
)
SPRING = (
    Wanted("Whirlpool", "M 51", LRGB),
    Wanted("Needle", "NGC 4565", LRGB),
    Wanted("Pinwheel", "M 101", LRGB),
    Wanted("Sunflower", "M 63", LRGB),
    Wanted("Whale", "NGC 4631", LRGB),
    Wanted("Black eye", "M 64", LRGB),
    Wanted("Hercules", "M 13", RGB),
)
SUMMER = (
    Wanted("Veil's eastern arc", "NGC 6992", HOO),
    Wanted("Crescent", "NGC 6888", HOO, stars=True),
    Wanted("Pelican", "IC 5070", SHO),
    Wanted("Elephant's trunk", "IC 1396", SHO),
    Wanted("Dumbbell", "M 27", HOO, stars=True),
    Wanted("Wizard", "NGC 7380", SHO),
)


def _further_on(targets: tuple[Wanted, ...], done: dict[str, dict[str, int]]) -> tuple[Wanted, ...]:
    """The same targets, some of which have subs in hand."""
    assert set(done) <= {each.name for each in targets}
    return tuple(
        Wanted(each.name, each.object, each.recipe, done.get(each.name, {}), each.stars) for each in targets
    )


TWELVE = (
    WorthNight(1, "2026-10-10", "mixed", AUTUMN),
    WorthNight(
        2,
        "2026-11-18",
        "mixed",
        _further_on(
            AUTUMN[1:],
            {
                "Whirl in Triangulum": {"Ha": 30, "L": 20},
                "Andromeda": {"L": 90, "R": 30, "G": 20},
                "Heart": {"Ha": 50, "OIII": 12},
                "Edge-on in Andromeda": {"L": 100},
            },
        ),
    ),
    WorthNight(
        3,
        "2026-12-28",
        "mixed",
        _further_on(
            WINTER,
            {
                "Rosette": {"Ha": 40, "SII": 10},
                "Flaming star": {"Ha": 36, "R": 10, "G": 10},
                "Cradle": {"L": 110, "R": 25, "G": 5},
                "Bode's pair": {"L": 60},
            },
        ),
    ),
    WorthNight(4, "2027-02-13", "mixed", (*WINTER[1:4], WINTER[5], *SPRING[:3])),
    WorthNight(5, "2027-01-22", "mixed", WINTER),
    WorthNight(
        6,
        "2026-09-03",
        "mixed",
        _further_on(
            (*SUMMER[:3], *AUTUMN[:3], AUTUMN[6]),
            {
                "Veil's eastern arc": {"Ha": 60, "OIII": 20},
                "Cocoon": {"Ha": 36, "L": 30},
                "Andromeda": {"L": 120, "R": 10},
            },
        ),
    ),
    WorthNight(
        7,
        "2027-03-08",
        "LRGB",
        _further_on(
            SPRING,
            {
                "Whirlpool": {"L": 120, "R": 10},
                "Needle": {"L": 60, "R": 20, "G": 20},
                "Black eye": {"R": 30, "G": 30},
            },
        ),
    ),
    WorthNight(8, "2027-04-13", "LRGB", SPRING),
    WorthNight(
        9,
        "2026-12-05",
        "LRGB",
        _further_on(
            (AUTUMN[2], AUTUMN[5], AUTUMN[6], WINTER[5], WINTER[7]),
            {"Andromeda": {"L": 120, "R": 28, "G": 30}, "Cradle": {"L": 40, "R": 30}},
        ),
    ),
    WorthNight(10, "2026-08-12", "narrowband", SUMMER),
    WorthNight(
        11,
        "2026-10-26",
        "narrowband",
        _further_on(
            (AUTUMN[3], AUTUMN[4], AUTUMN[7], SUMMER[0], SUMMER[2], WINTER[6]),
            {
                "Heart": {"Ha": 60, "OIII": 10, "SII": 30},
                "Bubble": {"Ha": 30},
                "Veil's eastern arc": {"Ha": 72, "OIII": 40},
            },
        ),
    ),
    WorthNight(12, "2026-07-20", "narrowband", SUMMER),
)
