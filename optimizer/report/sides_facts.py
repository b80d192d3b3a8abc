"""The comparison of before, after and across the transit, as data."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.problem import Problem
from optimizer.report.words import duration, seconds_words
from optimizer.sides.cases import CHOICES, Outcome, SideChoice
from optimizer.sides.compare import SidesOfNight, Status, Sureness, TargetSides, is_same

SIDES_SCHEMA: Final = "darkfill-sides/1"
CHOICE_WORDS: dict[SideChoice, str] = {
    "before": "before the transit",
    "after": "after the transit",
    "across": "across the transit",
}
DECIMALS = 3


class OutcomeFacts(Frozen):
    """A plan under one choice, with values in weighted seconds and means over the target's exposures.

    `target_depth_s`: seconds at the zenith on a moonless night that would reach as deep as the target's
    exposures; None where hours count. `target_expected_s`: seconds of the target's open shutter, each counted
    by the odds of clear sky given; None where none are.
    """

    open_shutter_s: float
    target_open_shutter_s: float
    target_value: float
    target_depth_s: float | None
    target_expected_s: float | None
    value: float
    flips: int
    mean_altitude_deg: float | None
    mean_moonlight_mag: float | None


class SurenessFacts(Frozen):
    """How sure an outcome is, and after how many seconds of search that was known.

    `proven`: within the gap asked for of `bound`, which no plan under the choice exceeds (weighted seconds;
    None where it is not known). `found`: the best that the search came to. `not_found`: no plan was found,
    which proves nothing. `impossible`: proven that there is none.
    """

    status: Status
    bound: float | None
    seconds: float


class ChoiceFacts(Frozen):
    """The outcome of one choice for the target alone and within the whole night; None without a plan."""

    alone: OutcomeFacts | None
    night: OutcomeFacts | None
    alone_proof: SurenessFacts
    night_proof: SurenessFacts


class TargetChoices(Frozen):
    """The choices of one target; `taken` is that of the night planned freely, None if left out.

    `allowed`: what the request lets a plan do with it; the comparison sets that aside.
    """

    target: str
    allowed: Literal["either", "before", "after"]
    choices: dict[SideChoice, ChoiceFacts]
    best: SideChoice | None
    taken: SideChoice | None
    reason: str


class SidesReport(Frozen):
    """The comparison for all targets (`darkfill-sides/1`); `gap` is that of the night planned freely."""

    schema_: Literal["darkfill-sides/1"] = Field(alias="schema")
    night_value: float
    night_bound: float
    gap: float
    targets: Annotated[tuple[TargetChoices, ...], FromList]


def sides_report(comparison: SidesOfNight) -> SidesReport:
    """The comparison as data, with a sentence for each target."""
    weighted = comparison.problem.weighted_seconds
    return SidesReport(
        schema_=SIDES_SCHEMA,
        night_value=weighted(comparison.best.profit),
        night_bound=weighted(comparison.best.bound),
        gap=round(comparison.best.gap, 6),
        targets=tuple(_target(each, comparison.problem) for each in comparison.targets),
    )


def _target(each: TargetSides, problem: Problem) -> TargetChoices:
    own = [task for task in problem.tasks if task.target.name == each.target.name and task.frames_left]
    # the best of three ways to have it is no advice to have it
    left_out = each.best is not None and each.taken is None
    return TargetChoices(
        target=each.target.name,
        allowed=each.target.sides,
        choices={
            choice: ChoiceFacts(
                alone=_facts(each.alone[choice]),
                night=_facts(each.night[choice]),
                alone_proof=_proof(each.alone_sure[choice]),
                night_proof=_proof(each.night_sure[choice]),
            )
            for choice in CHOICES
        },
        best=each.best,
        taken=each.taken,
        reason=reason(each, counts=not own or any(task.profit for task in own))
        + ("; planned freely, the night has no sub of it" if left_out else ""),
    )


def _facts(outcome: Outcome | None) -> OutcomeFacts | None:
    if outcome is None:
        return None
    return OutcomeFacts(
        open_shutter_s=outcome.open_s,
        target_open_shutter_s=outcome.target_open_s,
        target_value=outcome.target_value,
        target_depth_s=_rounded(outcome.target_depth_s),
        target_expected_s=_rounded(outcome.target_expected_s),
        value=outcome.value,
        flips=outcome.flips,
        mean_altitude_deg=_rounded(outcome.mean_altitude_deg),
        mean_moonlight_mag=_rounded(outcome.mean_moonlight_mag),
    )


def _proof(sure: Sureness) -> SurenessFacts:
    return SurenessFacts(status=sure.status, bound=_rounded(sure.bound), seconds=round(sure.seconds, 1))


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)


def reason(each: TargetSides, *, counts: bool = True) -> str:
    """One sentence: what the best choice gains over the next best, and how sure that is.

    `counts` is False where no frame of the target counts anything tonight.
    """
    best = each.best
    if best is None:
        return _none(each, counts=counts)
    mine = each.night[best]
    assert mine is not None
    others = {choice: night for choice, night in each.night.items() if night is not None and choice != best}
    words = CHOICE_WORDS[best]
    if not others:
        return f"{words}: {_rest(each, best)}"
    second = max(others, key=lambda choice: others[choice].value)
    most = max(mine.value, others[second].value)
    if is_same(mine.value, most) and is_same(others[second].value, most):
        return (
            f"{words}, but {CHOICE_WORDS[second]} has as much value{_higher(each, best, second)}"
            f"{_unproven(each, best, second)}"
        )
    more = seconds_words(mine.value - others[second].value)
    gain = f"the night's value is {more} greater than with the target "
    return (
        f"{words}: {gain}{CHOICE_WORDS[second]}{_own(each, best, second)}"
        f"{_higher(each, best, second)}{_unproven(each, best, second)}"
    )


def _none(each: TargetSides, *, counts: bool) -> str:
    """Why there is no best choice, in words."""
    if not any(goal.frames_left for goal in each.target.goals):
        return "all its subs are in hand"
    statuses = {each.night_sure[choice].status for choice in CHOICES}
    if statuses == {"impossible"} and not counts:
        return "no sub of it that counts anything fits tonight before, after or across its transit: proven"
    if statuses == {"impossible"}:
        return "it cannot be shot tonight before, after or across its transit: proven"
    searched = max(each.night_sure[choice].seconds for choice in CHOICES)
    return f"no plan with it was found in {searched:.1f} s each, which does not prove that there is none"


def _rest(each: TargetSides, best: SideChoice) -> str:
    """Why no other choice has a plan, in words."""
    unproven = [
        CHOICE_WORDS[choice]
        for choice in CHOICES
        if choice != best and each.night_sure[choice].status != "impossible"
    ]
    if not unproven:
        return "nothing else is possible tonight"
    return f"no plan was found {' or '.join(unproven)}, which does not prove that there is none"


def _own(each: TargetSides, best: SideChoice, second: SideChoice) -> str:
    one, other = each.alone[best], each.alone[second]
    if one is None or other is None:
        return ""
    here, there = _hours(one), _hours(other)
    return "" if here == there else f"; alone it gets {here} against {there}"


def _hours(own: Outcome) -> str:
    return duration(own.target_open_s if own.target_depth_s is None else own.target_depth_s)


def _higher(each: TargetSides, best: SideChoice, second: SideChoice) -> str:
    one, other = each.night[best], each.night[second]
    if one is None or other is None or one.mean_altitude_deg is None or other.mean_altitude_deg is None:
        return ""
    here, there = f"{one.mean_altitude_deg:.0f}°", f"{other.mean_altitude_deg:.0f}°"
    return "" if here == there else f"; it stands at {here} on average, against {there}"


def _unproven(each: TargetSides, best: SideChoice, second: SideChoice) -> str:
    """A remark unless no plan under another choice can have a greater value."""
    mine = each.night[best]
    assert mine is not None
    for choice in CHOICES:
        sure = each.night_sure[choice]
        if choice == best or sure.status == "impossible":
            continue
        if sure.status != "proven" and (sure.bound is None or not is_same(mine.value, sure.bound)):
            return "; as far as the search went"
    return ""
