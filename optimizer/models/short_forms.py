"""A request as people type it: filters and sets that fill in the rest of a goal.

None of this is left once a request is read: every goal is whole then, and the models of `request.py` hold.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import ConfigDict, Field, model_validator

from optimizer.models.base import FromList, Frozen, KeyedError, Name, SecondsPositive
from optimizer.models.request import Request, RigRequest
from optimizer.models.rig import Filter
from optimizer.models.targets import MOST_FRAMES, Goal, Target

# What a goal may leave to its set and its filter.
DEFAULTS = ("exposure_s", "frames", "hours", "gain", "offset", "binning")
AMOUNTS = ("frames", "hours")  # one of the two says how much is wanted


class Defaults(Frozen):
    """What holds for the goals of a filter or a set that do not say otherwise."""

    exposure_s: SecondsPositive | None = Field(
        default=None, description="open-shutter time of one sub, for goals that give none"
    )
    frames: Annotated[int, Field(ge=1, le=MOST_FRAMES)] | None = Field(
        default=None, description="subs wanted in all, for goals that give neither frames nor hours"
    )
    hours: Annotated[float, Field(gt=0, le=10_000)] | None = Field(
        default=None, description="open-shutter time wanted in all, in place of frames"
    )
    gain: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="camera gain, for goals that give none"
    )
    offset: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="camera offset, for goals that give none"
    )
    binning: Annotated[int, Field(ge=1, le=16)] | None = Field(
        default=None, description="pixels binned in each direction, for goals that give none"
    )

    @model_validator(mode="after")
    def _one_amount(self) -> Self:
        if self.frames is not None and self.hours is not None:
            raise KeyedError(("hours",), "frames is given too; keep one of the two")
        return self


class SetGoal(Defaults):
    """A goal of a set; what it leaves out is its set's, else its filter's.

    A goal that gives nothing but its filter may be written as the filter's name alone.
    """

    filter: Name = Field(description="name of one of the filters")
    in_set: bool = Field(
        default=True,
        description="part of the target's filter set; false: counts by itself, as stars in RGB may",
    )


class GoalSet(Defaults):
    """Goals that several targets take under one name, and what holds for those that do not say otherwise."""

    goals: Annotated[tuple[SetGoal, ...], FromList, Field(min_length=1)] = Field(
        description="goals like those of a target, without done; the name of a filter alone where it or the"
        " set has the rest"
    )


# By their titles, those of the models that they stand for, messages know what else they take: `ra`, `dec`.


class TypedFilter(Defaults, Filter):
    """A filter with what holds for its goals."""

    model_config = ConfigDict(title="Filter")


class TypedGoal(Goal):
    """A goal of a target; what it leaves out is its filter's.

    A goal that gives nothing but its filter may be written as the filter's name alone.
    """

    model_config = ConfigDict(title="Goal")

    exposure_s: SecondsPositive | None = Field(  # type: ignore[assignment]
        default=None, description=Goal.model_fields["exposure_s"].description
    )
    frames: Annotated[int, Field(ge=1, le=MOST_FRAMES)] | None = Field(  # type: ignore[assignment]
        default=None, description=Goal.model_fields["frames"].description
    )


class TypedTarget(Target):
    """A target that may take the goals of a set; those of its own come first."""

    model_config = ConfigDict(title="Target")

    set: Name | None = Field(
        default=None, description="name of one of the sets, whose goals it takes beside those of its own"
    )
    goals: Annotated[tuple[TypedGoal, ...], FromList] = ()


class TypedRequest(Request):
    """A request with all that may be typed short."""

    model_config = ConfigDict(title="Request")

    filters: Annotated[tuple[TypedFilter, ...], FromList, Field(min_length=1)]
    targets: Annotated[tuple[TypedTarget, ...], FromList, Field(min_length=1)]
    sets: dict[str, GoalSet] = Field(
        default={}, description="goals under a name that targets take with set = NAME"
    )


class TypedRigRequest(TypedRequest):
    """The same of which only night, site and rig are asked: it may be without targets."""

    targets: Annotated[tuple[TypedTarget, ...], FromList] = ()


_TYPED: dict[type[Frozen], type[Frozen]] = {Request: TypedRequest, RigRequest: TypedRigRequest}


def as_typed(model: type[Frozen]) -> type[Frozen]:
    """The model that knows what may be typed in place of `model`; `model` itself where that is all of it."""
    return _TYPED.get(model, model)
