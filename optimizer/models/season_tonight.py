"""What a list says of the season in view of which its night was planned."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.models.site import Date, Utc
from optimizer.models.targets import OfGoal


class GoalInSeason(OfGoal):
    """One goal in view of the season: what a sub counts for tonight, and what later nights are to bring.

    `factor` is by how much more (or less, below 1) a sub counts tonight than by itself, to three decimals.
    `later_frames` are the subs that the plans of the later nights take, each night weighed by its odds of
    clear sky, and `later_s` the weighted seconds that they count for.
    """

    factor: Annotated[float, Field(ge=0.001, le=1000)]
    later_frames: Annotated[float, Field(ge=0, le=1e9)]
    later_s: Annotated[float, Field(ge=0, le=1e15)]


class TargetInSeason(Frozen):
    """Why a target is on or off tonight.

    `nights_left` are the nights of the season after this one, and those of other rigs from tonight on, on
    which some goal of it may be shot that was wanted as the season was planned; on `moonlit` of them the Moon
    is up for more than half of the dark.
    """

    target: str
    on: bool
    nights_left: Annotated[int, Field(ge=0)]
    moonlit: Annotated[int, Field(ge=0)]
    last_evening: Date | None
    sentence: Annotated[str, Field(max_length=5000)]


class InSeason(Frozen):
    """The season in view of which a night was planned, and what the night gives it.

    `season_sha256` tells of which request it is, `season_created_utc` when it was planned. `policy`: by which
    values tonight was planned: those of the season, or as without one, scarce hours first or by the weights.
    `rigs`: how many share the season. `nights_after` are the nights after this one, and those of other rigs
    from tonight on; these are the later nights. `with_s` is what tonight's plan and the later nights' plans
    give together to the goals of this request, `without_s` what those give alone: weighted seconds, later
    nights weighed by their odds of clear sky, by the season's `balance`. The two are None, and `targets`
    empty, in a list that goes on with a night.
    """

    season_sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    season_created_utc: Utc
    policy: Literal["season values", "scarce hours", "own weights"]
    balance: Annotated[float, Field(ge=0, le=1)]
    rigs: Annotated[int, Field(ge=1)] = 1
    nights_after: Annotated[int, Field(ge=0)]
    last_evening: Date
    with_s: float | None
    without_s: float | None
    goals: Annotated[tuple[GoalInSeason, ...], FromList]
    targets: Annotated[tuple[TargetInSeason, ...], FromList] = ()
