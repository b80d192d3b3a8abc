"""A list beside the best plan for the same request: how much of what the night offers it uses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

from optimizer.ahead import KeptSeason
from optimizer.audit.rows import GoalKey, goal_caps
from optimizer.audit.scene import Scene
from optimizer.audit.values import factors_of
from optimizer.audit.worth import worth_of
from optimizer.findings.causes import causes_of
from optimizer.findings.finding import Comparison
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import AuditReport, GoalTotal, ShotList, Step, goal_total

UNLAWFUL = ("equipment", "lost_frames")


def compared(
    request: Request,
    steps: Sequence[Step],
    report: AuditReport,
    continues: Continues | None = None,
    *,
    season: InSeason | None = None,
    time_limit_s: float,
    tell: Callable[[float, float, float], None] | None = None,
) -> Comparison:
    """Plan the request within a time limit (seconds) and hold the lawful subs of the list against that plan.

    `report` is the audit's on the same request and steps, `season` what the list says of its season. Both are
    valued by the audit's own route, with the same factors. Raises KeyboardInterrupt where Ctrl-C came before
    there was a plan.
    """
    from optimizer.night import Night

    aim = request.aim.model_copy(update={"time_limit_s": time_limit_s})
    asked = request.model_copy(update={"aim": aim})
    best = Night(asked, continues, view=None if season is None else KeptSeason(season, asked)).plan(tell)
    if best.proof.status == "stopped" and not best.steps:
        raise KeyboardInterrupt
    subs = lawful_subs(request, steps, report, continues)
    value_s, open_s = value_of(request, subs, best), sum(step.exposure_s or 0.0 for step in subs)
    best_value_s, best_open_s = best.proof.objective, best.totals.open_shutter_s
    number = sum(step.kind == "expose" for step in steps)
    value_share = value_s / best_value_s if best_value_s > 0 else None
    open_share = open_s / best_open_s if best_open_s > 0 else None
    return Comparison(
        subs=number,
        subs_counted=len(subs),
        open_s=open_s,
        value_s=round(value_s, 3),
        best_open_s=best_open_s,
        best_value_s=round(best_value_s, 3),
        open_share=None if open_share is None else round(open_share, 4),
        value_share=None if value_share is None else round(value_share, 4),
        bound=best.proof.bound,
        gap=best.proof.gap,
        status=best.proof.status,
        seconds=best.proof.seconds,
        sentence=_sentence(value_share, open_share, number - len(subs), best),
    )


def lawful_subs(
    request: Request, steps: Sequence[Step], report: AuditReport, continues: Continues | None = None
) -> tuple[Step, ...]:
    """The subs of a list that endanger nothing, are not lost, and are still wanted."""
    barred = {
        fault.place
        for cause in causes_of(request, steps, report, continues)
        for fault in cause.faults
        if fault.group in UNLAWFUL and fault.place is not None
    }
    caps = goal_caps(request)
    taken: Counter[GoalKey] = Counter()
    subs = []
    for place, step in enumerate(steps):
        key = step.goal_key
        if step.kind == "expose" and place not in barred and taken[key] < caps.get(key, 0):
            taken[key] += 1
            subs.append(step)
    return tuple(subs)


def value_of(request: Request, subs: Sequence[Step], best: ShotList) -> float:
    """What these subs are worth together in weighted seconds, scarce goals by the factors of `best`."""
    scene = Scene.of(request, subs, own_list=False)
    totals = best.totals.model_copy(update={"goals": _shared_out(request, subs)})
    return worth_of(scene, totals, factors_of(best)).value_s


def _shared_out(request: Request, subs: Sequence[Step]) -> tuple[GoalTotal, ...]:
    """A line for each goal; of goals that are alike the first is filled first."""
    left = Counter(step.goal_key for step in subs)
    lines = []
    for target, goal in request.goals():
        key: GoalKey = (target.name, goal.filter, goal.exposure_s, goal.gain, goal.offset, goal.binning)
        planned = min(left[key], goal.frames_left)
        left[key] -= planned
        lines.append(goal_total(target.name, goal, planned))
    return tuple(lines)


def _sentence(value_share: float | None, open_share: float | None, uncounted: int, best: ShotList) -> str:
    """How much the list uses, beside what, and how sure that is."""
    if value_share is None or open_share is None:
        return "No plan for this request was found that holds a sub, so there is nothing to compare with."
    left_out = (
        ""
        if not uncounted
        else " One sub that is not lawful or not wanted is left out."
        if uncounted == 1
        else f" {uncounted} subs that are not lawful or not wanted are left out."
    )
    gap = best.proof.gap
    sure = (
        "which is proven the best possible"
        if best.proof.status == "optimal"
        else f"which is within {_up(gap)} % of the best possible"
    )
    return (
        f"Uses {_percent(value_share)} % of what the night offers by value, and {_percent(open_share)} % by "
        f"open shutter, beside the best plan found, {sure}.{left_out}"
    )


def _percent(share: float) -> str:
    """A share in whole per cent, rounded down: nothing below the whole is called the whole."""
    return str(int(100 * share + 1e-6))


def _up(fraction: float) -> str:
    return f"{-(-10_000 * fraction // 1) / 100:.2f}"
