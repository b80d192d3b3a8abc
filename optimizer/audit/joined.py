"""Are an older list, as far as it was done, and the list that goes on with it one lawful night together?

The steps done, what the mount did between them, and the steps of the newer list are checked as one list under
the older request, with what the newer one holds to be blocked from its beginning on. So what must hold across
the join does: frames, dithers, the age of the autofocus, filters, axes, pier sides and the zone.

What cannot be asked of the two together: totals, proof, values, facts of the night, slack and latest starts
belong to each list by itself. Steps of the older one are held only against rules that a step breaks by
itself, since accidents cut short what they were part of. Three rules are limits of a plan: how many visits a
target gets, how many runs a goal in a visit, and how long a visit is. What the two lists break of these
together is told as quality; each keeps them by itself. So is where the mount was in the time between steps.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimizer.audit.registry import CONTINUED_RULE_NAMES, RULES, SPAN_RULES, STEP_RULE_NAMES
from optimizer.audit.report import least_margin_min
from optimizer.audit.rows import key_of
from optimizer.audit.rules.begins import Begins
from optimizer.audit.rules.goals import Frames
from optimizer.audit.scene import Scene
from optimizer.audit.standing import begin_after, differences
from optimizer.models.continues import Begin, Continues
from optimizer.models.request import Request
from optimizer.models.shots import AuditReport, ShotList, Step, Violation

OF_TIME = frozenset(rule.name for rule in SPAN_RULES)
OF_A_STEP = OF_TIME | {"frames", "goal_match", "straddle"}
OF_A_PLAN = ("visits", "one_run", "least_visit")
NOT_ASKED = ("latest_start", *OF_A_PLAN)
MOVES = ("slew", "flip", "park")


@dataclass(frozen=True)
class _Part:
    """A row of the joined night: a step of either list, perhaps `cut` short, or a `gap` between steps."""

    step: Step
    older: bool = False
    cut: bool = False
    gap: bool = False


def audit_joined(older: ShotList, newer: ShotList) -> AuditReport:
    """Check what was done of a list, and the list that goes on with it, as one night.

    `newer.continues` tells which steps of `older` were done and where mount and camera stand after them; rule
    `begins` holds that against the steps, as far as no person told it. The numbers of steps are those of the
    newer list, or of the older one where the message says so.

    Raises ValueError where the newer list begins the night.
    """
    continues = newer.continues
    if continues is None:
        raise ValueError("the newer list goes on with no other: it has no `continues`")
    begin = continues.begin
    begins = {} if older.continues is None else {0: older.continues.begin}
    parts = [*_done(older, continues)]
    parts += _cut_wait(older, parts, begin)
    before = _scene(older.request, parts, begins)
    stands = begin_after(before, before.clock.seconds(begin.utc))
    parts += _until(older, parts, stands, begin)
    join = len(parts)
    if not join or continues.told or begin.target is None:
        begins[join] = begin
    parts += [_Part(step) for step in newer.steps]
    scene = _scene(_request(older, newer), parts, begins, join)
    found = [violation for rule in RULES if rule.name != "latest_start" for violation in rule.check(scene)]
    broken, quality = _sorted_out(found, parts)
    frames = sum(part.step.kind == "expose" for part in parts[:join])
    for amount, unit, message in differences(stands, begin, frames, told=continues.told):
        broken.append(scene.violation(Begins.name, None, amount, unit, message))
    return AuditReport(
        rules=tuple(name for name in STEP_RULE_NAMES if name not in NOT_ASKED) + CONTINUED_RULE_NAMES,
        violations=(*broken, *_misread(scene, older, continues), *_counted_twice(scene, older, newer)),
        quality=tuple(quality),
        least_margin_min=least_margin_min(scene),
    )


def _done(older: ShotList, continues: Continues) -> Iterator[_Part]:
    """The steps done, with gaps where steps were left out.

    In a gap the mount tracks on, unless a step that was left out moves it or lets it stand.
    """
    done = set(continues.steps_done)
    last: Step | None = None
    tracks = False
    for step in older.steps:
        stands = step.kind == "park" or _stands(step)
        if step.step not in done:
            tracks = tracks and not (stands or step.kind in MOVES)
            continue
        if last is not None and step.start_utc > last.end_utc:
            on = (last.target, last.pier_side) if tracks else None
            yield _gap(last.end_utc, step.start_utc, on)
        yield _Part(step, older=True)
        tracks, last = not stands, step


def _cut_wait(older: ShotList, parts: Sequence[_Part], begin: Begin) -> Iterator[_Part]:
    """The wait that followed the last step done, or began the older list, as far as it was let last."""
    number, ended = 0, None if older.continues is None else older.continues.begin.utc
    if parts:
        number, ended = parts[-1].step.step, parts[-1].step.end_utc
    for step in older.steps:
        if step.kind == "wait" and step.step == number + 1 and ended == step.start_utc < begin.utc:
            until = min(step.end_utc, begin.utc)
            yield _Part(step.model_copy(update={"end_utc": until}), older=True, cut=True)


def _until(older: ShotList, parts: Sequence[_Part], stands: Begin, begin: Begin) -> Iterator[_Part]:
    """Time between the last step done and the newer list.

    The mount tracks on if it did so before and does so on the same target and side as that list begins.
    """
    ended = None if older.continues is None else older.continues.begin.utc
    if parts:
        ended = parts[-1].step.end_utc
    if ended is None or ended >= begin.utc:
        return
    places = [(each.target, each.pier_side, each.stands_since_utc) for each in (stands, begin)]
    tracks = places[0] == places[1] and begin.target is not None and begin.stands_since_utc is None
    yield _gap(ended, begin.utc, (begin.target, begin.pier_side) if tracks else None)


def _stands(step: Step) -> bool:
    return step.kind == "wait" and not step.tracking


def _gap(start: dt.datetime, end: dt.datetime, on: tuple[object, object] | None) -> _Part:
    """Time in which the mount tracks `on` a target and pier side, or stands still."""
    target, side = on or (None, None)
    wait = {"step": 1, "kind": "wait", "start_utc": start, "end_utc": end, "tracking": on is not None}
    return _Part(Step.model_validate({**wait, "target": target, "pier_side": side}), gap=True)


def _request(older: ShotList, newer: ShotList) -> Request:
    """The older request, blocked also where the newer one is from its beginning on."""
    assert newer.continues is not None
    now = newer.continues.begin.utc
    clouds = tuple((max(start, now), end) for start, end in newer.request.night.blocked if end > now)
    night = older.request.night
    blocked = (*night.blocked, *clouds)
    return older.request.model_copy(update={"night": night.model_copy(update={"blocked": blocked})})


def _scene(
    request: Request, parts: Sequence[_Part], begins: Mapping[int, Begin], join: int | None = None
) -> Scene:
    """The parts as one list, numbered through, without what each list says of its own latest starts."""
    steps = [
        part.step.model_copy(update={"step": number, "latest_start_utc": None})
        for number, part in enumerate(parts, start=1)
    ]
    gaps = {place for place, part in enumerate(parts) if part.gap}
    return Scene.of(request, steps, own_list=False, begins=begins, gaps=gaps, join=join)


def _sorted_out(
    found: Sequence[Violation], parts: Sequence[_Part]
) -> tuple[list[Violation], list[Violation]]:
    """What of the findings is a violation and what is quality, with the numbers of the steps' own lists."""
    broken: list[Violation] = []
    quality: list[Violation] = []
    for each in sorted(found, key=lambda each: each.step or 0):
        part = None if each.step is None else parts[each.step - 1]
        between = part is not None and (part.gap or part.cut)
        if between and each.rule not in OF_TIME:
            continue
        if part is not None and part.older and each.rule not in (*OF_A_STEP, *OF_A_PLAN):
            continue
        told = each
        if part is not None:
            where = "before the newer list: " if part.gap else "in the older list: " if part.older else ""
            number = None if part.gap else part.step.step
            told = each.model_copy(update={"step": number, "message": f"{where}{each.message}"})
        (quality if between or each.rule in OF_A_PLAN else broken).append(told)
    return broken, quality


