"""The steps as the audit reads them: seconds, indices and fixed lengths, with nothing taken for granted."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from optimizer.audit.clock import REACH_S, Clock
from optimizer.audit.tolerances import whole_seconds
from optimizer.models.request import Request
from optimizer.models.rig import Filter, PierSide
from optimizer.models.shots import Step, StepKind
from optimizer.models.targets import Goal, Target

NO_TARGET = -1
NO_SIDE, WEST, EAST = -1, 0, 1
SIDES: dict[PierSide | None, int] = {None: NO_SIDE, "west": WEST, "east": EAST}
SIDE_NAMES = {NO_SIDE: "no known pier side", WEST: "pier side west", EAST: "pier side east"}

GoalKey = tuple[str | None, str | None, float | None, int | None, int | None, int]


@dataclass(frozen=True)
class Row:
    """One step as the audit reads it.

    `target` is an index into the request or NO_TARGET, times are seconds after the night's origin. A `gap`
    is no step of a list, but what the mount did between two of them.
    """

    place: int
    step: Step
    start: int
    end: int
    target: int
    filter: Filter | None
    side: int
    gap: bool = False

    @property
    def kind(self) -> StepKind:
        """The kind of the step."""
        return self.step.kind

    @property
    def arrives(self) -> bool:
        """Whether the step brings the telescope to a target."""
        return self.kind in ("slew", "flip")

    @property
    def idle_wait(self) -> bool:
        """A wait that does not track, by its own flag; a wait without a flag counts as one that does not."""
        return self.kind == "wait" and not self.step.tracking

    @property
    def in_visit(self) -> bool:
        """Whether the step belongs to a visit, its arrival set aside."""
        return not (self.arrives or self.idle_wait or self.kind == "park")

    @property
    def near(self) -> bool:
        """Whether the step lies near enough to the night for a look at its sky."""
        return max(abs(self.start), abs(self.end), abs(self.works_until)) < REACH_S

    @property
    def works_until(self) -> int:
        """Second at which an exposure's shutter closes; the end of any other step."""
        if self.kind != "expose" or self.step.exposure_s is None:
            return max(self.start, self.end)
        return self.start + max(0, min(whole_seconds(self.step.exposure_s), 4 * REACH_S))

    @property
    def goal_key(self) -> GoalKey:
        """The goal of an exposure: target, filter, exposure, gain, offset, binning (1 where empty)."""
        step = self.step
        return (step.target, step.filter, step.exposure_s, step.gain, step.offset, step.binning or 1)


def read_rows(
    request: Request, steps: Sequence[Step], clock: Clock, gaps: Container[int] = ()
) -> tuple[Row, ...]:
    """The steps as rows, in the order of the list; unknown names become NO_TARGET and None.

    `gaps` are the places of those that stand for time between the steps.
    """
    targets = {target.name: index for index, target in reversed(list(enumerate(request.targets)))}
    filters = {each.name: each for each in reversed(request.filters)}
    return tuple(
        Row(
            place=place,
            step=step,
            start=clock.seconds(step.start_utc),
            end=clock.seconds(step.end_utc),
            target=NO_TARGET if step.target is None else targets.get(step.target, NO_TARGET),
            filter=None if step.filter is None else filters.get(step.filter),
            side=SIDES[step.pier_side],
            gap=place in gaps,
        )
        for place, step in enumerate(steps)
    )


def key_of(target: Target, goal: Goal) -> GoalKey:
    """The key under which the exposures of a goal go."""
    return (target.name, goal.filter, goal.exposure_s, goal.gain, goal.offset, goal.binning)


def goal_caps(request: Request) -> dict[GoalKey, int]:
    """Frames that each goal may still get; goals alike in everything share one entry."""
    caps: dict[GoalKey, int] = {}
    for target, goal in request.goals():
        key = key_of(target, goal)
        caps[key] = caps.get(key, 0) + goal.frames_left
    return caps


def goals_alike(request: Request) -> dict[GoalKey, int]:
    """How many goals share each key; 1 but for goals written twice."""
    counts: dict[GoalKey, int] = {}
    for target, goal in request.goals():
        key = key_of(target, goal)
        counts[key] = counts.get(key, 0) + 1
    return counts


def fixed_length_s(request: Request, row: Row) -> int | None:
    """Least seconds that the request fixes for the step; None without any, or for unknown names."""
    kind, camera = row.kind, request.camera
    if kind == "centre":
        return whole_seconds(request.mount.centre_s)
    if kind == "settle":
        return whole_seconds(request.mount.settle_s)
    if kind == "focus":
        return whole_seconds(request.focus.run_s)
    if kind == "dither":
        return whole_seconds(camera.dither_s)
    if kind == "rotate":
        return whole_seconds(180 / request.mount.rotator_deg_s)
    if kind == "filter" and row.filter is not None:
        return whole_seconds(row.filter.change_s)
    if kind == "expose" and row.step.exposure_s is not None:
        return whole_seconds(row.step.exposure_s + camera.download_s + camera.overhead_s)
    return None
