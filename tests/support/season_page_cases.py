"""Seasons for the page: a dense one of any size, and one whose every name is hostile."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import Any

from optimizer.models.base import as_json_data
from optimizer.models.season import (
    GoalFrames,
    Project,
    SeasonFile,
    SeasonNight,
    SeasonVisit,
    TargetOnNight,
)
from tests.support.picture_cases import renamed
from tests.support.season_cases import FIRST, NAMES, PROJECTS, evening, frames, goal, night, project, season

FILTERS = ("L", "R", "G", "B", "Ha")
VISITS = 5


def target(number: int) -> str:
    return f"Target {number:02}"


def _visit(number: int, place: int, targets: int) -> SeasonVisit:
    """The visit at a place of a night; the fourth goes on with the third's target on the other side."""
    own = (7 * number + 3 * min(place, 2 if place == 3 else place)) % targets
    start = dt.datetime.combine(FIRST + dt.timedelta(days=number), dt.time(18, 30), tzinfo=dt.UTC)
    start += dt.timedelta(hours=2 * place)
    taken = tuple(frames(target(own), each, 4 + place, 300.0) for each in FILTERS[place % 3 : place % 3 + 3])
    return SeasonVisit(
        target=target(own),
        pier_side="west" if place % 2 else "east",
        start_utc=start,
        end_utc=start + dt.timedelta(hours=1, minutes=55),
        frames=taken,
    )


def _night(number: int, targets: int) -> SeasonNight:
    """A full night; target 1 is finished, target 2 is closed by the Moon alone, target 3 by the sky."""
    visits = tuple(_visit(number, place, targets) for place in range(VISITS))
    visits = tuple(each for each in visits if each.target not in {target(n) for n in (1, 2, 3)})
    plan: dict[tuple[str, str], GoalFrames] = {}
    for visit in visits:
        for each in visit.frames:
            before = plan.get((each.target, each.filter))
            count = each.frames + (before.frames if before else 0)
            plan[each.target, each.filter] = each.model_copy(update={"frames": count})
    return night(
        number,
        plan=tuple(plan.values()),
        visits=visits,
        moon_illuminated=abs((number % 30) / 15 - 1),
        moonless_dark_s=40_123.4 * (1 - abs((number % 30) / 15 - 1)),
        odds=0.3 + 0.1 * (number // 30),
        targets=tuple(
            TargetOnNight(
                target=target(each),
                open_s=0.0 if each in (2, 3) else 7_200.0 + 600 * each,
                moonless_s=0.0 if each == 3 else 9_000.0 + 600 * each,
            )
            for each in range(targets)
            if each != 1
        ),
    )


def _project(number: int, nights: int) -> Project:
    half = number * nights // 40
    more: dict[str, Any] = {}
    if number == 1:
        more = {"in_hand_s": 36_000.0, "goals": (goal("Ha", 120, 120, 0),)}
    elif number == 3:
        more = {"nights": 0, "finish_50": None, "finish_90": None, "finish_share": 0.0}
        more["goals"] = (goal("Ha", 120, 18, 0),)
    elif number % 4 == 0:
        more = {"finish_90": None, "finish_share": 0.6}
    else:
        more = {"finish_90": evening(min(nights - 1, half + 5))}
    goals = tuple(goal(each, 24, 5, nights, last_useful_evening=evening(nights - 2)) for each in FILTERS)
    given = {
        "goals": goals,
        "finish_50": evening(half),
        "nights": nights,
        "last_useful_evening": evening(nights - 2),
    }
    return project(target(number), **{**given, **more})


@lru_cache
def dense(nights: int, targets: int) -> SeasonFile:
    """A season in which every night has five visits through three filters each, and nothing is left blank."""
    return season(
        nights=tuple(_night(number, targets) for number in range(nights)),
        projects=tuple(_project(number, nights) for number in range(targets)),
    )


HOSTILE = {
    NAMES[0]: "</text></svg><script>document.title='owned'</script>",
    NAMES[1]: "\"'><img src=x onerror=alert(1)> &amp; \u202egnorw\u202c \u05e9\u05dc\u05d5\u05dd",
    NAMES[2]: "{{ 7 * 7 }}{% raw %} " + "W\u0301" * 130,
    "Old Friend": "</title></style><style>*{display:none}</style>\u2066x",
    "Ha": "]]><b>" + "H" * 290,
    "L": "<!--\u200f-->",
    "Heron Flat": "</bdi></h1><script>1</script>",
    PROJECTS[1].steps[0].sentence: "<a href='javascript:alert(1)'>more</a>",
}


def _with_names(names: dict[str, str]) -> SeasonFile:
    return SeasonFile.model_validate(renamed(as_json_data(season()), names))


@lru_cache
def hostile() -> SeasonFile:
    """A season with names that try to break out of wherever they are put."""
    return _with_names(HOSTILE)


@lru_cache
def renamed_plainly() -> SeasonFile:
    """The same with names as long, so that only what is in them can tell the two apart."""
    return _with_names({old: f"{n}{'n' * (len(new) - 1)}" for n, (old, new) in enumerate(HOSTILE.items())})
