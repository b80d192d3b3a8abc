"""The season: what a request asks of it, and the file that tells how it is planned."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from typing import Annotated, Any, Final, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen, as_json_data
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.season_asked import SeasonAsked
from optimizer.models.shots import Tool
from optimizer.models.site import Date, Night, Utc
from optimizer.models.targets import OfGoal

SEASON_SCHEMA: Final = "darkfill-season/1"
Share = Annotated[float, Field(ge=0, le=1)]

__all__ = ["SEASON_SCHEMA", "SeasonAsked", "SeasonFile"]


class GoalFrames(OfGoal):
    """Frames of one goal that a night's plan takes, if the night is clear.

    `counted_s`: weighted seconds that they count for as the aim has it; told of a night's whole plan alone.
    """

    frames: Annotated[int, Field(ge=1)]
    counted_s: Annotated[float, Field(ge=0)] | None = None


class SeasonVisit(Frozen):
    """A stay on one target and pier side in a night's plan, from its slew or flip to its last tail.

    `frames` tells how many are taken through each filter, in the order in which they are first used.
    """

    target: str
    pier_side: PierSide | None
    start_utc: Utc
    end_utc: Utc
    frames: Annotated[tuple[GoalFrames, ...], FromList]


class TargetOnNight(Frozen):
    """What a night's sky offers a target: seconds in which some wanted goal of it may be shot.

    `moonless_s`: the same if the Moon closed nothing.
    """

    target: str
    open_s: float
    moonless_s: float


class SeasonNight(Frozen):
    """One night of one rig: its odds, its sky, and its real plan, which the audit passed.

    `value_s`: weighted seconds that the season would lose without this plan. `worth_s`: by how much one more
    clear night like it raises the bound, at most. `broken_rules`: rules of the audit that its plan broke, a
    defect of the software; the plan was not kept.
    """

    rig: str
    evening: Date
    odds: Share
    dark_s: float
    moon_illuminated: Share
    moonless_dark_s: float
    dusk_utc: Utc | None
    dawn_utc: Utc | None
    plan: Annotated[tuple[GoalFrames, ...], FromList]
    visits: Annotated[tuple[SeasonVisit, ...], FromList]
    targets: Annotated[tuple[TargetOnNight, ...], FromList]
    value_s: float
    worth_s: float
    broken_rules: Annotated[tuple[str, ...], FromList] = ()


class ProjectGoalState(Frozen):
    """One goal over the season: frames wanted, in hand, planned (weighted by odds), and expected to be left.

    `nights` can serve it, those of all rigs that have it counted together, `moonlit` of them with the Moon up
    for more than half of the dark; the last of them is `last_useful_evening`. Gain, offset and binning are
    those of the first such rig. All these nights together, clear and all its own, hold `most` frames of it at
    most; `cannot`: it lacks more, so no weather finishes it. `left_after` is the mean over the sampled
    seasons.
    """

    filter: str
    exposure_s: float
    gain: int | None = None
    offset: int | None = None
    binning: int = 1
    wanted: int
    in_hand: int
    planned: float
    nights: int
    last_useful_evening: Date | None
    left_after: float | None
    moonlit: int = 0
    most: int | None = None
    cannot: bool = False


class ProjectStep(Frozen):
    """What one step would change for a project that is likely not to be finished.

    `finish_share`: with the step, of those sampled seasons of which the sentence speaks.
    """

    change: Literal["clear_night", "half_the_frames"]
    sentence: str
    finish_share: Share | None


class Project(Frozen):
    """One target over the season, in seconds of open shutter; `rigs` are those that shoot it.

    `nights` can serve some goal of it that lacks subs, those of all its rigs counted together, `moonlit` of
    them with the Moon up for more than half of the dark; some such goal may be shot in `open_s` seconds of
    all nights together. `cannot`: what it lacks does not fit into these, or one of its goals cannot be
    finished, so no weather finishes it.
    `finish_50`, `finish_90`: the evening by which it is finished in so many per cent of the sampled seasons;
    None: in fewer than that many it is finished at all. `finish_share`: in how many it is.
    """

    target: str
    rigs: Annotated[tuple[str, ...], FromList]
    weight: float
    wanted_s: float
    in_hand_s: float
    planned_s: float
    nights: int
    moonlit: int = 0
    last_useful_evening: Date | None
    finish_50: Date | None
    finish_90: Date | None
    finish_share: Share | None
    left_after: float | None  # seconds, the mean over the sampled seasons
    open_s: float | None = None
    cannot: bool = False
    goals: Annotated[tuple[ProjectGoalState, ...], FromList]
    steps: Annotated[tuple[ProjectStep, ...], FromList] = ()


class FrameValue(OfGoal):
    """What one frame of a goal is worth tonight in view of the season, in weighted seconds, shot by a rig."""

    rig: str = "rig"
    worth_s: Annotated[float, Field(ge=0)]
    own_s: Annotated[float, Field(gt=0)]  # what it is worth by itself: exposure times weight


class SeasonProof(Frozen):
    """How near the plans of all nights together are to the best: odds-weighted, undiscounted.

    `value` and `bound` in weighted seconds; `gap` is (bound - value) / value.
    """

    by: Literal["hours", "depth"]
    balance: float
    value: float
    bound: float
    gap: float
    ended: Literal["gap", "rounds", "time", "settled", "interrupted"]
    rounds: int
    seconds: float


class SeasonPolicy(Frozen):
    """What is to be expected of the season, by simulating how each clear night is planned.

    `share_of_bound`: mean value of the sampled seasons as a share of the mean bound of seasons whose weather
    is known beforehand; `share_low`, `share_high` hold 80 % of them.
    """

    name: Literal["scarce hours", "own weights", "season values"]
    seasons: int
    seed: int
    persistence: float
    share_of_bound: float
    share_low: float
    share_high: float
    mean_value_s: float
    seconds: float


class MonthWorth(Frozen):
    """By how much at most one more clear night of a month raises the bound: weighted seconds, on average.

    `nights` are those of all rigs together, as are the `clear_nights` to be expected of them.
    """

    month: Annotated[str, Field(pattern=r"^\d{4}-\d{2}$")]
    nights: int
    clear_nights: float
    worth_s: float


class SeasonStep(Frozen):
    """What one step would change for the whole season, by the same sampled weathers with it and without.

    `rig_more`: one more rig like `rig`; `rig_less`: without that rig; `week_less`: without the last seven
    nights. `finished` and `finished_without` are how many projects are finished at the end, `value_s` and
    `value_without_s` the weighted seconds that the season brings, each the mean over `seasons` weathers.
    """

    change: Literal["rig_more", "rig_less", "week_less"]
    rig: str | None
    finished: float
    finished_without: float
    value_s: float
    value_without_s: float
    seasons: int
    sentence: str


class RigOfSeason(Frozen):
    """One rig of a season: what was asked of it.

    `request_sha256` is of the request, all but what is in hand, the evening and the limits. `elsewhere` has
    for each goal of the request, in its order, the subs in hand that other rigs took; empty: none.
    """

    name: str
    request: Request
    request_sha256: str
    counts_sha256: str
    elsewhere: Annotated[tuple[int, ...], FromList] = ()


class SeasonFile(Frozen):
    """A whole season as the file STEM.season.json has it.

    `rigs` are in the order in which they were named; `nights` in that of their evenings, and of the rigs on
    each of these.
    """

    schema_: Literal["darkfill-season/1"] = Field(alias="schema")
    tool: Tool
    created_utc: Utc
    rigs: Annotated[tuple[RigOfSeason, ...], FromList, Field(min_length=1)]
    nights: Annotated[tuple[SeasonNight, ...], FromList]
    projects: Annotated[tuple[Project, ...], FromList]
    values: Annotated[tuple[FrameValue, ...], FromList]
    months: Annotated[tuple[MonthWorth, ...], FromList]
    proof: SeasonProof
    policy: SeasonPolicy | None
    steps: Annotated[tuple[SeasonStep, ...], FromList] = ()

    @property
    def request(self) -> Request:
        """The request of the first rig."""
        return self.rigs[0].request

    @property
    def request_sha256(self) -> str:
        """The SHA-256 by which the season knows that request."""
        return self.rigs[0].request_sha256

    def first_request(self, rig: str = "") -> Request:
        """A rig's request as it was planned, on the first of the nights; no such name: the first rig's."""
        own = next((each.request for each in self.rigs if each.name == rig), self.request)
        evening = dt.date.fromisoformat(self.nights[0].evening)
        night = own.night if evening == own.night.evening else Night(evening=evening)
        return own.model_copy(update={"night": night})


def kept_of(request: Request) -> dict[str, Any]:
    """What of a request a season stands and falls with, as plain data.

    That leaves out what changes by the night: subs in hand, tally, evening and what is known of that night,
    limits of the search, and the nights of the season with their odds.
    """
    data = as_json_data(request)
    for target in data["targets"]:
        for goal in target["goals"]:
            del goal["done"]
    for key in ("tally", "night", "season"):
        del data[key]
    for key in ("time_limit_s", "gap", "seed", "workers"):
        del data["aim"][key]
    return data


def request_sha256(request: Request) -> str:
    """The SHA-256 by which a season knows its request, as 64 hexadecimal digits: of what `kept_of` keeps."""
    data = kept_of(request)
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def counts_sha256(request: Request) -> str:
    """The SHA-256 of what is in hand of all goals, in the order of the request."""
    text = json.dumps([goal.done for _, goal in request.goals()])
    return hashlib.sha256(text.encode()).hexdigest()
