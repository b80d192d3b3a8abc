"""Small changes to nights, and the table row that says what the audit must make of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import pytest

from optimizer.audit import audit_steps
from optimizer.models.base import Frozen
from optimizer.models.request import Request
from optimizer.models.shots import Step
from tests.support.hand_laid.night_cases import Night

SKY_COLUMNS = (
    "hour_angle_h",
    "altitude_deg",
    "azimuth_deg",
    "airmass",
    "moon_separation_deg",
    "latest_start_utc",
)


class Case(NamedTuple):
    """A broken night and the nearest one that is whole.

    `amount` (with its unit) is what the first violation of the rule must tell, within a hundredth part or
    `slack`; `also` are further rules that the same deed breaks, by necessity.
    """

    name: str
    rule: str
    broken: Callable[[], Night]
    twin: Callable[[], Night] | None = None
    step: int | None = None
    amount: float | Callable[[], float] | None = None
    unit: str | None = None
    also: frozenset[str] = frozenset()
    slack: float = 0.0


def judge_broken(case: Case) -> None:
    """Assert that exactly the rules of the case are broken, at the step and by the amount that it tells."""
    found = audit_steps(*case.broken()).violations
    assert {violation.rule for violation in found} == {case.rule, *case.also}, [str(each) for each in found]
    first = next(violation for violation in found if violation.rule == case.rule)
    assert first.message
    if case.step is not None:
        assert first.step == case.step
    if case.amount is not None:
        amount = case.amount() if callable(case.amount) else case.amount
        assert first.amount == pytest.approx(amount, rel=0.01, abs=case.slack)
    if case.unit is not None:
        assert first.unit == case.unit


def judge_twin(case: Case) -> None:
    """Assert that the whole night beside the broken one breaks nothing."""
    assert case.twin is not None
    assert audit_steps(*case.twin()).violations == ()


def ids(cases: Sequence[Case]) -> list[str]:
    names = [f"{case.rule}: {case.name}" for case in cases]
    assert len(set(names)) == len(names)
    return names


def later(instant: dt.datetime, seconds: int) -> dt.datetime:
    return instant + dt.timedelta(seconds=seconds)


def changed(model: Frozen, path: str, value: Any) -> Any:
    """A copy of a request (or part) with one value changed: `mount.contact_min`, `targets.0.goals.1.done`."""
    head, _, rest = path.partition(".")
    if isinstance(model, tuple):
        index = int(head)
        item = changed(model[index], rest, value) if rest else value
        return (*model[:index], item, *model[index + 1 :])
    return model.model_copy(update={head: changed(getattr(model, head), rest, value) if rest else value})


def asking(night: Night, **values: Any) -> Night:
    """The night under a changed request; dots of the path are written as double underscores."""
    request = night.request
    for path, value in values.items():
        request = changed(request, path.replace("__", "."), value)
    return Night(Request.model_validate_json(request.model_dump_json(by_alias=True)), night.steps)


def bare(night: Night) -> Night:
    """As typed by hand: no columns of the sky, no latest starts."""
    empty = dict.fromkeys(SKY_COLUMNS)
    return Night(night.request, tuple(step.model_copy(update=empty) for step in night.steps))


def edited(night: Night, number: int, **columns: Any) -> Night:
    """One step with other columns."""
    return Night(
        night.request,
        tuple(step.model_copy(update=columns) if step.step == number else step for step in night.steps),
    )


def edited_all(night: Night, numbers: Sequence[int], **columns: Any) -> Night:
    for number in numbers:
        night = edited(night, number, **columns)
    return night


def renumbered(night: Night) -> Night:
    return Night(
        night.request,
        tuple(step.model_copy(update={"step": n}) for n, step in enumerate(night.steps, start=1)),
    )


def without(night: Night, number: int) -> Night:
    """One step taken out; the one before it lasts longer instead."""
    night = bare(night)
    gone = night.steps[number - 1]
    night = edited(night, number - 1, end_utc=gone.end_utc)
    return renumbered(Night(night.request, tuple(step for step in night.steps if step.step != number)))


def shifted(night: Night, first: int, seconds: int) -> Night:
    """All steps from `first` on moved in time, their sky's columns emptied."""
    night = bare(night)
    return Night(
        night.request,
        tuple(
            step.model_copy(
                update={"start_utc": later(step.start_utc, seconds), "end_utc": later(step.end_utc, seconds)}
            )
            if step.step >= first
            else step
            for step in night.steps
        ),
    )


def boundary(night: Night, number: int, seconds: int) -> Night:
    """The instant between a step and the next one moved: the one grows, the other shrinks."""
    night = bare(night)
    moved = later(night.steps[number - 1].end_utc, seconds)
    return edited(edited(night, number, end_utc=moved), number + 1, start_utc=moved)


def stretched(night: Night, number: int, seconds: int) -> Night:
    """A step that lasts longer; all after it move back."""
    moved = shifted(night, number + 1, seconds)
    return edited(moved, number, end_utc=later(moved.steps[number - 1].end_utc, seconds))


def inserted(night: Night, before: int, seconds: int, **columns: Any) -> Night:
    """A step put in before another one, whose columns it takes; all later ones move back by its length."""
    moved = shifted(night, before, seconds)
    following = night.steps[before - 1]
    new = (
        bare(Night(night.request, (following,)))
        .steps[0]
        .model_copy(update={"end_utc": later(following.start_utc, seconds), **columns})
    )
    return renumbered(Night(moved.request, (*moved.steps[: before - 1], new, *moved.steps[before - 1 :])))


def number_of(night: Night, kind: str, occurrence: int = 0) -> int:
    """The number of the nth step of a kind (negative from the end)."""
    return [step.step for step in night.steps if step.kind == kind][occurrence]


def shutter_close(step: Step) -> dt.datetime:
    return later(step.start_utc, -(-int(step.exposure_s or 0) // 1))
