"""The integer problem: models and windows -> one frozen description in whole seconds.

All times are seconds after the night's origin. A span is a pair (first, last) of instants: something may
begin at `first` and must have ended by `last`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.models.request import Request
from optimizer.models.rig import SIDES, PierSide
from optimizer.models.targets import Target
from optimizer.mount.axes import HOME, SECONDS_PER_DEGREE, Axes, axes_at, slew_s
from optimizer.mount.sides import permitted_sides, side_windows
from optimizer.mount.zones import FULL_TURN_S, HALF_TURN_S, SIDEREAL_RATE
from optimizer.sky.clock import SPAN_S
from optimizer.sky.spans import Windows, intersect
from optimizer.sky.tracks import Track
from optimizer.sky.windows import SkyWindows
from optimizer.tasks import Task, tasks_of

Span = tuple[int, int]
Ints = NDArray[np.int64]
VISITS_PER_SIDE = 2
COURSE_SAMPLES = 9  # over a night, of departures that change smoothly within a day


@dataclass(frozen=True)
class Lengths:
    """Fixed lengths of acts, whole seconds, rounded up."""

    centre: int
    settle: int
    focus: int
    dither: int
    rotate: int

    @classmethod
    def of(cls, request: Request) -> Lengths:
        """Read them from the request."""
        return cls(
            centre=math.ceil(request.mount.centre_s),
            settle=math.ceil(request.mount.settle_s),
            focus=math.ceil(request.focus.run_s),
            dither=math.ceil(request.camera.dither_s),
            rotate=math.ceil(180 / request.mount.rotator_deg_s),
        )


@dataclass(frozen=True)
class Slot:
    """A possible visit: one target, one side, one span in which the telescope may work on it.

    `stretch` is the span in which the sky lets the telescope work on the target, whatever the side, `motion`
    the one in which a slew to it may lie, `shutter` the spans per task, `quiet` the span that optional slews
    must avoid. Slots with the same `twin` number are interchangeable, `copy` counts them.
    """

    index: int
    target: Target
    side: PierSide | None
    stretch: Span
    motion: Span
    work: Span
    shutter: dict[int, tuple[Span, ...]]
    quiet: Span | None
    twin: int
    copy: int
    hour_angle_s: float  # at time 0, carried on evenly from inside `work`
    declination_deg: float
    uneven_deg: float = 0.0  # most that either axis departs from this even course

    def transits_s(self) -> list[int]:
        """Whole seconds at which the target stands in the meridian, within half a turn of the work."""
        first, turn_s = -self.hour_angle_s / SIDEREAL_RATE, FULL_TURN_S / SIDEREAL_RATE
        low, high = self.work[0] - turn_s / 2, self.work[1] + turn_s / 2
        return [round(first + k * turn_s) for k in range(-3, 4) if low < first + k * turn_s < high]

    def transit_s(self) -> int:
        """The one of them that is nearest to the middle of the work."""
        return min(self.transits_s(), key=lambda transit: abs(2 * transit - self.work[0] - self.work[1]))

    def axes(self, time_s: float, latitude_deg: float) -> Axes:
        """Where the axes stand on this target at a time (the sky's turn carried on evenly)."""
        hour_angle_s = self.hour_angle_s + SIDEREAL_RATE * time_s
        return axes_at(hour_angle_s, self.declination_deg, self.side, latitude_deg)


@dataclass(frozen=True)
class Problem:
    """Everything that the packing needs; nothing in it depends on the sky any more."""

    request: Request
    lengths: Lengths
    tasks: tuple[Task, ...]
    slots: tuple[Slot, ...]
    worth_unit: Fraction  # weighted seconds in one unit of worth
    every_s: int | None  # longest time from the end of a focus run to a shutter closing

    def slew_seconds(self, before: Slot | None, left_s: int, after: Slot, depart_s: int) -> int:
        """Length of the slew, begun at `depart_s`, from where the mount stopped tracking at `left_s`."""
        latitude_deg = self.request.site.latitude_deg
        if self.tracks_to_flip(before, after):
            left_s = depart_s
        start = HOME if before is None else before.axes(left_s, latitude_deg)
        return slew_s(
            self.request.mount, start, after.axes(depart_s, latitude_deg), self.uneven_deg(before, after)
        )

    def uneven_deg(self, before: Slot | None, after: Slot) -> float:
        """Most by which a way between the two departs from what their even courses say."""
        return after.uneven_deg + (before.uneven_deg if before is not None else 0.0)

    def flips_between(self, before: Slot | None, after: Slot) -> bool:
        """Whether going from one slot to the other is the flip of one target carried across the meridian."""
        return (
            before is not None
            and before.target.name == after.target.name
            and (before.side, after.side) == SIDES
        )

    def flips_by_itself(self, before: Slot | None, after: Slot) -> bool:
        """Whether that flip is the mount's own: it tracks on until it turns."""
        return self.request.mount.flip_by == "mount" and self.flips_between(before, after)

    def tracks_to_flip(self, before: Slot | None, after: Slot) -> bool:
        """Whether the mount follows the target until that flip, be it its own or one that the plan asks for.

        Where the flip may begin before the first side must be left, and the sky lets the telescope work all
        the while, there is no need to stand still before it.
        """
        if before is None or not self.flips_between(before, after):
            return False
        if self.request.mount.flip_by == "mount":
            return True
        same_transit = 0 <= before.work[1] - after.motion[0] < HALF_TURN_S
        return same_transit and before.stretch == after.stretch

    def rotates_between(self, before: Slot | None, after: Slot) -> bool:
        """Whether the rotator turns by 180 degrees between the two."""
        return self.request.mount.turn_rotator_after_flip and before is not None and before.side != after.side

    def acquisition_s(self, before: Slot | None, after: Slot) -> int:
        """Centre, settle and rotate: the acts that every arrival has, filter and focus excepted."""
        turn_s = self.lengths.rotate if self.rotates_between(before, after) else 0
        return self.lengths.centre + self.lengths.settle + turn_s

    def focuses_on_arrival(self, flipping: bool, filter_changes: bool) -> bool:
        """Whether an arrival must be followed by a focus run, the cadence apart."""
        focus = self.request.focus
        always = self.request.mount.refocus_after_flip if flipping else focus.on_new_target
        return always or (focus.on_filter_change and filter_changes)

    @cached_property
    def slots_by_target(self) -> dict[str, list[Slot]]:
        """The slots of each target that has any, by its name, in their order."""
        found: dict[str, list[Slot]] = {}
        for slot in self.slots:
            found.setdefault(slot.target.name, []).append(slot)
        return found

    @property
    def tasks_in_file_order(self) -> tuple[Task, ...]:
        """The tasks as the request lists their goals; inside the problem targets go by name."""
        place = {target.name: number for number, target in enumerate(self.request.targets)}
        return tuple(sorted(self.tasks, key=lambda task: (place[task.target.name], task.index)))

    @cached_property
    def slots_by_task(self) -> dict[int, list[Slot]]:
        """Of each task that has any the slots with a window of it."""
        found: dict[int, list[Slot]] = {}
        for slot in self.slots:
            for task in slot.shutter:
                found.setdefault(task, []).append(slot)
        return found

    @property
    def by_depth(self) -> bool:
        """Whether a frame's worth hangs on when it is taken."""
        return self.request.aim.value == "depth"

    @property
    def most_worth(self) -> int:
        """Worth of all that is wanted, each frame taken at its best."""
        return sum(task.worth * task.frames_left for task in self.tasks)

    def near(self, worth: int, bound: int) -> bool:
        """Whether a plan is as near to a bound as the request asks."""
        return bound - worth <= self.request.aim.gap * worth

    def weighted_seconds(self, worth: float) -> float:
        """Worth in units -> weighted seconds of open shutter."""
        return float(worth * self.worth_unit)


def build_problem(request: Request, sky: SkyWindows) -> Problem:
    """Prepare the whole night as integers; the order of the targets in the file makes no difference."""
    tasks, unit = tasks_of(request, sky)
    slots: list[Slot] = []
    wanted: dict[str, list[Task]] = {}
    for task in tasks:
        if task.frames_left > 0:
            wanted.setdefault(task.target.name, []).append(task)
    for own in wanted.values():  # by name, as the tasks are
        slots.extend(_slots_of(request, sky, own[0].target, own, len(slots)))
    every_min = request.focus.every_min
    return Problem(
        request=request,
        lengths=Lengths.of(request),
        tasks=tasks,
        slots=tuple(slots),
        worth_unit=unit,
        every_s=math.floor(every_min * 60) if every_min > 0 else None,
    )


def with_sides_of(problem: Problem, sky: SkyWindows, target: Target) -> Problem:
    """The same night with other `sides` for one target; else `target` is the night's own of that name."""
    request = problem.request
    targets = tuple(target if each.name == target.name else each for each in request.targets)
    request = request.model_copy(update={"targets": targets})
    tasks = tuple(
        replace(task, target=target) if task.target.name == target.name else task for task in problem.tasks
    )
    own = [task for task in tasks if task.target.name == target.name and task.frames_left > 0]
    mine = _slots_of(request, sky, target, own, 0) if own else []
    before = [slot for slot in problem.slots if slot.target.name < target.name]
    after = [slot for slot in problem.slots if slot.target.name > target.name]
    changed = replace(problem, request=request, tasks=tasks, slots=(*before, *mine, *after))
    return only_slots(changed, lambda _: True)


def only_tasks(problem: Problem, wanted: Collection[int]) -> Problem:
    """The same night with some tasks alone: slots without them vanish."""
    kept = set(wanted)
    mine = {slot.index: slot for task in kept for slot in problem.slots_by_task.get(task, ())}
    slots = [
        replace(slot, shutter={task: spans for task, spans in slot.shutter.items() if task in kept})
        for _, slot in sorted(mine.items())
    ]
    return only_slots(replace(problem, slots=tuple(slots)), lambda slot: True)


def only_slots(problem: Problem, wanted: Callable[[Slot], bool]) -> Problem:
    """The same night with some slots alone, numbered anew in their order; a twin's first copy must stay."""
    slots: list[Slot] = []
    for slot in problem.slots:
        if wanted(slot):
            slots.append(replace(slot, index=len(slots), twin=len(slots) - slot.copy))
    return replace(problem, slots=tuple(slots))


def _slots_of(
    request: Request, sky: SkyWindows, target: Target, own: Sequence[Task], first: int
) -> list[Slot]:
    found: list[Slot] = []
    stretches = _whole(intersect(sky[target.name].acquisition, sky.sun_down))
    for side in permitted_sides(request, target):
        windows = side_windows(request, sky, target, side)
        for work in _whole(windows.work):
            shutter = {}
            for task in own:
                spans = _within(_whole(windows.shutter[task.goal.filter]), work)
                # the last download must be over when the night is
                spans = [(first, min(last, SPAN_S - task.download_s)) for first, last in spans]
                fitting = tuple(span for span in spans if span[1] - span[0] >= task.shutter_s)
                if fitting:
                    shutter[task.index] = fitting
            motion = next(
                (span for span in _whole(windows.motion) if span[0] <= work[0] and span[1] >= work[1]), None
            )
            stretch = next((span for span in stretches if span[0] <= work[0] and span[1] >= work[1]), None)
            if not shutter or motion is None or stretch is None:
                continue
            hour_angle_s, declination_deg, uneven_deg = _evenly(sky[target.name].track, motion, work)
            twin = first + len(found)
            found.extend(
                Slot(
                    index=twin + copy,
                    target=target,
                    side=side,
                    stretch=stretch,
                    motion=motion,
                    work=work,
                    shutter=shutter,
                    quiet=_quiet(windows.quiet, motion),
                    twin=twin,
                    copy=copy,
                    hour_angle_s=hour_angle_s,
                    declination_deg=declination_deg,
                    uneven_deg=uneven_deg,
                )
                for copy in range(VISITS_PER_SIDE)
            )
    return found


def _whole(windows: Windows) -> list[Span]:
    """Starts rounded up, ends down; windows without a whole second vanish."""
    rounded = [(math.ceil(window.start_s), math.floor(window.end_s)) for window in windows]
    return [span for span in rounded if span[1] > span[0]]


def _within(spans: Sequence[Span], outer: Span) -> list[Span]:
    return [span for span in spans if span[0] >= outer[0] and span[1] <= outer[1]]


def _quiet(windows: Windows, motion: Span) -> Span | None:
    """The quiet time that touches the span of motion (work may begin after it), rounded outward."""
    for window in windows:
        if window.start_s < motion[1] and window.end_s > motion[0]:
            return math.floor(window.start_s), math.ceil(window.end_s)
    return None


def _evenly(track: Track, motion: Span, work: Span) -> tuple[float, float, float]:
    """Hour angle carried back evenly from the middle of the work to time 0, and declination there.

    Third comes the largest departure from both (deg) over the motion: aberration, large only near the pole.
    """
    times_s = np.array([(work[0] + work[1]) / 2, *np.linspace(*motion, COURSE_SAMPLES)])
    hour_angles_s = track.hour_angle_s(times_s) - SIDEREAL_RATE * times_s
    declinations_deg = track.declination_deg(times_s)
    ahead_s = (hour_angles_s - hour_angles_s[0] + HALF_TURN_S) % FULL_TURN_S - HALF_TURN_S
    uneven_deg = max(
        float(np.abs(ahead_s).max()) / SECONDS_PER_DEGREE,
        float(np.abs(declinations_deg - declinations_deg[0]).max()),
    )
    return float(hour_angles_s[0]), float(declinations_deg[0]), uneven_deg
