"""What the views of a plan hold: frozen, units in the names, None for what is not known or does not apply.

Instants are told twice, in UTC and as local text with its offset; coordinates are ICRS, in degrees and as
sexagesimal text.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.models.rig import PierSide
from optimizer.models.shots import StepKind
from optimizer.models.site import Date, Utc

VIEWS_SCHEMA: Final = "darkfill-views/1"
FRAME: Final = "ICRS"
Frame = Literal["ICRS"]
Arrival = Literal["slew", "flip", "there"]


class PlanFacts(Frozen):
    """What holds for a plan as a whole: whose night it is, where, on which mount, and how it was audited."""

    evening: Date = Field(description="civil date on which the night begins")
    site: str = Field(description="name of the site")
    latitude_deg: float = Field(description="geodetic, north positive")
    longitude_deg: float = Field(description="east positive")
    elevation_m: float = Field(description="height of the site")
    time_zone: str = Field(description="IANA name of the zone of all local times")
    frame: Frame = Field(default=FRAME, description="of all coordinates")
    mount: Literal["german", "fork"] = Field(description="a German mount flips, a fork does not")
    flip_by: Literal["plan", "mount", "never"] | None = Field(
        description="who flips: the plan, the mount by itself, or nobody; null for a fork"
    )
    rotator_turns: bool = Field(description="the rotator turns the camera back where the pier side changes")
    start_utc: Utc | None = Field(description="when the first step starts; null if there is none")
    start_local: str | None = Field(description="the same in local time")
    end_utc: Utc | None = Field(description="when the last step ends; null if there is none")
    end_local: str | None = Field(description="the same in local time")
    created_utc: Utc | None = Field(description="when the list was made; null if its file does not tell")
    request_sha256: str = Field(description="SHA-256 of the request with everything resolved")
    continues_sha256: str | None = Field(
        description="SHA-256 of the older list with which this one goes on; null if it begins the night"
    )
    rules_checked: int | None = Field(description="number of rules that the audit checked; null: no audit")
    violations: int | None = Field(description="number of breaches that it found; null: no audit")
    least_margin_min: float | None = Field(
        description="least distance from contact; null if there is none to tell"
    )
    least_slack_s: int | None = Field(
        description="how late the list may run as a whole and break no rule and lose no sub; null if its file"
        " does not tell, or if there is nothing that can come too late"
    )
    cautions: Annotated[tuple[str, ...], FromList] = Field(
        description="sentences that a person must have read before the list is run"
    )


class VisitView(Frozen):
    """A contiguous stay on one target and one pier side, from its slew or flip to its last act."""

    visit: int = Field(description="number of the visit, from 1")
    target: str = Field(description="the target's name")
    frame: Frame = Field(default=FRAME, description="of the coordinates")
    ra_deg: float | None = Field(description="right ascension")
    dec_deg: float | None = Field(description="declination")
    ra_hms: str | None = Field(description="right ascension in hours, to 0.01 s: `20h51m00.72s`")
    dec_dms: str | None = Field(description="declination in degrees, to 0.1″: `+44d24m05.4s`")
    position_angle_wanted_deg: float | None = Field(description="what the request asks for, 0 to below 360")
    position_angle_deg: float | None = Field(description="the camera's on this pier side, 0 to below 360")
    field_turned: bool | None = Field(
        description="the field is turned by 180° from what is wanted; null if one of the two is not known"
    )
    guide_star_anew: bool | None = Field(
        description="the field is turned by 180° from the latest visit to this target: the guide star of an"
        " off-axis guider must be chosen anew; null if not known"
    )
    pier_side: PierSide | None = Field(description="where the tube stands; null for a fork")
    arrival: Arrival = Field(description="by `slew`, by `flip`, or the mount is `there` already")
    start_utc: Utc = Field(description="when the slew, the flip or the first act starts")
    start_local: str = Field(description="the same in local time")
    latest_start_utc: Utc | None = Field(
        description="the last second at which that may start without breaking a rule by itself"
    )
    latest_start_local: str | None = Field(description="the same in local time")
    end_utc: Utc = Field(description="when the last act ends")
    end_local: str = Field(description="the same in local time")
    blocks: int = Field(description="number of blocks")
    subs: int = Field(description="number of subs")
    open_shutter_s: float = Field(description="seconds of open shutter")
    focus_runs: int = Field(description="number of autofocus runs")
    altitude_start_deg: float | None = Field(description="altitude as the first sub starts")
    altitude_end_deg: float | None = Field(description="altitude as the last sub starts")
    first_block: int | None = Field(description="number of its first block; null if it has none")
    last_block: int | None = Field(description="number of its last block; null if it has none")
    first_step: int = Field(description="number of its first step")
    last_step: int = Field(description="number of its last step")


class BlockView(Frozen):
    """Subs of one kind, one after the other: the same target, pier side, filter, length and settings."""

    block: int = Field(description="number of the block, from 1")
    visit: int = Field(description="number of the visit that it belongs to")
    target: str = Field(description="the target's name")
    filter: str | None = Field(description="the filter's name")
    count: int = Field(description="number of subs")
    exposure_s: float | None = Field(description="length of one sub")
    gain: int | None = Field(description="of the goal; null if it gives none")
    offset: int | None = Field(description="of the goal; null if it gives none")
    binning: int | None = Field(description="of the goal")
    start_utc: Utc = Field(description="when the first sub starts")
    start_local: str = Field(description="the same in local time")
    latest_start_utc: Utc | None = Field(
        description="the last second at which the block may start so that none of its subs comes too late"
    )
    latest_start_local: str | None = Field(description="the same in local time")
    end_utc: Utc = Field(description="when the last sub is read out")
    end_local: str = Field(description="the same in local time")
    pier_side: PierSide | None = Field(description="where the tube stands; null for a fork")
    tracking_off_before: bool = Field(
        description="between the block before and this one the list stops tracking: whatever runs it must too"
    )
    flip_before: bool = Field(description="the mount flips between the block before and this one")
    slew_before: bool = Field(description="the mount slews to the target between the two")
    filter_before: bool = Field(description="the filter is changed before it")
    focus_before: bool = Field(description="autofocus runs before it, in the same visit")
    focus_within: int = Field(description="number of autofocus runs between its subs")
    dithers: int = Field(description="number of dithers between its subs")
    open_shutter_s: float = Field(description="seconds of open shutter")
    frame: Frame = Field(default=FRAME, description="of the coordinates")
    ra_deg: float | None = Field(description="right ascension")
    dec_deg: float | None = Field(description="declination")
    ra_hms: str | None = Field(description="right ascension in hours, to 0.01 s: `20h51m00.72s`")
    dec_dms: str | None = Field(description="declination in degrees, to 0.1″: `+44d24m05.4s`")
    position_angle_wanted_deg: float | None = Field(description="what the request asks for, 0 to below 360")
    position_angle_deg: float | None = Field(description="the camera's on this pier side, 0 to below 360")
    field_turned: bool | None = Field(
        description="the field is turned by 180° from what is wanted; null if one of the two is not known"
    )
    guide_star_anew: bool | None = Field(
        description="of the visit, in its first block; false in the blocks after it; null if not known"
    )
    first_step: int = Field(description="number of the step that is its first sub")
    last_step: int = Field(description="number of the step that is its last sub")


class StepView(Frozen):
    """One act of the night: the columns of a shot list, and what the views add to them."""

    step: int = Field(description="number of the step, as in the list")
    visit: int | None = Field(description="number of its visit; null between visits")
    block: int | None = Field(description="number of its block; null unless it is a sub")
    kind: StepKind = Field(description="what happens, as in the list")
    start_utc: Utc = Field(description="when it starts")
    start_local: str = Field(description="the same in local time")
    end_utc: Utc = Field(description="when it ends")
    end_local: str = Field(description="the same in local time")
    latest_start_utc: Utc | None = Field(description="the last second at which it may start")
    latest_start_local: str | None = Field(description="the same in local time")
    target: str | None = Field(description="the target's name")
    frame: Frame | None = Field(description="of the coordinates; null without any")
    ra_deg: float | None = Field(description="right ascension")
    dec_deg: float | None = Field(description="declination")
    ra_hms: str | None = Field(description="right ascension in hours, to 0.01 s")
    dec_dms: str | None = Field(description="declination in degrees, to 0.1″")
    position_angle_wanted_deg: float | None = Field(description="what the request asks for, 0 to below 360")
    position_angle_deg: float | None = Field(description="the camera's on this pier side, 0 to below 360")
    field_turned: bool | None = Field(
        description="the field is turned by 180° from what is wanted; null if one of the two is not known"
    )
    filter: str | None = Field(description="the filter's name")
    exposure_s: float | None = Field(description="length of the sub")
    gain: int | None = Field(description="of the goal; null if it gives none")
    offset: int | None = Field(description="of the goal; null if it gives none")
    binning: int | None = Field(description="of the goal")
    pier_side: PierSide | None = Field(description="where the tube stands, as in the list")
    tracking: bool | None = Field(description="whether the mount follows the sky")
    hour_angle_h: float | None = Field(description="as the step starts")
    altitude_deg: float | None = Field(description="as the step starts")
    azimuth_deg: float | None = Field(description="as the step starts")
    airmass: float | None = Field(description="as the step starts")
    moon_separation_deg: float | None = Field(description="as the step starts")
    note: str | None = Field(description="a remark for people")


class GoalView(Frozen):
    """One goal of the request: what is wanted, in hand, planned by this list and left after it."""

    target: str = Field(description="the target's name")
    filter: str = Field(description="the filter's name")
    exposure_s: float = Field(description="length of one sub")
    gain: int | None = Field(description="null if the goal gives none")
    offset: int | None = Field(description="null if the goal gives none")
    binning: int = Field(description="1 if the goal gives none")
    frames_wanted: int = Field(description="wanted in all")
    frames_done: int = Field(description="in hand before this list")
    frames_planned: int = Field(description="in this list")
    frames_left: int = Field(description="still wanted after it")
    seconds_planned: float = Field(description="seconds of open shutter in this list")


class ViewTotals(Frozen):
    """Sums over the steps of a plan."""

    visits: int = Field(description="number of visits")
    blocks: int = Field(description="number of blocks")
    subs: int = Field(description="number of subs")
    flips: int = Field(description="number of flips")
    open_shutter_s: float = Field(description="seconds of open shutter")
    length_s: int = Field(description="seconds from the start of the first step to the end of the last")
    seconds_by_kind: dict[str, int] = Field(description="seconds of each kind of step that there is")
    goals: Annotated[tuple[GoalView, ...], FromList] = Field(
        description="one entry for each goal, in the order of the request"
    )


class PlanView(Frozen):
    """All views of one plan as one document of the format `darkfill-views/1`."""

    schema_: Literal["darkfill-views/1"] = Field(
        default=VIEWS_SCHEMA, alias="schema", description="`darkfill-views/1`"
    )
    plan: PlanFacts = Field(description="what holds for the plan as a whole")
    totals: ViewTotals = Field(description="sums over the steps")
    visits: Annotated[tuple[VisitView, ...], FromList] = Field(description="the visits, in order")
    blocks: Annotated[tuple[BlockView, ...], FromList] = Field(description="the blocks, in order")
    steps: Annotated[tuple[StepView, ...], FromList] = Field(description="all steps, in order")
