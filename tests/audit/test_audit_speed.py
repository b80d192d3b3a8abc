"""An audit of a long night is quick enough to run before every write."""

from __future__ import annotations

import datetime as dt
import time
from typing import Any

from optimizer.audit import audit_steps
from optimizer.audit.scene import Scene
from optimizer.models.shots import Step
from tests.support.audit_requests import a_request

STEPS, TARGETS = 400, 8


def long_night() -> tuple[Step, ...]:
    """Eight targets, fifty exposures each; the sky is looked up whether or not it permits them."""
    start = dt.datetime(2026, 11, 14, 19, tzinfo=dt.UTC)
    steps = []
    for number in range(STEPS):
        begin = start + dt.timedelta(seconds=90 * number)
        slew = number % (STEPS // TARGETS) == 0
        steps.append(
            Step(
                step=number + 1,
                kind="slew" if slew else "expose",
                start_utc=begin,
                end_utc=begin + dt.timedelta(seconds=90),
                target=f"T{number * TARGETS // STEPS}",
                filter="L",
                exposure_s=None if slew else 87.0,
                pier_side="west",
                tracking=True,
                altitude_deg=50.0,
                moon_separation_deg=50.0,
                latest_start_utc=begin + dt.timedelta(seconds=600),
            )
        )
    return tuple(steps)


def test_four_hundred_steps_take_no_more_than_a_second_and_a_half() -> None:
    """Processor time, so that neighbours do not count; measured 0.5 s on one shared core, imports apart."""
    request = a_request([(45.0 * number, 5.0 * number) for number in range(TARGETS)])
    steps = long_night()
    audit_steps(request, steps[:3])
    began = time.process_time()
    report = audit_steps(request, steps)
    assert time.process_time() - began < 1.5
    assert {violation.rule for violation in report.violations} >= {"acquired", "columns"}


def test_sky_is_looked_up_in_one_transform() -> None:
    """Whatever the rules ask for lies in the book before the first of them runs."""
    request = a_request([(45.0 * number, 5.0 * number) for number in range(TARGETS)])
    scene = Scene.of(request, long_night(), own_list=True)
    asked: list[int] = []
    transform = scene.book._transform

    def told(keys: Any) -> Any:
        asked.append(keys.size)
        return transform(keys)

    scene.book._transform = told  # type: ignore[method-assign]
    from optimizer.audit.registry import RULES

    for rule in RULES:
        list(rule.check(scene))
    assert asked == []
