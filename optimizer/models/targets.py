"""What is to be imaged, how much of it, and what counts as best."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from optimizer.catalogue import look_up
from optimizer.models.base import Degrees, FromList, Frozen, Name, Readable, SecondsPositive, Unreadable
from optimizer.models.site import with_degrees


class Goal(Frozen):
    """A number of equal exposures through one filter."""

    filter: Name
    exposure_s: SecondsPositive
    frames: Annotated[int, Field(ge=1, le=100_000)] = Field(description="wanted in all")
    done: Annotated[int, Field(ge=0, le=100_000)] = Field(default=0, description="already in hand")
    gain: Annotated[int, Field(ge=0, le=100_000)] | None = None
    offset: Annotated[int, Field(ge=0, le=100_000)] | None = None
    binning: Annotated[int, Field(ge=1, le=16)] = 1

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

    name: Name
    object: Annotated[Name, Readable] | None = Field(
        default=None, description="catalogue name, looked up offline"
    )
    ra_deg: Annotated[float, Field(ge=0, lt=360), Readable]
    dec_deg: Annotated[float, Field(ge=-90, le=90), Readable]
    position_angle_deg: Degrees = 0.0
    weight: Annotated[float, Field(gt=0, le=1000)] = Field(
        default=1.0, description="worth of one second of this target; at most three decimals"
    )
    floor_deg: Annotated[float, Field(ge=0, lt=90)] | None = None
    least_min: Annotated[float, Field(ge=0, le=1440)] = Field(
        default=0.0, description="least open-shutter time of a visit"
    )
    sides: Literal["either", "before", "after"] = "either"
    goals: Annotated[tuple[Goal, ...], FromList, Field(min_length=1)]

    @model_validator(mode="before")
    @classmethod
    def _place(cls, data: Any) -> Any:
        data = with_degrees(data, ("ra", "dec"))
        if not isinstance(data, dict) or not isinstance(data.get("object"), str):
            return data
        if "ra_deg" in data or "dec_deg" in data:
            return data
        try:
            _, ra_deg, dec_deg = look_up(data["object"][:300])
        except ValueError as error:
            # the coordinates only keep the fields from being called missing: the name is what is wrong
            return {**data, "object": Unreadable(("object",), str(error)), "ra_deg": 0.0, "dec_deg": 0.0}
        return {**data, "ra_deg": ra_deg, "dec_deg": dec_deg}

    @field_validator("weight")
    @classmethod
    def _weight_in_thousandths(cls, value: float) -> float:
        if Decimal(repr(value)) * 1000 % 1:
            raise ValueError("more than three decimals; round it (the planner counts worth in thousandths)")
        return value


class Aim(Frozen):
    """What counts as the best plan, and how long to look for it."""

    value: Literal["hours", "depth"] = "hours"
    time_limit_s: Annotated[float, Field(gt=0, le=86400)] = 20.0
    gap: Annotated[float, Field(ge=0, le=1)] = Field(default=0.002, description="stop when proven this near")
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    workers: Annotated[int, Field(ge=0, le=256)] = Field(
        default=0, description="0 = all cores; 1 with a seed = the same plan every time"
    )
