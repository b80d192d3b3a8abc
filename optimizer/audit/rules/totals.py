"""The list's sums against its steps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from optimizer.audit.clock import NIGHT_S
from optimizer.audit.depth import depth_seconds
from optimizer.audit.odds import odds_seconds
from optimizer.audit.rows import GoalKey, key_of
from optimizer.audit.rules.slack import spare_seconds
from optimizer.audit.rules.spells import free_spells
from optimizer.audit.rules.sun import SUNSET_DEG
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import DEPTH_SHARE, ROUNDING, VALUE_DIGIT, WEIGHTED_SECONDS
from optimizer.audit.worth import Worth
from optimizer.models.shots import GoalTotal, Totals, Violation
from optimizer.models.targets import Goal, Target

NAME = "totals"
SHARE_DIGIT = 1e-4  # shares are given to four decimals or better
SET_SHARE_DIGIT = 1e-6  # shares of filter sets are rounded down to six decimals
SUM_S = 1e-6
MILLISECOND_S = 1e-3  # to which depth_s and expected_s are given
DARK_STEP_S = 60
DARK_SLACK_S = 2.0  # edges to the second, rounded either way; straight lines over 60 s cost 0.05 s


def check_totals(scene: Scene, totals: Totals, objective: float, worth: Worth) -> Iterator[Violation]:
    """Wrong sums: progress of goals and sets, value, seconds open, dark and by kind, share, least slack.

    `objective` is that of the proof, in weighted seconds. A list of an earlier version tells none of what its
    plan is worth: that is one finding, not one for each figure.
    """
    yield from _goals(scene, totals)
    if "value_s" in totals.model_fields_set:
        yield from _value(scene, totals, objective, worth)
        yield from _set_shares(scene, totals, worth)
        yield from _slack(scene, totals)
    else:
        yield _earlier(scene, worth)
    yield from _by_kind(scene, totals)
    exposures = [row for row in scene.rows if row.kind == "expose"]
    opened = sum(row.step.exposure_s or 0 for row in exposures)
    if abs(opened - totals.open_shutter_s) > SUM_S * max(1, len(exposures)):
        yield scene.violation(
            NAME,
            None,
            abs(opened - totals.open_shutter_s),
            "s",
            f"open_shutter_s says {totals.open_shutter_s:g}; the subs add up to {opened:g}",
        )
    share = totals.open_shutter_s / totals.dark_s if totals.dark_s > 0 else 0.0
    if abs(share - totals.share) > SHARE_DIGIT:
        yield scene.violation(
            NAME,
            None,
            abs(share - totals.share),
            "share",
            f"share says {totals.share:g}; open_shutter_s over dark_s is {share:.6f}",
        )
    yield from _depth(scene, totals)
    yield from _expected(scene, totals)
    dark = _dark_s(scene)
    if abs(totals.dark_s - dark) > DARK_SLACK_S:
        yield scene.violation(
            NAME,
            None,
            abs(totals.dark_s - dark),
            "s",
            f"dark_s says {totals.dark_s}; the Sun is low enough for some filter in use for "
            f"{dark:.1f} s that are clear and not blocked",
        )


def _value(scene: Scene, totals: Totals, objective: float, worth: Worth) -> Iterator[Violation]:
    """Check the value, which is the objective rounded down, and what of it is progress of filter sets.

    Where the objective is wrong, which is told elsewhere, the value is held against the exposures.
    """
    low, high, truth = -VALUE_DIGIT, WEIGHTED_SECONDS + VALUE_DIGIT, objective
    if abs(worth.value_s - objective) > worth.value_forgiven_s:
        low, high, truth = low - worth.value_forgiven_s, high + worth.value_forgiven_s, worth.value_s
    less = truth - totals.value_s
    if not low <= less <= high:
        yield scene.violation(
            NAME,
            None,
            abs(less),
            "weighted s",
            f"value_s says {totals.value_s:.3f}; the value of the subs is {truth:.6f}, to be rounded down",
        )
    off = abs(worth.set_s - totals.set_s)
    if off > worth.set_forgiven_s:
        yield scene.violation(
            NAME,
            None,
            off,
            "weighted s",
            f"set_s says {totals.set_s:.3f}; the filter sets come forward by {worth.set_s:.6f} weighted s",
        )


def _earlier(scene: Scene, worth: Worth) -> Violation:
    """That a list tells nothing of what its plan is worth."""
    return scene.violation(
        NAME,
        None,
        worth.value_s,
        "weighted s",
        "value_s is missing, as in a list of an earlier version; plan anew; "
        f"the value of the subs is {worth.value_s:.6f}, to be rounded down",
    )


def _set_shares(scene: Scene, totals: Totals, worth: Worth) -> Iterator[Violation]:
    """Check one line for each target, in file order."""
    names = [target.name for target in scene.request.targets]
    told = [line.target for line in totals.targets]
    if told != names:
        yield scene.violation(
            NAME,
            None,
            max(1, abs(len(told) - len(names))),
            "targets",
            f"the totals name {', '.join(told) or 'no target'}; the request has {', '.join(names)}",
        )
        return
    for line, shares in zip(totals.targets, worth.shares, strict=True):
        before, after = (None, None) if shares is None else shares
        for key, given, truth in (
            ("set_share_before", line.set_share_before, before),
            ("set_share_after", line.set_share_after, after),
        ):
            if (given is None) != (truth is None) or (
                given is not None and truth is not None and abs(truth - given) > SET_SHARE_DIGIT + ROUNDING
            ):
                says = "nothing" if given is None else f"{given:g}"
                is_so = "to be left out, as no goal is in a filter set" if truth is None else f"{truth:.6f}"
                yield scene.violation(
                    NAME,
                    None,
                    abs((truth or 0.0) - (given or 0.0)),
                    "share",
                    f"{key} of {line.target} says {says}; it is {is_so}",
                )


def _depth(scene: Scene, totals: Totals) -> Iterator[Violation]:
    """Check the depth, which the list gives where the aim asks for it and nowhere else."""
    if scene.request.aim.value != "depth":
        if totals.depth_s is not None:
            yield scene.violation(NAME, None, totals.depth_s, "s", "depth_s is given, but aim.value is hours")
        return
    truth = float(depth_seconds(scene, [row for row in scene.rows if row.kind == "expose"]).sum())
    given_s = 0.0 if totals.depth_s is None else totals.depth_s
    if abs(truth - given_s) > MILLISECOND_S + DEPTH_SHARE * truth:
        yield scene.violation(
            NAME,
            None,
            abs(truth - given_s),
            "s",
            f"depth_s says {given_s:g}; the subs are as good as {truth:.3f} s at the zenith on a "
            "moonless night",
        )


def _slack(scene: Scene, totals: Totals) -> Iterator[Violation]:
    """Check the least slack and the step that has it."""
    spare_s = {row.step.step: seconds for row, seconds in spare_seconds(scene)}
    least_s = min(spare_s.values(), default=None)
    told_s, step = totals.least_slack_s, totals.least_slack_step
    if least_s is None:
        if told_s is not None or step is not None:
            yield scene.violation(NAME, None, 1, "steps", "least_slack_s is given, but no step may be late")
    elif told_s is None:
        yield scene.violation(NAME, None, 1, "steps", f"least_slack_s is missing; it is {least_s}")
    elif told_s != least_s:
        yield scene.violation(
            NAME, None, abs(told_s - least_s), "s", f"least_slack_s says {told_s}; it is {least_s}"
        )
    elif step is None or spare_s.get(step) != least_s:
        yield scene.violation(
            NAME,
            None,
            1,
            "steps",
            f"least_slack_step says {step}, which is no step with {least_s} s of slack",
        )


def _expected(scene: Scene, totals: Totals) -> Iterator[Violation]:
    """Check the seconds expected by the odds of clear sky, which the list gives where there are odds."""
    if not scene.request.night.clear_odds:
        if totals.expected_s is not None:
            yield scene.violation(
                NAME, None, totals.expected_s, "s", "expected_s is given, but night.clear_odds is not"
            )
        return
    truth = float(odds_seconds(scene, [row for row in scene.rows if row.kind == "expose"]).sum())
    given_s = 0.0 if totals.expected_s is None else totals.expected_s
    if abs(truth - given_s) > MILLISECOND_S:
        yield scene.violation(
            NAME,
            None,
            abs(truth - given_s),
            "s",
            f"expected_s says {given_s:g}; by the odds of clear sky the subs are open for {truth:.3f} s",
        )


def _dark_s(scene: Scene) -> float:
    """Usable seconds of the night in which the Sun is low enough for some goal's filter."""
    wanted = {goal.filter for _, goal in scene.request.goals()}
    limits = [each.sun_limit_deg for each in scene.request.filters if each.name in wanted]
    if not limits:
        return 0.0
    seconds = np.arange(0, NIGHT_S + DARK_STEP_S, DARK_STEP_S, dtype=np.int64)
    above = scene.book.bodies(seconds).sun_altitude_deg - min(max(limits), SUNSET_DEG)
    crossed = np.flatnonzero((above[:-1] <= 0) != (above[1:] <= 0))
    edges = seconds[crossed] + DARK_STEP_S * above[crossed] / (above[crossed] - above[crossed + 1])
    bounds = [
        *([0.0] if above[0] <= 0 else []),
        *edges.tolist(),
        *([float(NIGHT_S)] if above[-1] <= 0 else []),
    ]
    dark = list(zip(bounds[::2], bounds[1::2], strict=True))
    shared = [min(end, stop) - max(begin, start) for begin, end in dark for start, stop in free_spells(scene)]
    return float(sum(max(0.0, each) for each in shared))


