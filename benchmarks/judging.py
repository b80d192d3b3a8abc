"""One night made ready for all planners, and the judge of what they hand in: darkfill's layout and audit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from benchmarks.nights import Night
from optimizer.audit import audit_steps
from optimizer.models.request import Request
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import ScheduledVisit, profit_of_visits, scheduled
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.timeline.steps import build_steps


@dataclass(frozen=True)
class Ready:
    """A night's request, sky, windows and integer problem."""

    request: Request
    sky: NightSky
    windows: SkyWindows
    problem: Problem


def made_ready(night: Night, aim: dict[str, Any]) -> Ready:
    """What every planner starts from; `aim` is the request's."""
    request = request_from_data({**night.request, "aim": aim}, f"night {night.number}")
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    return Ready(request, sky, windows, build_problem(request, windows))


def judged(ready: Ready, laid: tuple[ScheduledVisit, ...]) -> dict[str, Any]:
    """The steps of a plan before the audit."""
    steps = build_steps(ready.request, ready.sky, ready.windows, ready.problem, laid)
    report = audit_steps(ready.request, steps)
    return {
        "steps": len(steps),
        "visits": len(laid),
        "open_s": sum(step.exposure_s or 0 for step in steps if step.kind == "expose"),
        "violations": sorted({violation.rule for violation in report.violations}),
    }


def judged_choice(ready: Ready, choice: Plan) -> dict[str, Any]:
    """The same for a rival's choice, with its worth in weighted seconds."""
    laid = scheduled(ready.problem, choice)
    return {
        "value": ready.problem.weighted_seconds(profit_of_visits(ready.problem, laid)),
        **judged(ready, laid),
    }
