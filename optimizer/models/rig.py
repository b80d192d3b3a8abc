"""The rig: mount, camera, focuser and filters."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from optimizer.models.base import Frozen, Name, SecondsNotNegative, SecondsPositive

Minutes = Annotated[float, Field(ge=-360, le=360)]
MinutesNotNegative = Annotated[float, Field(ge=0, le=360)]
PierSide = Literal["west", "east"]
SIDES: tuple[PierSide, PierSide] = ("west", "east")  # in the order in which a target meets them

TWILIGHT_LIMIT_DEG = {
    # Sun's centre, geometric; sunset: 34' refraction + 16' semidiameter
    # (Explanatory Supplement, 3rd ed., ch. 12)
    "sunset": -50 / 60,
    "civil": -6.0,
    "nautical": -12.0,
    "astronomical": -18.0,
}


class Mount(Frozen):
    """An equatorial mount and the numbers around its meridian flip."""

    kind: Literal["german", "fork"] = "german"
    slew_deg_s: Annotated[float, Field(ge=0.1, le=30)] = Field(default=3.0, description="each axis")
    slew_extra_s: SecondsNotNegative = Field(default=8.0, description="start, stop and report of a slew")
    centre_s: SecondsNotNegative = Field(default=45.0, description="plate solve and nudge")
    settle_s: SecondsNotNegative = Field(default=15.0, description="guiding settles")
    contact_min: Minutes | None = Field(
        default=None,  # until it was measured, nothing tracks past the meridian on pier side west
        description="past the meridian, where equipment would touch; omit until measured",
    )
    clearance_min: MinutesNotNegative = Field(default=10.0, description="never nearer to contact than this")
    flip_from_min: Minutes = Field(default=5.0, description="the mount takes a flip no sooner than this")
    contact_before_min: MinutesNotNegative = Field(
        default=0.0,
        description="how far before the meridian pier side east may be used before it would touch",
    )
    flip_by: Literal["plan", "mount", "never"] = Field(
        default="plan", description="who flips: the plan, the mount by itself, or nobody"
    )
    quiet_min: MinutesNotNegative = Field(
        default=0.0, description="no optional slew or focus run in the last minutes before the meridian"
    )
    clock_error_s: Annotated[float, Field(ge=0, le=600)] = Field(
        default=0.0, description="how far the mount's sidereal clock may be off"
    )
    refocus_after_flip: bool = True
    turn_rotator_after_flip: bool = False
    rotator_deg_s: Annotated[float, Field(gt=0, le=90)] = 5.0

    @property
    def flips(self) -> bool:
        """Whether this mount has two pier sides."""
        return self.kind == "german"

    @property
    def clearance_from_min(self) -> float:
        """Minutes past the meridian from which the first pier side is nearer to contact than the clearance.

        The mount's clock error is set aside. Where contact was never measured it is the meridian itself, 0.
        """
        return 0.0 if self.contact_min is None else self.contact_min - self.clearance_min


class Camera(Frozen):
    """What the camera adds to each exposure."""

    download_s: SecondsNotNegative = 3.0
    dither_every: Annotated[int, Field(ge=0, le=1000)] = Field(
        default=0, description="exposures of one run between dithers; 0 = never"
    )
    dither_s: SecondsNotNegative = Field(default=12.0, description="what one dither takes")


class Focus(Frozen):
    """When the focuser runs."""

    run_s: SecondsPositive = 150.0
    every_min: Annotated[float, Field(ge=0, le=1440)] = Field(
        default=0.0, description="at most this long between focus runs while exposing; 0 = no limit"
    )
    on_new_target: bool = Field(default=True, description="a run after each slew to a target")
    on_filter_change: bool = Field(default=True, description="a run after each change of filter")
    leaves_target: bool = Field(default=False, description="the run slews to a focus star")


class Filter(Frozen):
    """A filter and the sky it may be used under."""

    name: Name
    change_s: SecondsNotNegative = 8.0
    darkness: (
        Literal["civil", "nautical", "astronomical", "sunset"] | Annotated[float, Field(ge=-90, le=0)]
    ) = Field(default="astronomical", description="a twilight, or the Sun's altitude limit in degrees")
    moonlight_mag: Annotated[float, Field(gt=0, le=20)] | None = Field(
        default=None, description="allowed brightening of the sky at the target by moonlight; omit = any"
    )
    moonlight_factor: Annotated[float, Field(gt=0, le=1)] = Field(
        default=1.0, description="how much of the Moon's light counts through this filter; 1: as in V"
    )
    moon_gap_deg: Annotated[float, Field(ge=0, le=180)] | None = Field(
        default=None, description="least angular distance to the Moon while it is up; omit = any"
    )

    @property
    def sun_limit_deg(self) -> float:
        """The highest altitude in degrees of the Sun's centre at which the shutter may be open."""
        return TWILIGHT_LIMIT_DEG[self.darkness] if isinstance(self.darkness, str) else self.darkness