def _goals(scene: Scene, totals: Totals) -> Iterator[Violation]:
    """Check one line for each goal, in file order; goals written twice may share their frames either way."""
    goals = scene.request.goals()
    if len(totals.goals) != len(goals):
        yield scene.violation(
            NAME,
            None,
            abs(len(totals.goals) - len(goals)),
            "goals",
            f"the totals have {len(totals.goals)} goals; the request has {len(goals)}",
        )
        return
    planned: Counter[GoalKey] = Counter(row.goal_key for row in scene.rows if row.kind == "expose")
    claimed: Counter[GoalKey] = Counter()
    for (target, goal), line in zip(goals, totals.goals, strict=True):
        if (line.target, line.filter, line.exposure_s) != (target.name, goal.filter, goal.exposure_s):
            yield scene.violation(
                NAME,
                None,
                1,
                "goals",
                f"the totals name {line.target} in {line.filter} with {line.exposure_s:g} s "
                f"where the request has {target.name} in {goal.filter} with {goal.exposure_s:g} s",
            )
            continue
        claimed[key_of(target, goal)] += line.frames_planned
        yield from _line(scene, target, goal, line)
    for key, frames in claimed.items():
        if frames != planned[key]:
            yield scene.violation(
                NAME,
                None,
                abs(frames - planned[key]),
                "subs",
                f"frames_planned of {key[0]} in {key[1]} says {frames}; it is {planned[key]}",
            )


