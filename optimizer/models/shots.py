"""The shot list: contiguous steps to the second, with what proves and what audits them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    SerializerFunctionWrapHandler,
    model_serializer,
    model_validator,
)

from optimizer.errors import UnauditedError
from optimizer.models.base import FromList, Frozen, first_control
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.season_tonight import InSeason
from optimizer.models.site import Date, Utc
from optimizer.models.targets import Goal, GoalKey

SHOTS_SCHEMA: Final = "darkfill-shots/1"
StepKind = Literal[
    "slew", "centre", "settle", "filter", "focus", "expose", "dither", "flip", "rotate", "wait", "park"
]


def _none_if_empty(value: Any) -> Any:
    return None if value == "" else value


def _no_terminal_controls(text: str) -> str:
    char = first_control(text, allowed="\t\r\n\u2028\u2029")
    if char is not None:
        raise ValueError(f"the text holds the control character U+{ord(char):04X}; remove it")
    return text


# A CSV cell cannot tell empty text from none, so neither does the model.
Text = Annotated[str, Field(max_length=5000), AfterValidator(_no_terminal_controls)]
OptionalText = Annotated[Text | None, BeforeValidator(_none_if_empty)]


class Step(Frozen):
    """One act of the night; its fields are the columns of the CSV, in order, units in their names."""

    step: Annotated[int, Field(ge=1, le=1_000_000)]
    kind: StepKind
    start_utc: Utc
    end_utc: Utc
    latest_start_utc: Utc | None = None
    target: OptionalText = None
    ra_deg: float | None = None
    dec_deg: float | None = None
    position_angle_deg: float | None = None
    filter: OptionalText = None
    exposure_s: float | None = None
    gain: Annotated[int, Field(ge=0, le=100_000)] | None = None
    offset: Annotated[int, Field(ge=0, le=100_000)] | None = None
    binning: Annotated[int, Field(ge=1, le=16)] | None = None
    pier_side: PierSide | None = None
    tracking: bool | None = None
    hour_angle_h: float | None = None
    altitude_deg: float | None = None
    azimuth_deg: float | None = None
    airmass: float | None = None
    moon_separation_deg: float | None = None
    note: OptionalText = None

    @property
    def seconds(self) -> int:
        """The length of the step in whole seconds."""
        return round((self.end_utc - self.start_utc).total_seconds())

    @property
    def goal_key(self) -> GoalKey:
        """What the goal of a sub is known by; a binning that is not told is 1."""
        binning = 1 if self.binning is None else self.binning
        return self.target, self.filter, self.exposure_s, self.gain, self.offset, binning


class Tool(Frozen):
    """What made the shot list: this software and what it computes with, by version."""

    name: str
    version: str
    ortools: str
    astropy: str
    numpy: str


class NightFacts(Frozen):
    """When the Sun and the Moon rise, set and pass each twilight, and what of the Moon is lit (0 to 1).

    An edge is None where the event does not happen between the two solar noons.
    """

    evening: Date
    time_zone: str
    sunset_utc: Utc | None
    sunrise_utc: Utc | None
    civil_dusk_utc: Utc | None
    civil_dawn_utc: Utc | None
    nautical_dusk_utc: Utc | None
    nautical_dawn_utc: Utc | None
    astronomical_dusk_utc: Utc | None
    astronomical_dawn_utc: Utc | None
    moonrise_utc: Utc | None
    moonset_utc: Utc | None
    moon_illuminated: float
    ut1_utc_s: float


class GoalTotal(Frozen):
    """The progress of one goal: frames and seconds wanted in all, in hand before, planned tonight, left."""

    target: str
    filter: str
    exposure_s: float
    frames_wanted: int
    frames_done: int
    frames_planned: int
    frames_left: int
    seconds_wanted: float
    seconds_planned: float
    seconds_left: float


def goal_total(target: str, goal: Goal, planned: int) -> GoalTotal:
    """The progress of a goal of which so many frames are planned tonight."""
    left = max(0, goal.frames_left - planned)
    return GoalTotal(
        target=target,
        filter=goal.filter,
        exposure_s=goal.exposure_s,
        frames_wanted=goal.frames,
        frames_done=goal.done,
        frames_planned=planned,
        frames_left=left,
        seconds_wanted=goal.frames * goal.exposure_s,
        seconds_planned=planned * goal.exposure_s,
        seconds_left=left * goal.exposure_s,
    )


class TargetTotal(Frozen):
    """The progress of a target's filter set: its share in hand (0 to 1) before the night and after the plan.

    The share is the mean of the slowest half of the set, by the worth of what is wanted; frames are counted,
    whatever sky they are taken under. Both are None where no goal of the target is in its set.
    """

    target: str
    set_share_before: float | None
    set_share_after: float | None


class GoalValue(Frozen):
    """How scarce a goal is: hours in which it may be shot in the nights to come, tonight included.

    `factor` is by how much more (or less, below 1) a frame of it counts tonight, to three decimals. Goals
    stand in the order of the request; there are none where `aim.scarcity` is 0.
    """

    target: str
    filter: str
    exposure_s: float
    gain: int | None
    offset: int | None
    binning: int
    hours_ahead: float
    factor: float


class Totals(Frozen):
    """Sums over the steps of a night, in seconds; `share` (0 to 1) is open shutter over dark seconds.

    Dark seconds are those in which some filter in use may look at a dark sky. `depth_s` counts the seconds at
    the zenith on a moonless night that would reach as deep; None where the aim does not ask for depth.
    `expected_s` counts each open second times the odds of clear sky; None where none are given.

    `value_s` is what the plan is worth in weighted seconds, `set_s` the progress of all filter sets in it
    before the balance is applied. `least_slack_s` is how late the list may run without breaking or losing
    anything, and `least_slack_step` the step that says so: the least of what lies between start and latest
    start. Waits, parks and a flip that the mount makes by itself do not count. None where no other step has a
    latest start.
    """

    goals: Annotated[tuple[GoalTotal, ...], FromList]
    targets: Annotated[tuple[TargetTotal, ...], FromList] = ()
    open_shutter_s: float
    depth_s: float | None = None
    expected_s: float | None = None
    value_s: float = 0.0
    set_s: float = 0.0
    least_slack_s: int | None = None
    least_slack_step: int | None = None
    dark_s: int
    share: float
    seconds_by_kind: dict[str, int]


class Idle(Frozen):
    """A span in which the plan does nothing although at least so many frames of a goal would fit into it."""

    start_utc: Utc
    end_utc: Utc
    target: str
    filter: str
    exposure_s: float
    frames: int


class Proof(Frozen):
    """How near to the best possible the plan is; objective and bound in weighted seconds.

    Both hold what filter sets come forward, where the aim asks for it. `seconds` is how long the search took,
    `ended` what ended it: the plan was as near to the best as `aim.gap` asks (to the best of those searched,
    where a night has too many targets to search all), the time was over, the search found nothing better any
    more, or Ctrl-C. `idle` are spans that a longer search would fill; a plan that is proven the best has
    none.
    """

    status: Literal["optimal", "feasible", "stopped"]
    objective: float
    bound: float
    gap: float
    seconds: float
    ended: Literal["gap", "time", "settled", "interrupted"] | None = None
    seed: int
    workers: int
    idle: Annotated[tuple[Idle, ...], FromList] = ()

    @model_serializer(mode="wrap")
    def _leave_out_none_idle(self, rest: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = rest(self)
        if not self.idle:
            del data["idle"]
        if self.ended is None:  # lists written before it was told
            del data["ended"]
        return data


UnplannedReason = Literal[
    "never_dark",
    "too_low",
    "too_high",
    "moon_too_near",
    "moonlight",
    "blocked",
    "wrong_side",
    "forbidden_zone",
    "clear_odds",
    "window_too_short",
    "least_visit",
    "set_held_back",
    "night_full",
]


ReliefKey = Literal[
    "floor_deg", "darkness", "moon_gap_deg", "moonlight_mag", "weight", "least_min", "sides", "exposure_s"
]


class Relief(Frozen):
    """One easier setting that gives a goal's target more time, as planning again showed.

    `key` is a target's, its goal's or a filter's, `of` names that target or filter (perhaps another target,
    whose hours become free), `old` and `new` are the key's values, `change` says so in words. Seconds of open
    shutter gained by the goal's target and by the whole night; `value_s`: weighted seconds gained, filter
    sets included, by the weights of the request. `certain`: the new plan has a greater value than any plan of
    the night as it is; otherwise the gain may be the search's luck.
    """

    change: str
    of: str
    key: ReliefKey
    old: float | str
    new: float | str
    target_open_s: float
    open_s: float
    value_s: float
    certain: bool


class Unplanned(Frozen):
    """A goal, or the rest of it, that has no place in the plan, why, and what would change it.

    `relief`: the easier settings that help, best first; empty where none was seen to help; None where nobody
    asked.
    """

    target: str
    filter: str
    exposure_s: float
    frames: int
    reason: UnplannedReason
    sentence: str
    relief: Annotated[tuple[Relief, ...] | None, FromList] = None

    @model_serializer(mode="wrap")
    def _leave_out_unasked(self, rest: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = rest(self)
        if self.relief is None:
            del data["relief"]
        return data


class Violation(Frozen):
    """One rule that is broken, by how much and in which unit.

    `step` is the number of the step that breaks it, or None where the list as a whole does.
    """

    rule: str
    step: int | None
    amount: float
    unit: str
    message: str


class AuditReport(Frozen):
    """What the audit looked at and what it found.

    `least_margin_min` is the least distance from contact in minutes, None for a mount that does not flip.
    `quality` has what breaks no rule, but falls short of what the request asks for, such as slack.
    """

    rules: Annotated[tuple[str, ...], FromList]
    violations: Annotated[tuple[Violation, ...], FromList]
    quality: Annotated[tuple[Violation, ...], FromList] = ()
    least_margin_min: float | None


# Keys of the aim that lists of earlier versions lack, and what these planned by: lists are written whole.
LATER_AIMS: Final = {"balance": 0.0, "scarcity": 0.0, "slack_s": 0}


class ShotList(Frozen):
    """A plan and all that is known of it, as a file of the format `darkfill-shots/1` has it.

    `audit` is None while a list has not been audited; such a list cannot be written. `values_carried`: the
    values are those of another night, of which this one was asked. `continues`: the older list of the same
    night with which this one goes on; None where it begins the night. `season`: in view of which season the
    night was planned; None where it was planned by itself.
    """

    schema_: Literal["darkfill-shots/1"] = Field(alias="schema")
    tool: Tool
    created_utc: Utc
    request_sha256: str
    request: Request
    night: NightFacts
    steps: Annotated[tuple[Step, ...], FromList]
    values: Annotated[tuple[GoalValue, ...], FromList] = ()
    values_carried: bool = False
    totals: Totals
    proof: Proof
    unplanned: Annotated[tuple[Unplanned, ...], FromList]
    audit: AuditReport | None
    continues: Continues | None = None
    season: InSeason | None = None

    @model_validator(mode="before")
    @classmethod
    def _asked_when_written(cls, data: Any) -> Any:
        """Let a list of an earlier version ask for what it was planned by, not for the defaults of today."""
        if not isinstance(data, dict):
            return data
        request: Any = data.get("request")
        if not (isinstance(request, dict) and isinstance(aim := request.get("aim"), dict)):
            return data
        return {**data, "request": {**request, "aim": {**LATER_AIMS, **aim}}}

    @model_serializer(mode="wrap")
    def _leave_out_what_it_begins(self, rest: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = rest(self)
        if self.continues is None:
            del data["continues"]
        if self.season is None:
            del data["season"]
        return data

    def __repr_args__(self) -> Iterator[tuple[str, object]]:
        """What `repr` and a notebook show in place of all steps; `value_s` is in weighted seconds."""
        yield "evening", self.night.evening
        yield "site", self.request.site.name
        yield "steps", len(self.steps)
        yield "value_s", self.proof.objective

    @property
    def audit_report(self) -> AuditReport:
        """The audit of this list. Raises UnauditedError where none was made."""
        if self.audit is None:
            raise UnauditedError
        return self.audit


class WrittenShotList(ShotList):
    """A list as it stands in a file: it always has an audit."""

    audit: AuditReport