def _misread(scene: Scene, older: ShotList, continues: Continues) -> Iterator[Violation]:
    """Steps done that the older list does not have, and those that end after the newer list begins."""
    by_number = {step.step: step for step in older.steps}
    unknown = [number for number in continues.steps_done if number not in by_number]
    if unknown:
        message = f"steps_done names {unknown[0]}; the older list has no such step"
        yield scene.violation(Begins.name, None, len(unknown), "steps", message)
    ends = [by_number[number].end_utc for number in continues.steps_done if number in by_number]
    over_s = (max(ends) - continues.begin.utc).total_seconds() if ends else 0.0
    if over_s > 0:
        message = f"the last step done ends {over_s:g} s after the newer list begins"
        yield scene.violation(Begins.name, None, over_s, "s", message)


def _counted_twice(scene: Scene, older: ShotList, newer: ShotList) -> Iterator[Violation]:
    """Goals of which the newer request has more in hand than the older one and the steps done give.

    A goal that it takes for complete gets nothing, so that nothing is lost by it.
    """
    assert newer.continues is not None
    done = set(newer.continues.steps_done)
    taken = Counter(step.goal_key for step in older.steps if step.kind == "expose" and step.step in done)
    for target, goal in older.request.goals():
        taken[key_of(target, goal)] += goal.done
    for target, goal in newer.request.goals():
        key = key_of(target, goal)
        taken[key] -= goal.done
        if taken[key] < 0 and goal.frames_left:
            message = f"{target.name} in {goal.filter} has {-taken[key]} more in hand than was taken"
            yield scene.violation(Frames.name, None, -taken[key], "subs", message)
