"""One night from request to audited shot list: every room in order."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from importlib.metadata import version

from optimizer import __version__
from optimizer.audit import audit_shot_list
from optimizer.models.shots import SHOTS_SCHEMA, AuditReport, Idle, Proof, ShotList, Tool
from optimizer.packing.solution import Solution
from optimizer.packing.solve import Progress
from optimizer.problem import Problem
from optimizer.reading.load import LoadedRequest
from optimizer.sky.facts import night_facts
from optimizer.timeline.idle import idle_spans
from optimizer.timeline.steps import build_steps
from optimizer.timeline.totals import build_totals
from optimizer.timeline.unplanned import explain_unplanned
from optimizer.whatif import WhatIf

BOUND_DECIMALS = 6


def plan_night(loaded: LoadedRequest, tell: Progress | None = None) -> ShotList:
    """Plan a night and audit the plan; not to be written unless `audit.violations` is empty.

    `tell` hears seconds, value and bound (weighted seconds) of each better plan.
    """
    return plan_and_keep(loaded, tell)[0]


def plan_and_keep(
    loaded: LoadedRequest, tell: Progress | None = None, began: float | None = None
) -> tuple[ShotList, WhatIf]:
    """As `plan_night`, with the night from which the plan was made: it answers questions about changes.

    The time limit counts from `began` (as `time.monotonic` has it), else from now.
    """
    night = WhatIf(loaded.request, tell, began)
    return _shot_list(loaded, night), night


def _shot_list(loaded: LoadedRequest, night: WhatIf) -> ShotList:
    request, sky = loaded.request, night.sky
    windows, problem, solution = night.first.windows, night.first.problem, night.first.solution
    steps = build_steps(request, sky, windows, problem, solution.schedule.visits)
    unaudited = ShotList(
        schema_=SHOTS_SCHEMA,
        tool=_tool(),
        created_utc=dt.datetime.now(dt.UTC).replace(microsecond=0),
        request_sha256=loaded.sha256,
        request=request,
        night=night_facts(request, sky),
        steps=steps,
        totals=build_totals(problem, windows, solution.plan, solution.schedule.visits, steps),
        proof=_proof(problem, solution, sky.clock.utc),
        unplanned=explain_unplanned(
            request, sky, windows, problem, solution.plan, proven=solution.status == "optimal"
        ),
        audit=AuditReport(rules=(), violations=(), least_margin_min=None),
    )
    return unaudited.model_copy(update={"audit": audit_shot_list(unaudited)})


def _tool() -> Tool:
    return Tool(
        name="darkfill",
        version=__version__,
        ortools=version("ortools"),
        astropy=version("astropy"),
        numpy=version("numpy"),
    )


def _proof(problem: Problem, solution: Solution, utc: Callable[[int], dt.datetime]) -> Proof:
    idle = idle_spans(problem, solution.plan) if solution.status != "optimal" else ()
    return Proof(
        status=solution.status,
        objective=round(problem.weighted_seconds(solution.profit), BOUND_DECIMALS),
        bound=round(problem.weighted_seconds(solution.bound), BOUND_DECIMALS),
        gap=round(solution.gap, BOUND_DECIMALS),
        seconds=round(solution.seconds, 3),
        seed=problem.limits.seed,
        workers=solution.workers,
        idle=tuple(
            Idle(
                start_utc=utc(each.span[0]),
                end_utc=utc(each.span[1]),
                target=each.task.target.name,
                filter=each.task.goal.filter,
                exposure_s=each.task.goal.exposure_s,
                frames=each.frames,
            )
            for each in idle
        ),
    )
