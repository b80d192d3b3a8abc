"""What is to be imaged, how much of it, and what counts as best."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from optimizer.catalogue.lookup import look_up
from optimizer.catalogue.objects import OwnCatalogue
from optimizer.models.base import (
    Degrees,
    FromList,
    Frozen,
    KeyedError,
    Name,
    Readable,
    SecondsPositive,
    Unreadable,
)
from optimizer.models.site import with_degrees

SAME_SHARE, SAME_S = 0.01, 0.5  # exposures as near as the larger of the two are the same


def same_exposure(goal_s: float, exposure_s: float) -> bool:
    """Whether a sub of the second exposure counts for a goal of the first, both in seconds."""
    return abs(goal_s - exposure_s) <= max(SAME_S, SAME_SHARE * goal_s) + 1e-9


MOST_FRAMES = 100_000


class Goal(Frozen):
    """A number of equal exposures through one filter."""

    filter: Name = Field(description="name of one of the filters")
    exposure_s: SecondsPositive = Field(description="open-shutter time of one sub")
    frames: Annotated[int, Field(ge=1, le=MOST_FRAMES)] = Field(
        description="subs wanted in all; may be left out where hours is given"
    )
    hours: Annotated[float, Field(gt=0, le=10_000)] | None = Field(
        default=None,
        description="open-shutter time wanted in all, in place of frames (rounded up to whole subs);"
        " subs of any length count for it",
    )
    done: Annotated[int, Field(ge=0, le=100_000)] = Field(default=0, description="subs in hand already")
    gain: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="camera gain, carried through; omit: left to the camera"
    )
    offset: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="camera offset, carried through; omit: left to the camera"
    )
    binning: Annotated[int, Field(ge=1, le=16)] = Field(
        default=1, description="pixels binned in each direction, carried through"
    )
    in_set: bool = Field(
        default=True,
        description="part of the target's filter set; false: counts by itself, as stars in RGB may",
    )

    @model_validator(mode="before")
    @classmethod
    def _frames_of_hours(cls, data: Any) -> Any:
        if (
            not isinstance(data, dict)
            or not _is_number(data.get("hours"))
            or not _is_number(data.get("exposure_s"))
        ):
            return data
        hours, exposure_s = data["hours"], data["exposure_s"]
        if not (0 < hours <= 10_000 and exposure_s > 0):
            return data  # the fields themselves complain
        frames = max(1, math.ceil(Fraction(repr(hours)) * 3600 / Fraction(repr(exposure_s))))
        if frames > MOST_FRAMES:
            what = f"{hours} h are {frames} subs of {exposure_s} s, more than {MOST_FRAMES}"
            raise KeyedError(("hours",), f"{what}; ask for fewer hours or longer subs")
        if "frames" not in data:
            return {**data, "frames": frames}
        if data["frames"] != frames:
            raise KeyedError(
                ("hours",), f"frames is given too, and {hours} h are {frames} subs; give one of the two"
            )
        return data

    @property
    def frames_left(self) -> int:
        """How many frames are still wanted; never negative."""
        return max(0, self.frames - self.done)

    @property
    def shutter_s(self) -> int:
        """How long the shutter is open for one frame, in whole seconds, rounded up."""
        return math.ceil(self.exposure_s)


class Target(Frozen):
    """A thing in the sky, at ICRS coordinates, and the goals on it."""

    name: Name = Field(description="name of the target; each only once")
    aliases: Annotated[tuple[Name, ...], FromList] = Field(
        default=(), description="other names under which its subs are stored; no name or alias twice"
    )
    object: Annotated[Name, Readable] | None = Field(
        default=None,
        description="catalogue name, looked up offline where no coordinates are given,"
        " first in the file that `catalogue` names",
    )
    ra_deg: Annotated[float, Field(ge=0, lt=360), Readable] = Field(description="right ascension, ICRS")
    dec_deg: Annotated[float, Field(ge=-90, le=90), Readable] = Field(description="declination, ICRS")
    position_angle_deg: Degrees = Field(
        default=0.0, description="of the camera, from north through east, on pier side west or on a fork"
    )
    weight: Annotated[float, Field(gt=0, le=1000)] = Field(
        default=1.0,
        description="value of one second of this target against others; at most three decimals",
    )
    floor_deg: Annotated[float, Field(ge=0, lt=90)] | None = Field(
        default=None, description="no shutter open below this altitude; omit: the site's"
    )
    least_min: Annotated[float, Field(ge=0, le=1440)] = Field(
        default=0.0, description="least open-shutter time of a visit"
    )
    sides: Literal["either", "before", "after"] = Field(
        default="either", description="which side of the transit may be used; either: both"
    )
    rigs: Annotated[tuple[Name, ...], FromList] = Field(
        default=(), description="names of the rigs that may shoot it; omit: each whose request has it"
    )
    goals: Annotated[tuple[Goal, ...], FromList, Field(min_length=1)]

    @model_validator(mode="before")
    @classmethod
    def _place(cls, data: Any, info: ValidationInfo) -> Any:
        data = with_degrees(data, ("ra", "dec"))
        if not isinstance(data, dict) or not isinstance(data.get("object"), str):
            return data
        if "ra_deg" in data or "dec_deg" in data:
            return data
        own = info.context if isinstance(info.context, OwnCatalogue) else None
        try:
            found = look_up(data["object"][:300], own)
        except ValueError as error:
            if own is not None and not own.whole:  # what is wrong with the file is told instead
                return {**data, "ra_deg": 0.0, "dec_deg": 0.0}
            # the coordinates only keep the fields from being called missing: the name is what is wrong
            return {**data, "object": Unreadable(("object",), str(error)), "ra_deg": 0.0, "dec_deg": 0.0}
        return {**data, "ra_deg": found.ra_deg, "dec_deg": found.dec_deg}

    @field_validator("weight")
    @classmethod
    def _weight_in_thousandths(cls, value: float) -> float:
        return _in_thousandths(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _in_thousandths(value: float) -> float:
    if Decimal(repr(value)) * 1000 % 1:
        raise ValueError("more than three decimals; round it (the planner counts value in thousandths)")
    return value


# Of a goal, and what each of its subs tells of it: target, filter, exposure_s, gain, offset, binning.
GoalKey = tuple[str | None, str | None, float | None, int | None, int | None, int]


def goal_key(target: Target, goal: Goal) -> GoalKey:
    """What a goal is known by wherever it stands: in another request, a step, a tally."""
    return target.name, goal.filter, goal.exposure_s, goal.gain, goal.offset, goal.binning


class OfGoal(Frozen):
    """The base of what is told of one goal in a file: what the goal is known by comes first."""

    target: str
    filter: str
    exposure_s: float
    gain: int | None = None
    offset: int | None = None
    binning: int = 1

    @property
    def goal_key(self) -> GoalKey:
        """What the goal is known by."""
        return self.target, self.filter, self.exposure_s, self.gain, self.offset, self.binning


class Aim(Frozen):
    """What counts as the best plan, and how long to look for it."""

    value: Literal["hours", "depth"] = Field(
        default="depth",
        description="what counts: open shutter as it is, or each second weighed by the sky it looks through",
    )
    balance: Annotated[float, Field(ge=0, le=1)] = Field(
        default=0.3,
        description="how much the slowest half of each filter set counts against plain sums; 0: sums alone;"
        " at most three decimals",
    )
    scarcity: Annotated[float, Field(ge=0, le=3)] = Field(
        default=0.5,
        description="how much more goals count that can be shot in few hours of the nights to come;"
        " an exponent, 0: all alike",
    )
    look_ahead_nights: Annotated[int, Field(ge=1, le=366)] = Field(
        default=28, description="nights in which those hours are counted, tonight included"
    )
    slack_s: Annotated[int, Field(ge=0, le=3600)] = Field(
        default=60, description="a list running so late still breaks no rule and loses no sub; 0: none"
    )
    time_limit_s: Annotated[float, Field(gt=0, le=86400)] = Field(
        default=20.0, description="the search ends after this time, if not before"
    )
    gap: Annotated[float, Field(ge=0, le=1)] = Field(
        default=0.002,
        description="the share by which the plan may fall short of the bound for the search to stop early",
    )
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = Field(
        default=1, description="of the search's random numbers"
    )
    workers: Annotated[int, Field(ge=0, le=256)] = Field(
        default=0,
        description="cores that the search uses; 0: all; 1: the same seed gives the same plan every time",
    )

    @field_validator("balance")
    @classmethod
    def _balance_in_thousandths(cls, value: float) -> float:
        return _in_thousandths(value)