def _line(scene: Scene, target: Target, goal: Goal, line: GoalTotal) -> Iterator[Violation]:
    """Check a goal's line: frames wanted in all, done before this night, and left after this plan."""
    left = goal.frames_left - line.frames_planned
    expected = {
        "frames_wanted": goal.frames,
        "frames_done": goal.done,
        "frames_left": left,
        "seconds_wanted": goal.frames * goal.exposure_s,
        "seconds_planned": line.frames_planned * goal.exposure_s,
        "seconds_left": left * goal.exposure_s,
    }
    for name, value in expected.items():
        off = abs(getattr(line, name) - value)
        if off > ROUNDING * max(1.0, abs(value)):
            yield scene.violation(
                NAME,
                None,
                off,
                "subs" if name.startswith("frames") else "s",
                f"{name} of {target.name} in {goal.filter} says {getattr(line, name):g}; it is {value:g}",
            )


def _by_kind(scene: Scene, totals: Totals) -> Iterator[Violation]:
    """Check the seconds of each kind of step; kinds that the list lacks may be left out."""
    seconds: Counter[str] = Counter()
    for row in scene.rows:
        seconds[row.kind] += row.end - row.start
    for kind in sorted({*seconds, *totals.seconds_by_kind}):
        off = abs(seconds[kind] - totals.seconds_by_kind.get(kind, 0))
        if off:
            yield scene.violation(
                NAME,
                None,
                off,
                "s",
                f"seconds_by_kind of {kind} says {totals.seconds_by_kind.get(kind, 0)}; the steps add up to "
                f"{seconds[kind]}",
            )
