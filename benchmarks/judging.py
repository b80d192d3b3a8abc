"""One night made ready for all planners, and the judge of their plans: darkfill's own schedule and audit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from benchmarks.nights import Night
from benchmarks.plain_aim import PLAIN_AIM
from optimizer.ahead import scarcity_of
from optimizer.audit import audit_steps
from optimizer.models.request import Request
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import Schedule, profit_of_visits, scheduled
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
    """What every planner starts from; `aim` is the request's; what it leaves open is the plain aim's."""
    request = request_from_data({**night.request, "aim": {**PLAIN_AIM, **aim}}, f"night {night.number}")
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    factors = scarcity_of(request, sky).factors(request)
    return Ready(request, sky, windows, build_problem(request, windows, factors))


def judged(ready: Ready, schedule: Schedule) -> dict[str, Any]:
    """The steps of a plan before the audit."""
    steps = build_steps(ready.request, ready.sky, ready.windows, ready.problem, schedule.visits)
    report = audit_steps(ready.request, steps)
    return {
        "steps": len(steps),
        "visits": len(schedule),
        "open_s": sum(step.exposure_s or 0 for step in steps if step.kind == "expose"),
        "violations": sorted({violation.rule for violation in report.violations}),
    }


def judged_plan(ready: Ready, plan: Plan) -> dict[str, Any]:
    """The same for a rival's plan, with its value in weighted seconds."""
    schedule = scheduled(ready.problem, plan)
    return {
        "value": ready.problem.weighted_seconds(profit_of_visits(ready.problem, schedule)),
        **judged(ready, schedule),
    }
