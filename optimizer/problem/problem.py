"""The integer problem: models and windows -> one frozen description in whole seconds."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.rig import SIDES
from optimizer.models.targets import Target
from optimizer.mount.axes import HOME, slew_s
from optimizer.mount.zones import HALF_TURN_S
from optimizer.problem.filter_sets import Worth, worth_of
from optimizer.problem.rules import Limits, Rules
from optimizer.problem.run_lengths import RunLengths
from optimizer.problem.slots import Slot, slots_of
from optimizer.problem.start import DUSK, STANDING, Start, start_of
from optimizer.problem.tasks import NO_FACTORS, Factors, Task, tasks_of, worth_planning
from optimizer.sky.windows import SkyWindows


@dataclass(frozen=True)
class Problem:
    """Everything that the packing needs, in whole seconds; nothing in it depends on the sky any more."""

    rules: Rules
    limits: Limits
    tasks: tuple[Task, ...]
    slots: tuple[Slot, ...]
    profit_unit: Fraction  # weighted seconds in one unit of profit
    worth: Worth = field(default_factory=Worth)
    start: Start = DUSK

    @cached_property
    def run_lengths(self) -> RunLengths:
        """The law of how long runs are under these rules."""
        return RunLengths(self.rules)

    def slew_seconds(self, before: Slot | None, left_s: int, after: Slot, depart_s: int) -> int:
        """Seconds of the slew, begun at `depart_s`, from where the mount stopped tracking at `left_s`."""
        latitude_deg = self.rules.latitude_deg
        if self.tracks_to_flip(before, after):
            left_s = depart_s
        start = HOME if before is None else before.axes(left_s, latitude_deg)
        return slew_s(self.rules, start, after.axes(depart_s, latitude_deg), self.uneven_deg(before, after))

    def uneven_deg(self, before: Slot | None, after: Slot) -> float:
        """Most degrees by which a motion between the two departs from what their even courses say."""
        return after.uneven_deg + (before.uneven_deg if before is not None else 0.0)

    def flips_between(self, before: Slot | None, after: Slot) -> bool:
        """Whether going from one slot to the other is the flip of one target carried across the meridian."""
        return (
            before is not None
            and before.target.name == after.target.name
            and (before.side, after.side) == SIDES
        )

    def stays(self, before: Slot | None, after: Slot) -> bool:
        """Whether a visit goes on with what is tracked as the plan begins, without a slew."""
        return before is not None and before.index == STANDING and self.start.stays_in(after)

    def flips_by_itself(self, before: Slot | None, after: Slot) -> bool:
        """Whether that flip is the mount's own: it tracks on until it turns."""
        return self.rules.flip_by == "mount" and self.flips_between(before, after)

    def tracks_to_flip(self, before: Slot | None, after: Slot) -> bool:
        """Whether the mount follows the target until that flip, be it its own or one that the plan asks for.

        Where the flip may begin before the first side must be left, and the sky lets the telescope work all
        the while, there is no need to stand still before it.
        """
        if before is None or not self.flips_between(before, after):
            return False
        if self.rules.flip_by == "mount":
            return True
        same_transit = 0 <= before.work[1] - after.motion[0] < HALF_TURN_S
        return same_transit and before.stretch == after.stretch

    def rotates_between(self, before: Slot | None, after: Slot) -> bool:
        """Whether the rotator turns by 180 degrees between the two."""
        return self.rules.rotates_after_flip and before is not None and before.side != after.side

    def acquisition_s(self, before: Slot | None, after: Slot) -> int:
        """Centre, settle and rotate: the acts that every arrival has, filter and focus excepted."""
        turn_s = self.rules.rotate_s if self.rotates_between(before, after) else 0
        return self.rules.centre_s + self.rules.settle_s + turn_s

    def focuses_on_arrival(self, flipping: bool, filter_changes: bool) -> bool:
        """Whether an arrival must be followed by a focus run, the cadence apart."""
        always = self.rules.focus_after_flip if flipping else self.rules.focus_on_new_target
        return always or (self.rules.focus_on_filter_change and filter_changes)

    @cached_property
    def focus_may_be_carried(self) -> bool:
        """Whether a cadence is asked for and some run may begin without a focus run of its own."""
        rules = self.rules
        if rules.focus_every_s is None:
            return False
        if not (rules.focus_on_new_target or rules.focus_on_filter_change):
            return True
        if any(self.start.stays_in(slot) for slot in self.slots):
            return True
        if rules.flips and not rules.focus_after_flip:
            return True
        filters = [[self.tasks[task].goal.filter for task in slot.shutter] for slot in self.slots]
        if not rules.focus_on_filter_change:
            return any(len(names) > 1 for names in filters)
        return any(len(set(names)) < len(names) for names in filters)

    @cached_property
    def slots_by_target(self) -> dict[str, list[Slot]]:
        """The slots of each target that has any, by its name, in their order."""
        by_target: dict[str, list[Slot]] = {}
        for slot in self.slots:
            by_target.setdefault(slot.target.name, []).append(slot)
        return by_target

    @property
    def tasks_in_file_order(self) -> tuple[Task, ...]:
        """The tasks as the request lists their goals; inside the problem targets go by name."""
        return tuple(sorted(self.tasks, key=lambda task: (task.target_place, task.index)))

    @cached_property
    def slots_by_task(self) -> dict[int, list[Slot]]:
        """The slots with a window of a task, by the index of the task; tasks without any are left out."""
        by_task: dict[int, list[Slot]] = {}
        for slot in self.slots:
            for task in slot.shutter:
                by_task.setdefault(task, []).append(slot)
        return by_task

    @property
    def by_time(self) -> bool:
        """Whether a frame's profit depends on when it is taken."""
        return self.rules.by_time

    @property
    def most_profit(self) -> int:
        """Profit of all that is wanted, each frame taken at its best."""
        return self.worth.profit([task.profit * task.frames_left for task in self.tasks])

    def near(self, profit: int, bound: int) -> bool:
        """Whether a plan is as near to a bound as the request asks."""
        return bound - profit <= self.limits.gap * profit

    def weighted_seconds(self, profit: float) -> float:
        """Turn units of profit into weighted seconds."""
        return float(profit * self.profit_unit)


