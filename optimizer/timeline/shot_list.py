"""The shot list of a night, all but its audit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from importlib.metadata import version

from optimizer.ahead import Scarcity
from optimizer.models.continues import Continues
from optimizer.models.request import Request, sha256_of
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import SHOTS_SCHEMA, Idle, Proof, ShotList, Tool
from optimizer.packing.solution import Solution
from optimizer.problem import Problem
from optimizer.sky.bodies import NightSky
from optimizer.sky.facts import night_facts
from optimizer.sky.windows import SkyWindows
from optimizer.timeline.idle import idle_spans
from optimizer.timeline.steps import build_steps
from optimizer.timeline.totals import build_totals
from optimizer.timeline.unplanned import explain_unplanned
from optimizer.version import __version__

BOUND_DECIMALS = 6


def unaudited_list(
    request: Request,
    sky: NightSky,
    windows: SkyWindows,
    problem: Problem,
    solution: Solution,
    scarcity: Scarcity,
    continues: Continues | None = None,
    season: InSeason | None = None,
) -> ShotList:
    """Lay a solution out as steps with totals, proof and what was left out; its `audit` is None.

    `scarcity` is what the factors of the problem come from. `continues` tells of the older list with which
    this one goes on; the problem then begins where it says. `season` is what it says of its season.
    """
    steps = build_steps(request, sky, windows, problem, solution.schedule.visits)
    return ShotList(
        schema_=SHOTS_SCHEMA,
        tool=tool_used(),
        created_utc=dt.datetime.now(dt.UTC).replace(microsecond=0),
        request_sha256=sha256_of(request),
        request=request,
        night=night_facts(request, sky),
        steps=steps,
        values=scarcity.values(request),
        values_carried=scarcity.carried,
        totals=build_totals(problem, windows, solution.plan, solution.schedule.visits, steps),
        proof=proof_of(problem, solution, sky.clock.utc),
        unplanned=explain_unplanned(
            request, sky, windows, problem, solution.plan, proven=solution.status == "optimal"
        ),
        audit=None,
        continues=continues,
        season=season,
    )


def tool_used() -> Tool:
    """This software and what it computes with, by version."""
    return Tool(
        name="darkfill",
        version=__version__,
        ortools=version("ortools"),
        astropy=version("astropy"),
        numpy=version("numpy"),
    )


def proof_of(problem: Problem, solution: Solution, utc: Callable[[int], dt.datetime]) -> Proof:
    """Say how near to the best possible a solution is; `utc` turns seconds of the night into an instant."""
    idle = idle_spans(problem, solution.plan) if solution.status != "optimal" else ()
    return Proof(
        status=solution.status,
        objective=round(problem.weighted_seconds(solution.profit), BOUND_DECIMALS),
        bound=round(problem.weighted_seconds(solution.bound), BOUND_DECIMALS),
        gap=round(solution.gap, BOUND_DECIMALS),
        seconds=round(solution.seconds, 3),
        ended=solution.ended,
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
