"""Missing slack is told as quality: to the second, by step, and in few lines where it is missing everywhere."""

from __future__ import annotations

from functools import cache

import pytest

from optimizer.audit import audit_shot_list, audit_steps
from optimizer.models.shots import ShotList, Step, Violation
from optimizer.report.audit_view import QUALITY, audit_view
from tests.support.hand_laid.mutations import later
from tests.support.report_cases import text
from tests.support.timeline_nights import by_itself, crossing, planned

SLACK_S = 60


@cache
def kept() -> ShotList:
    return planned(crossing().request.with_aim(slack_s=SLACK_S))


def with_spare(number: int, spare_s: int) -> list[Step]:
    """The list, where one step may be no later than so many seconds."""
    return [
        step.model_copy(update={"latest_start_utc": later(step.start_utc, spare_s)})
        if step.step == number
        else step
        for step in kept().steps
    ]


def one_of(kind: str) -> Step:
    return next(step for step in kept().steps if step.kind == kind)


def quality(steps: list[Step]) -> tuple[Violation, ...]:
    report = audit_steps(kept().request, steps)
    assert report.violations == ()
    return report.quality


@pytest.mark.parametrize("kind", ["slew", "centre", "settle", "filter", "focus", "expose", "dither", "flip"])
def test_slack_cut_by_a_second_is_told(kind: str) -> None:
    step = one_of(kind)
    assert quality(with_spare(step.step, SLACK_S)) == ()
    (found,) = quality(with_spare(step.step, SLACK_S - 1))
    assert (found.rule, found.step, found.amount, found.unit) == ("slack", step.step, 1, "s")
    words = {
        "centre": "plate solve",
        "settle": "settling",
        "filter": "filter change",
        "focus": "autofocus",
        "expose": step.filter,
    }
    assert found.message == (
        f"step {step.step}, {words.get(kind, kind)} of Cradle, has 59 s of slack; 60 s are asked for"
    )


def test_waits_and_parks_are_not_asked_for_slack() -> None:
    assert {step.kind for step in kept().steps if step.latest_start_utc} > {"park"}
    park = one_of("park")
    assert quality(with_spare(park.step, 0)) == ()


def test_flip_of_the_mounts_own_is_not_asked_for_slack() -> None:
    shots = planned(by_itself().request.with_aim(slack_s=SLACK_S))
    (flip,) = [step for step in shots.steps if step.kind == "flip"]
    assert flip.latest_start_utc == flip.start_utc
    assert shots.audit_report.quality == ()


def test_steps_without_a_latest_start_are_not_asked() -> None:
    assert quality([step.model_copy(update={"latest_start_utc": None}) for step in kept().steps]) == ()


def test_eight_are_named_and_nine_are_counted() -> None:
    rows = [step for step in kept().steps if step.kind == "expose"][:9]

    def short(many: int) -> list[Step]:
        spare = {step.step: place for place, step in enumerate(rows[:many])}
        return [
            step.model_copy(update={"latest_start_utc": later(step.start_utc, spare[step.step])})
            if step.step in spare
            else step
            for step in kept().steps
        ]

    assert [each.step for each in quality(short(8))] == [step.step for step in rows[:8]]
    first, *named = quality(short(9))
    assert (first.step, first.amount) == (None, 60)
    assert first.message == (
        "9 steps have less slack than the 60 s that are asked for, the least of them 0 s; the 8 with the least are named"
    )
    assert [each.step for each in named] == [step.step for step in rows[:8]]


def test_own_list_that_lacks_slack_is_safe_all_the_same() -> None:
    """The plan of a night without slack, judged by a request that asks for some."""
    report = audit_shot_list(
        crossing().model_copy(update={"request": crossing().request.with_aim(slack_s=3600)})
    )
    assert report.violations == ()
    assert 1 < len(report.quality) < 10


def test_quality_has_a_section_of_its_own() -> None:
    sub = one_of("expose")
    report = audit_steps(kept().request, with_spare(sub.step, 17))
    shown = text(audit_view(report))
    assert shown.startswith("Safe and within the rules: ")
    verdict, section = shown.split(f"{QUALITY}\n")
    assert "slack" not in verdict
    assert f"step {sub.step}, {sub.filter} of Cradle, has 17 s of slack; 60 s are asked for" in section
    assert QUALITY not in text(audit_view(kept().audit_report))
