"""The request: one night at one site with one rig, its targets and the aim."""

from __future__ import annotations

import hashlib
import json
from typing import Annotated, Literal, Self

from pydantic import Field

from optimizer.models.base import FromList, Frozen, MaybeName, Name, as_json_data
from optimizer.models.rig import Camera, Filter, Focus, Mount
from optimizer.models.season_asked import SeasonAsked
from optimizer.models.site import Night, Site
from optimizer.models.targets import Aim, Goal, Target

REQUEST_SCHEMA = "darkfill-request/1"


class Request(Frozen):
    """Everything that a plan depends on, as a file of the format `darkfill-request/1` has it."""

    schema_: Literal["darkfill-request/1"] = Field(alias="schema")
    rig: MaybeName = Field(
        default="",
        description="name of the rig, where several share their targets; omit: the file's name",
    )
    night: Night
    site: Site
    mount: Mount = Mount()
    camera: Camera = Camera()
    focus: Focus = Focus()
    filters: Annotated[tuple[Filter, ...], FromList, Field(min_length=1)]
    targets: Annotated[tuple[Target, ...], FromList, Field(min_length=1)]
    aim: Aim = Aim()
    season: SeasonAsked | None = Field(
        default=None, description="the nights of the season and their odds of clear sky; omit: all defaults"
    )
    tally: Name | None = Field(
        default=None,
        description="CSV file that counts the subs in hand, beside the request; omit: done alone counts",
    )
    tally_radius_deg: Annotated[float, Field(gt=0, le=5)] = Field(
        default=0.5, description="a sub without a known name counts for the only target so near to it"
    )

    def with_aim(self, **changes: float) -> Self:
        """Return the same request with other numbers in its aim, such as `time_limit_s` and `gap`."""
        return self.model_copy(update={"aim": self.aim.model_copy(update=changes)})

    def filter_named(self, name: str) -> Filter:
        """The filter of that name; raises KeyError where there is none."""
        for candidate in self.filters:
            if candidate.name == name:
                return candidate
        raise KeyError(name)

    def target_named(self, name: str) -> Target:
        """The target of that name; raises KeyError where there is none."""
        for candidate in self.targets:
            if candidate.name == name:
                return candidate
        raise KeyError(name)

    def floor_deg(self, target: Target) -> float:
        """The lowest altitude, in degrees, at which the shutter may be open on this target."""
        return self.site.floor_deg if target.floor_deg is None else target.floor_deg

    def acquisition_floor_deg(self, target: Target) -> float:
        """The lowest altitude, in degrees, at which the telescope may work on this target, shutter closed.

        The skyline says what really hides the sky, so above it acquisition may begin before the target
        reaches its floor; without one the floors are all that is known.
        """
        return 0.0 if self.site.skyline else min(self.site.floor_deg, self.floor_deg(target))

    def goals(self) -> tuple[tuple[Target, Goal], ...]:
        """All goals of the request, each with its target, in file order."""
        return tuple((target, goal) for target in self.targets for goal in target.goals)


class RigRequest(Request):
    """A request of which only night, site and rig are asked: it may be without targets."""

    targets: Annotated[tuple[Target, ...], FromList] = ()


def sha256_of(request: Request) -> str:
    """Compute the SHA-256 of a request as resolved, as 64 hexadecimal digits.

    What is hashed is its JSON with sorted keys and no blanks, in UTF-8.
    """
    text = json.dumps(as_json_data(request), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
