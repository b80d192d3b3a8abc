"""What is said of a night by its images, held against the truth of a simulated one; nothing where all is right."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import takewhile

from optimizer.follow.seen import Seen
from optimizer.models.shots import Step
from tests.support.executing import Done, Executed, execute
from tests.support.moment_judge import FAR_S, by_mount, harms, seconds
from tests.support.night_files import File
from tests.support.run_night import Happened
from tests.support.troubled_nights import Troubled

# What a camera's clock (8 s off, cut to the second) and the overheads of the one or two subs since the latest image
# (3 s each, a dither's jitter) come to at most.
TOLERANCE_S = 15.0
POLL_S = 5.0
GRACE_S = 30.0  # that an image may take beyond its download


@dataclass
class SeenJudge:
    """A moment of a night: what is known by `counted` subs, and what is true. `tried` counts what was compared."""

    night: Troubled
    now: dt.datetime
    told: Seen
    counted: frozenset[int]
    tried: Counter[str]

    @property
    def happened(self) -> Happened:
        return self.night.happened

    @property
    def steps(self) -> Sequence[Step]:
        return self.night.shots.steps

    @property
    def latest(self) -> int:
        """The number of the latest sub of which a file counts; 0 where none does."""
        return max(self.counted, default=0)

    @property
    def late_s(self) -> float:
        """How late that was by the camera's clock, never below 0."""
        return max(0.0, self.told.taken[-1].late_s) if self.told.taken else 0.0

    @cached_property
    def rest(self) -> tuple[Step, ...]:
        return tuple(step for step in self.steps if step.step > self.latest)

    @cached_property
    def rest_begins(self) -> dt.datetime:
        """When the rest begins, by the latest image."""
        begins = self.steps[self.latest - 1].end_utc if self.latest else self.steps[0].start_utc
        return begins + seconds(self.late_s)

    def run(self, rest: Sequence[Step], at: dt.datetime) -> Executed:
        return execute(rest, at, by_mount=by_mount(self.night.shots))

    @cached_property
    def expected(self) -> Executed:
        """The rest as it goes if nothing happens."""
        return self.run(self.rest, self.rest_begins)

    @cached_property
    def overdue(self) -> Done | None:
        """The sub whose image should have come by now."""
        grace = seconds(GRACE_S + self.night.shots.request.camera.download_s)
        coming = self.expected.subs[0] if self.expected.subs else None
        return coming if coming is not None and self.now > coming.end_utc + grace else None

    def complaints(self) -> Iterator[str]:
        """What is wrong, in clauses."""
        yield from self._subs()
        if self.told.taken and self.told.taken[-1].step.step != self.latest:
            return  # all that follows would be told from elsewhere
        yield from self._lateness()
        yield from self._running()
        yield from self._cost()
        yield from self._done()

    def _subs(self) -> Iterator[str]:
        taken = {each.step.step for each in self.told.taken}
        if taken != self.counted:
            yield f"subs with an image: {sorted(taken ^ self.counted)} are wrong"
        missing = [
            step.step
            for step in self.steps[: self.latest]
            if step.kind == "expose" and step.step not in self.counted
        ]
        if [step.step for step in self.told.missing] != missing:
            yield f"missing {[step.step for step in self.told.missing]}, not {missing}"
        self.tried["missing"] += len(missing)
        over = sum(step.kind == "expose" and step.end_utc <= self.now for step in self.steps)
        if self.told.over != over:
            yield f"{self.told.over} subs are said to be over by the plan, not {over}"
        for each in self.told.taken:
            if (wrong := self._dated_wrong_s(each.step.step, each.late_s)) is not None:
                yield f"sub {each.step.step} is said to be late by {each.late_s} s, {wrong} s wrong"

    def _dated_wrong_s(self, number: int, told_s: float) -> float | None:
        """By how much a lateness is beyond what the camera's clock explains."""
        camera = self.night.camera
        true_s = self.happened.lateness.get(number)
        if true_s is None:
            return None
        off_s = told_s - (true_s + camera.clock_off_s)
        cut_s = 1.0 if camera.whole_seconds else 0.001
        return None if -cut_s <= off_s <= 1e-6 else off_s

    def _lateness(self) -> Iterator[str]:
        told = self.told
        if self.overdue is None:
            if told.overdue is not None:
                yield f"{told.overdue} is called overdue"
            if told.late_s != self.late_s:
                yield f"late by {told.late_s} s, not {self.late_s} s"
            return
        self.tried["overdue"] += 1
        step = self.overdue.step
        if told.overdue is None or (told.overdue.step, told.overdue.due_utc) != (step, self.overdue.end_utc):
            yield f"overdue is {told.overdue}, not {step.step} due at {self.overdue.end_utc}"
            return
        file = self._prompt_file(step)
        if file is not None and step.step in self.happened.lateness:
            # its file was not there at the look before
            most_s = self.happened.lateness[step.step] + POLL_S + self.night.camera.written_over_s
            self.tried["late at least"] += 1
            if told.late_s > most_s + 1e-6:
                yield f"said to be at least {told.late_s} s late, and is {self.happened.lateness[step.step]} s"

    def _prompt_file(self, step: Step) -> File | None:
        """The file of a sub, if it is sound and came as soon as the camera could write it."""
        for file in self.happened.files:
            prompt_s = self.night.shots.request.camera.download_s + self.night.camera.written_over_s + 1e-3
            took = file.whole_utc - file.taken_utc - seconds(file.exposure_s)
            if (
                file.step == step
                and file.kind == "light"
                and file.damage is None
                and took <= seconds(prompt_s)
            ):
                return file
        return None

    @cached_property
    def calm(self) -> bool:
        """Whether the list is about as late now as the latest image tells."""
        begun = [each for each in self.happened.done if each.start_utc <= self.now]
        if self.overdue is not None or not self.told.taken or not begun:
            return False
        last = begun[-1]
        if self.now >= last.start_utc + (last.step.end_utc - last.step.start_utc) + seconds(TOLERANCE_S):
            return False  # it stands, or lasts too long
        foreseen = {each.step.step: each.start_utc for each in self.expected.done}
        since = [each for each in begun if each.step.step > self.latest]
        return all(
            each.step.step in foreseen
            and abs(each.start_utc - foreseen[each.step.step]) < seconds(TOLERANCE_S)
            for each in since
        )

    @cached_property
    def running(self) -> Done | None:
        """The sub that must be taken to run; before the first image nothing shows that the list has begun."""
        if self.overdue is not None or not self.counted:
            return None
        return next((each for each in self.expected.subs if each.start_utc <= self.now < each.end_utc), None)

    @cached_property
    def done(self) -> set[int]:
        """The numbers of the steps that must be taken to be done, the running sub included."""
        before = {step.step for step in self.steps[: self.latest]}
        done = {number for number in before if self._kind(number) != "expose" or number in self.counted}
        if self.overdue is None and self.counted:
            done |= {each.step.step for each in self.expected.done if each.end_utc <= self.now}
        return done if self.running is None else done | {self.running.step.step}

    @cached_property
    def let_end(self) -> tuple[Done, ...]:
        """What must be let end before a new list takes over: what runs, and what acquires the target with it."""
        if self.overdue is not None or not self.counted:
            return ()
        coming = [each for each in self.expected.done if each.end_utc > self.now]
        if not coming or coming[0].start_utc > self.now or coming[0].step.kind in ("wait", "park"):
            return ()
        acquires = ("centre", "settle", "rotate")
        if coming[0].step.kind not in ("slew", "flip", *acquires):
            return (coming[0],)
        return (coming[0], *takewhile(lambda each: each.step.kind in acquires, coming[1:]))

    def _kind(self, number: int) -> str:
        return self.steps[number - 1].kind

    def _running(self) -> Iterator[str]:
        told = None if self.told.running is None else (self.told.running, self.told.running_ends_utc)
        if told != (None if self.running is None else (self.running.step, self.running.end_utc)):
            yield f"running is {told}, not {self.running}"
        really = self.happened.under_way(self.now)
        if not self.calm or really is None or really.step.kind != "expose":
            return
        ends = really.start_utc + (really.step.end_utc - really.step.start_utc)
        if min(self.now - really.start_utc, ends - self.now) < seconds(TOLERANCE_S):
            return
        self.tried["running"] += 1
        if self.told.running != really.step:
            yield f"running is {told}, but truly {really}"
        elif self.told.running_ends_utc is None or abs(self.told.running_ends_utc - ends) > seconds(
            TOLERANCE_S
        ):
            yield f"the running sub is to end at {self.told.running_ends_utc}, and will at {ends}"

    def _cost(self) -> Iterator[str]:
        told, rest, at = self.told, self.rest, self.rest_begins
        if self.overdue is not None:
            rest = tuple(step for step in self.steps if step.step >= self.overdue.step.step)
            at = self.now - (rest[0].end_utc - rest[0].start_utc)
        lost = self._lost(rest, at)
        told_lost = {step.step for step in told.lost}
        if told_lost != lost:
            yield f"lost would be {sorted(told_lost)}, not {sorted(lost)}"
        self.tried["lost"] += bool(lost)
        if rest and not lost:
            yield from self._spare(rest, at)
        elif told.may_s != (0 if lost else None):
            yield f"may be later by {told.may_s} s although something is lost"
        if self.calm and self._lost(rest, at - seconds(TOLERANCE_S)) == self._lost(
            rest, at + seconds(TOLERANCE_S)
        ):
            self.tried["really lost"] += bool(lost)
            if told_lost != self._really_lost():
                yield f"lost would be {sorted(told_lost)}, and really are {sorted(self._really_lost())}"
        begins = self._flip_begins(rest, at)
        if (None if told.flip is None else (told.flip.step, told.flip.begins_utc)) != begins:
            yield f"a flip too late is {told.flip}, not {begins}"
        self.tried["flip too late"] += begins is not None

    def _lost(self, rest: Sequence[Step], at: dt.datetime) -> set[int]:
        """The subs that a rest loses by beginning at an instant."""
        return {step.step for step in self.run(rest, at).skipped if step.kind == "expose"}

    def _spare(self, rest: Sequence[Step], at: dt.datetime) -> Iterator[str]:
        shots, may_s = self.night.shots, self.told.may_s
        if may_s is None:
            if harms(shots, rest, at + seconds(FAR_S)):
                yield "no limit is told, but the list may come too late"
            return
        self.tried["spare"] += may_s > 0
        if may_s and harms(shots, rest, at + seconds(may_s)):
            yield f"may be later by {may_s} s, and so late it loses or breaks something"
        if not harms(shots, rest, at + seconds(may_s + 1)):
            yield f"may be later by {may_s} s, but a second more harms nothing"

    def _really_lost(self) -> set[int]:
        """The subs that really are lost if from now on all goes as planned."""
        gone = {each.step.step: each for each in self.happened.done if each.start_utc <= self.now}

        def lasts(step: Step) -> float:
            done = gone.get(step.step)
            if done is None or done.end_utc > self.now:
                return float(step.seconds)
            return (done.end_utc - done.start_utc).total_seconds()

        begins = self.happened.done[0].start_utc
        clouds = [cloud for cloud in self.happened.clouds if cloud.start_utc <= self.now]
        went = execute(self.steps, begins, lasts, clouds, by_mount=by_mount(self.night.shots))
        passed = {step.step for step in went.passed}
        return {
            step.step
            for step in went.skipped
            if step.kind == "expose" and step.step > self.latest and step.step not in passed
        }

    def _flip_begins(self, rest: Sequence[Step], at: dt.datetime) -> tuple[Step, dt.datetime] | None:
        """The next flip and when it would begin, if that is too late and nothing before it is skipped."""
        late_s = (at - rest[0].start_utc).total_seconds() if rest else 0.0
        for step in rest:
            late_s = max(0.0, late_s)
            if step.kind == "flip":
                begins = step.start_utc + seconds(late_s)
                too_late = step.latest_start_utc is not None and begins > step.latest_start_utc
                return (step, begins) if too_late and not by_mount(self.night.shots) else None
            if step.kind == "wait":
                late_s -= step.seconds
        return None

    def _done(self) -> Iterator[str]:
        if set(self.told.done) != self.done or len(self.told.done) != len(self.done):
            yield f"steps done: {sorted(set(self.told.done) ^ self.done)} are wrong"
        for number in self.done:
            gone = self.happened.lateness.get(number)
            if self._kind(number) == "expose" and gone is None and number <= self.latest:
                yield f"sub {number} is said to be done, and was never taken"
