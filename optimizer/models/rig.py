"""The rig: mount, camera, focuser and filters."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from optimizer.models.base import FromList, Frozen, Name, SecondsNotNegative, SecondsPositive

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
# Moonlight over dark sky in R, as a share of the same in V, where it is 1 by definition, from three days of
# age to full Moon: 0.48 to 0.57 by the table of the Galileo telescope's exposure calculators
# (www.tng.iac.es, page la_palma_sky; dark and full Moon in mag/arcsec2: V 21.8 and 18.5, R 20.9 and 18.2),
# 0.36 to 1.0 by Walker 1987 (V 21.8 and 20.0, R 20.9 and 19.9; that it is in NOAO Newsletter 10 is from
# memory). It is an assumption that a narrow band in R, as H alpha and S II are, sees what R sees. In B it
# is 1.4 to 4.3, so O III, between B and V, is better off with 1.
NARROWBAND_MOONLIGHT = 0.5


class Mount(Frozen):
    """An equatorial mount and the numbers around its meridian flip."""

    kind: Literal["german", "fork"] = Field(
        default="german", description="a German mount flips at the meridian; an equatorial fork never does"
    )
    slew_deg_s: Annotated[float, Field(ge=0.1, le=30)] = Field(
        default=3.0, description="slewing speed of each axis"
    )
    slew_extra_s: SecondsNotNegative = Field(
        default=8.0, description="what a slew takes beside the motion: start, stop, report"
    )
    centre_s: SecondsNotNegative = Field(
        default=45.0, description="plate solve and the nudge onto the target"
    )
    settle_s: SecondsNotNegative = Field(default=15.0, description="how long guiding takes to settle")
    contact_min: Minutes | None = Field(
        default=None,  # until it was measured, nothing tracks past the meridian on pier side west
        description="past the meridian, where tube or camera would touch; omit until measured",
    )
    clearance_min: MinutesNotNegative = Field(default=10.0, description="room kept before contact")
    flip_from_min: Minutes = Field(
        default=5.0, description="past the meridian; the mount takes a flip no sooner than this"
    )
    contact_before_min: MinutesNotNegative = Field(
        default=0.0,
        description="how far before the meridian pier side east may be used before it would touch",
    )
    flip_by: Literal["plan", "mount", "never"] = Field(
        default="plan", description="who flips: the plan, the mount by itself, or nobody"
    )
    quiet_min: MinutesNotNegative = Field(
        default=0.0,
        description="before the meridian, without optional slews and autofocus that leaves the target",
    )
    clock_error_s: Annotated[float, Field(ge=0, le=600)] = Field(
        default=0.0, description="how far the mount's sidereal clock may be off"
    )
    refocus_after_flip: bool = Field(default=True, description="autofocus after each flip")
    turn_rotator_after_flip: bool = Field(
        default=False, description="turn the rotator by 180 degrees where the pier side changes"
    )
    rotator_deg_s: Annotated[float, Field(gt=0, le=90)] = Field(
        default=5.0, description="speed of the rotator"
    )

    @property
    def flips(self) -> bool:
        """Whether this mount has two pier sides and flips between them."""
        return self.kind == "german"

    @property
    def clearance_from_min(self) -> float:
        """Minutes past the meridian from which the first pier side is nearer to contact than the clearance.

        The mount's clock error is set aside. Where contact was never measured it is the meridian itself, 0.
        """
        return 0.0 if self.contact_min is None else self.contact_min - self.clearance_min


class Camera(Frozen):
    """The download, the overhead and the dithers, which add to the subs."""

    download_s: SecondsNotNegative = Field(
        default=3.0, description="from the closing of the shutter until the image is read out"
    )
    overhead_s: SecondsNotNegative = Field(
        default=0.0,
        description="what each sub takes besides, until the next can begin: software, guiding check, saving",
    )
    dither_every: Annotated[int, Field(ge=0, le=1000)] = Field(
        default=0, description="subs of one goal between dithers; 0: never"
    )
    dither_s: SecondsNotNegative = Field(default=12.0, description="what one dither takes")


class Focus(Frozen):
    """When autofocus runs, and how long it takes."""

    run_s: SecondsPositive = Field(default=150.0, description="what one autofocus takes")
    every_min: Annotated[float, Field(ge=0, le=1440)] = Field(
        default=0.0, description="each sub ends within this time of the latest autofocus; 0: no limit"
    )
    on_new_target: bool = Field(default=True, description="autofocus after each slew to a target")
    on_filter_change: bool = Field(default=True, description="autofocus after each change of filter")
    leaves_target: bool = Field(
        default=False, description="autofocus slews to a focus star, so quiet_min holds for it"
    )


class Filter(Frozen):
    """A filter and the sky it may be used under."""

    name: Name = Field(description="name of the filter; each only once")
    aliases: Annotated[tuple[Name, ...], FromList] = Field(
        default=(), description="other names under which its subs are stored; no name or alias twice"
    )
    kind: Literal["broadband", "narrowband"] = Field(
        default="broadband",
        description="how wide its band is; narrowband: moonlight_factor is 0.5 unless given, an assumption",
    )
    change_s: SecondsNotNegative = Field(default=8.0, description="what a change to this filter takes")
    darkness: (
        Literal["civil", "nautical", "astronomical", "sunset"] | Annotated[float, Field(ge=-90, le=0)]
    ) = Field(
        default="astronomical", description="end of which twilight, or the Sun's highest altitude in degrees"
    )
    moonlight_mag: Annotated[float, Field(gt=0, le=20)] | None = Field(
        default=None, description="most brightening of the sky at the target by moonlight; omit: any"
    )
    moonlight_factor: Annotated[float, Field(gt=0, le=1)] = Field(
        default=1.0,
        description="share of the Moon's light that this filter lets count; 1: all of it, as in V",
    )
    moon_gap_deg: Annotated[float, Field(ge=0, le=180)] | None = Field(
        default=None, description="least distance to the Moon while it is up; omit: any"
    )

    @model_validator(mode="before")
    @classmethod
    def _moonlight_by_kind(cls, data: Any) -> Any:
        if isinstance(data, dict) and data.get("kind") == "narrowband" and "moonlight_factor" not in data:
            return {**data, "moonlight_factor": NARROWBAND_MOONLIGHT}
        return data

    @property
    def sun_limit_deg(self) -> float:
        """The highest altitude in degrees of the Sun's centre at which the shutter may be open."""
        return TWILIGHT_LIMIT_DEG[self.darkness] if isinstance(self.darkness, str) else self.darkness
