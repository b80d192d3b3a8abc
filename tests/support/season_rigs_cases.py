"""Seasons of several rigs written by hand: two at one place, and any number of them, the last one far away."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from optimizer.models.base import as_json_data
from optimizer.models.request import Request
from optimizer.models.season import Project, RigOfSeason, SeasonFile, SeasonNight, SeasonStep
from tests.support.picture_cases import renamed
from tests.support.report_cases import a_request
from tests.support.season_cases import NAMES, NOTHING, PROJECTS, frames, night, project, season
from tests.support.season_page_cases import dense, target

NORTH, WIDE = "north", "=wide"
FAR = {
    "name": "Far Ridge",
    "latitude_deg": 30.0,
    "longitude_deg": -99.0,
    "floor_deg": 30.0,
    "time_zone": "America/Chicago",
}


def rig(name: str, request: Request | None = None) -> RigOfSeason:
    request = request or a_request()
    return RigOfSeason(name=name, request=request, request_sha256="a" * 64, counts_sha256="b" * 64)


def step(change: str, of: str | None, finished: float, value_h: float, seasons: int = 200) -> SeasonStep:
    return SeasonStep.model_validate(
        {
            "change": change,
            "rig": of,
            "finished": finished,
            "finished_without": 2.3,
            "value_s": 3600 * value_h,
            "value_without_s": 430_000.0,
            "seasons": seasons,
            "sentence": f"{change} of {of}",
        }
    )


ONE_RIG_STEPS = (step("rig_more", "rig", 3.1, 160.0), step("week_less", None, 1.9, 101.0))
STEPS = (
    step("rig_more", NORTH, 3.1, 160.0),
    step("rig_more", WIDE, 2.6, 150.0),
    step("rig_less", NORTH, 1.0, 50.0),
    step("rig_less", WIDE, 1.8, 80.0),
    step("week_less", None, 1.9, 101.0),
)


def nights(number: int) -> tuple[SeasonNight, SeasonNight]:
    """One evening: both visits by the north rig; the wide one has the second of them, and less to gain."""
    north = night(number, rig=NORTH)
    taken = (frames(NAMES[1], "Ha", 12),)
    (_, later) = north.visits
    wide = night(
        number,
        rig=WIDE,
        odds=0.4,
        dark_s=36_000.0,
        plan=taken,
        visits=(later.model_copy(update={"frames": taken}),),
        targets=north.targets[1:],
        worth_s=5_400.0,
    )
    return north, wide


def two_rigs(**changes: Any) -> SeasonFile:
    """Four evenings of two rigs at one place; the last evening has no plan, the wide rig one target."""
    *some, (north, wide) = (nights(number) for number in range(4))
    last = tuple(each.model_copy(update=NOTHING) for each in (north, wide))
    rigs = {NAMES[1]: (NORTH, WIDE)}
    given: dict[str, Any] = {
        "rigs": (rig(NORTH), rig(WIDE)),
        "nights": tuple(each for pair in (*some, last) for each in pair),
        "projects": tuple(
            each.model_copy(update={"rigs": rigs.get(each.target, (NORTH,))}) for each in PROJECTS
        ),
        "steps": STEPS,
    }
    return season(**{**given, **changes})


@lru_cache
def dense_rigs(number_of_nights: int, targets: int, rigs: int) -> SeasonFile:
    """A season in which each rig has five visits a night; each but the first lacks every fourth target."""
    base = dense(number_of_nights, targets)
    names = tuple(f"rig {chr(ord('A') + number)}" for number in range(rigs))
    far = a_request(site=FAR)
    return base.model_copy(
        update={
            "rigs": tuple(rig(name, far if name == names[-1] else None) for name in names),
            "nights": tuple(
                _of_rig(each, name, place, targets)
                for each in base.nights
                for place, name in enumerate(names)
            ),
            "projects": tuple(_for(each, number, names) for number, each in enumerate(base.projects)),
            "steps": tuple(step("rig_more", name, 3.0 + n, 160.0 + n) for n, name in enumerate(names)),
        }
    )


def lacks(place: int, number: int) -> bool:
    """Whether a rig, by its place, has not the target of that number."""
    return place > 0 and number % 4 == place % 4


def _for(own: Project, number: int, names: tuple[str, ...]) -> Project:
    rigs = tuple(name for place, name in enumerate(names) if not lacks(place, number))
    return own.model_copy(update={"rigs": rigs})


def _of_rig(base: SeasonNight, name: str, place: int, targets: int) -> SeasonNight:
    own = {target(number) for number in range(targets) if not lacks(place, number)}
    return base.model_copy(
        update={
            "rig": name,
            "worth_s": base.worth_s * (1 + place),
            "plan": tuple(each for each in base.plan if each.target in own),
            "visits": tuple(each for each in base.visits if each.target in own),
            "targets": tuple(each for each in base.targets if each.target in own),
        }
    )


HOSTILE_RIGS = {NORTH: "</option><script>1</script>\u202e", WIDE: "|,- {{ 7 * 7 }}\" onfocus='x"}


@lru_cache
def hostile_rigs() -> SeasonFile:
    """Two rigs with names that try to break out of wherever they are put."""
    return SeasonFile.model_validate(renamed(as_json_data(two_rigs()), HOSTILE_RIGS))


def idle_project(name: str) -> Project:
    """A project that both rigs have, and none has in a plan."""
    return project(name, rigs=(NORTH, WIDE), planned_s=0.0)