def build_problem(
    request: Request, sky: SkyWindows, factors: Factors = NO_FACTORS, begin: Begin | None = None
) -> Problem:
    """Prepare the whole night in whole seconds; the order of the targets in the file makes no difference.

    `factors` are those by which the frames of scarce goals count more. `begin` is where a list begins that
    goes on with a night, None: at home. Raises ValueError where the mount then tracks a target that the
    request does not have: one that shall be shot no more must stay in it, complete.
    """
    tasks, unit = tasks_of(request, sky, factors)
    start = start_of(request, sky, begin)
    slots, worth = _slots(request, sky, tasks, start), worth_of(request, tasks)
    return Problem(Rules.of(request), Limits.of(request), tasks, slots, unit, worth, start)


def _slots(request: Request, sky: SkyWindows, tasks: Iterable[Task], start: Start) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    wanted: dict[str, list[Task]] = {}
    for task in tasks:
        if worth_planning(request, task):
            wanted.setdefault(task.target.name, []).append(task)
    for own in wanted.values():  # by name, as the tasks are
        target = own[0].target
        flipped = start.is_flipped_on(target)
        slots.extend(slots_of(request, sky, target, own, len(slots), flipped=flipped))
    return tuple(slots)


def without_slack(problem: Problem, request: Request, sky: SkyWindows) -> Problem:
    """The same night with no slack asked for: what it cannot hold is left out for other reasons."""
    if not request.aim.slack_s:
        return problem
    return replace(problem, slots=_slots(request.with_aim(slack_s=0), sky, problem.tasks, problem.start))


def with_sides_of(problem: Problem, request: Request, sky: SkyWindows, target: Target) -> Problem:
    """Give one target other `sides` and leave the night as it is otherwise.

    `target` is the night's own but for its `sides`. `request` is that of the night: its rig and site say
    which pier sides are permitted.
    """
    tasks = tuple(
        replace(task, target=target) if task.target.name == target.name else task for task in problem.tasks
    )
    own = [task for task in tasks if task.target.name == target.name and worth_planning(request, task)]
    flipped = problem.start.is_flipped_on(target)
    mine = slots_of(request, sky, target, own, 0, flipped=flipped) if own else []
    before = [slot for slot in problem.slots if slot.target.name < target.name]
    after = [slot for slot in problem.slots if slot.target.name > target.name]
    changed = replace(problem, tasks=tasks, slots=(*before, *mine, *after))
    return only_slots(changed, lambda _: True)


def only_tasks(problem: Problem, wanted: Collection[int]) -> Problem:
    """Leave only these tasks, by their indices; slots without any of them vanish."""
    kept = set(wanted)
    mine = {slot.index: slot for task in kept for slot in problem.slots_by_task.get(task, ())}
    slots = [
        replace(slot, shutter={task: spans for task, spans in slot.shutter.items() if task in kept})
        for _, slot in sorted(mine.items())
    ]
    return only_slots(replace(problem, slots=tuple(slots)), lambda slot: True)


def only_slots(problem: Problem, wanted: Callable[[Slot], bool]) -> Problem:
    """Leave only the wanted slots, numbered anew in their order; a twin's first copy must stay."""
    slots: list[Slot] = []
    for slot in problem.slots:
        if wanted(slot):
            slots.append(replace(slot, index=len(slots), twin=len(slots) - slot.copy))
    return replace(problem, slots=tuple(slots))
