"""What a night gains or loses by being planned with the numbers that were learned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from optimizer.audit import value_of
from optimizer.errors import UnauditedError
from optimizer.models.request import Request
from optimizer.models.shots import ShotList, Step
from optimizer.night import Night
from optimizer.pace.late import Lasts, late_run

LIMIT_S = 5.0  # of each of the two searches
LEAST_GAIN_S = 1.0  # weighted seconds; what is less is no difference


@dataclass(frozen=True)
class Outcome:
    """Subs of a list, the seconds in which their shutter is open, and their value in weighted seconds."""

    subs: int
    open_s: float
    value_s: float


@dataclass(frozen=True)
class Tonight:
    """A night planned with the request's numbers and with the learned ones, both lists run at the learned
    pace.

    `old` and `new` are the lists as they are planned, `old_taken` and `new_taken` what is really taken of
    them if acts last as learned. `undecided_s` is by how much, in weighted seconds, both plans together may
    fall short of the best of their kind, by their proofs: a smaller difference may be the search's luck.
    """

    old_list: ShotList
    new_list: ShotList
    old: Outcome
    old_taken: Outcome
    new: Outcome
    new_taken: Outcome
    undecided_s: float

    @property
    def gain_s(self) -> float:
        """Weighted seconds that the list by the learned numbers brings more than the one by the old."""
        return self.new_taken.value_s - self.old_taken.value_s

    @property
    def can_be_told(self) -> bool:
        """Whether the difference is larger than what the two searches leave open, and a second or more."""
        return abs(self.gain_s) > self.undecided_s and abs(self.gain_s) >= LEAST_GAIN_S


def tonight_with(
    request: Request,
    changed: Request,
    *,
    limit_s: float = LIMIT_S,
    tell: Callable[[str], None] | None = None,
) -> Tonight | None:
    """Plan a night with the numbers of its request and with those learned, and run both at that pace.

    `changed` is the request with the learned numbers and nothing else changed. Each of the two searches may
    take `limit_s`. `tell` is called with what is being done as it begins. None where neither plan has a sub.

    Raises InputError where the evening is outside all tables, KeyboardInterrupt on Ctrl-C, UnauditedError
    where a plan fails its audit, which is a defect of the software.
    """
    tell = tell or (lambda doing: None)
    tell("the night with the request's numbers")
    night = Night(request.with_aim(time_limit_s=limit_s))
    old = _audited(night)
    tell("the night with the learned numbers")
    new = _audited(night.ask(changed, limit_s, request.aim.gap))
    lasts = real_pace(request, changed)
    if not (old.steps or new.steps):
        return None
    return Tonight(
        old_list=old,
        new_list=new,
        old=_planned(old),
        old_taken=_taken(old, lasts),
        new=_planned(new),
        new_taken=_taken(new, lasts),
        undecided_s=sum(max(0.0, shots.proof.bound - shots.proof.objective) for shots in (old, new)),
    )


def real_pace(planned: Request, learned: Request) -> Lasts:
    """How long each step lasts by the learned numbers: as in its list where its number was not changed."""

    def lasts(step: Step) -> float:
        before, now = _length_s(planned, step), _length_s(learned, step)
        return float(step.seconds) if now is None or now == before else now

    return lasts


def _length_s(request: Request, step: Step) -> float | None:
    """What the request's numbers that can be learned make of a step; None for other kinds of steps."""
    camera = request.camera
    if step.kind == "expose":
        return (step.exposure_s or 0.0) + camera.download_s + camera.overhead_s
    if step.kind == "filter":
        return next((each.change_s for each in request.filters if each.name == step.filter), None)
    if step.kind == "dither":
        return camera.dither_s
    if step.kind == "focus":
        return request.focus.run_s
    return request.mount.centre_s if step.kind == "centre" else None


def _audited(night: Night) -> ShotList:
    shots = night.plan()
    if shots.proof.status == "stopped":
        raise KeyboardInterrupt
    if shots.audit_report.violations:
        raise UnauditedError(violation.message for violation in shots.audit_report.violations)
    return shots


def _planned(shots: ShotList) -> Outcome:
    return _outcome(shots, shots.steps)


def _taken(shots: ShotList, lasts: Lasts) -> Outcome:
    """What is really taken of a list that is run at that pace: late subs that are skipped left out."""
    if not shots.steps:
        return _planned(shots)
    by_mount = shots.request.mount.flip_by == "mount"
    run = late_run(shots.steps, shots.steps[0].start_utc, lasts, by_mount=by_mount)
    times = [{"start_utc": each.start_utc, "end_utc": each.end_utc} for each in run.ran]
    return _outcome(
        shots, [each.step.model_copy(update=when) for each, when in zip(run.ran, times, strict=True)]
    )


def _outcome(shots: ShotList, steps: tuple[Step, ...] | list[Step]) -> Outcome:
    subs = [step for step in steps if step.kind == "expose"]
    return Outcome(len(subs), sum(step.exposure_s or 0.0 for step in subs), value_of(shots, steps))
