"""Before, after or across, as data."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from optimizer.models.base import FromList, Frozen
from optimizer.report.words import duration
from optimizer.sides import CHOICES, Outcome, SideChoice, SidesOfNight, TargetSides

SIDES_SCHEMA: Final = "darkfill-sides/1"
CHOICE_WORDS: dict[SideChoice, str] = {
    "before": "before the transit",
    "after": "after the transit",
    "across": "across the transit",
}
SAME_S = 60.0  # weighted seconds between nights that a person would call equal
DECIMALS = 3


class OutcomeFacts(Frozen):
    """A plan under one choice. Value in weighted seconds; means over the target's exposures."""

    open_shutter_s: float
    target_open_shutter_s: float
    value: float
    flips: int
    mean_altitude_deg: float | None
    mean_moonlight_mag: float | None


class ChoiceFacts(Frozen):
    """One choice: for the target alone, and within the whole night. None: it cannot be made tonight."""

    alone: OutcomeFacts | None
    night: OutcomeFacts | None


class TargetChoices(Frozen):
    """One target; `taken` is what the best plan of the night does with it (None: it leaves it out)."""

    target: str
    choices: dict[SideChoice, ChoiceFacts]
    best: SideChoice | None
    taken: SideChoice | None
    reason: str


class SidesReport(Frozen):
    """`darkfill-sides/1`; choices' values are what was found in the time, `gap` is the best plan's."""

    schema_: Literal["darkfill-sides/1"] = Field(alias="schema")
    night_value: float
    night_bound: float
    gap: float
    targets: Annotated[tuple[TargetChoices, ...], FromList]


def sides_report(found: SidesOfNight) -> SidesReport:
    """The comparison as data, with a sentence for each target."""
    weighted = found.problem.weighted_seconds
    return SidesReport(
        schema_=SIDES_SCHEMA,
        night_value=weighted(found.best.worth),
        night_bound=weighted(found.best.bound),
        gap=round(found.best.gap, 6),
        targets=tuple(_target(each) for each in found.targets),
    )


def _target(each: TargetSides) -> TargetChoices:
    return TargetChoices(
        target=each.target.name,
        choices={
            choice: ChoiceFacts(alone=_facts(each.alone[choice]), night=_facts(each.night[choice]))
            for choice in CHOICES
        },
        best=each.best,
        taken=each.taken,
        reason=reason(each),
    )


def _facts(outcome: Outcome | None) -> OutcomeFacts | None:
    if outcome is None:
        return None
    return OutcomeFacts(
        open_shutter_s=outcome.open_s,
        target_open_shutter_s=outcome.target_open_s,
        value=outcome.value,
        flips=outcome.flips,
        mean_altitude_deg=_rounded(outcome.mean_altitude_deg),
        mean_moonlight_mag=_rounded(outcome.mean_moonlight_mag),
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)


def reason(each: TargetSides) -> str:
    """One sentence: what the best choice gains over the next best, and why."""
    best = each.best
    if best is None:
        return "it cannot be shot tonight on any side"
    mine = each.night[best]
    assert mine is not None
    others = [(each.night[choice], choice) for choice in CHOICES if choice != best and each.night[choice]]
    words = CHOICE_WORDS[best]
    if not others:
        return f"{words}: tonight nothing else is possible"
    runner, second = max(
        ((o.value, choice) for o, choice in others if o is not None), key=lambda pair: pair[0]
    )
    gain_s = mine.value - runner
    if gain_s < SAME_S:
        return f"{words}, but {CHOICE_WORDS[second]} is worth as much{_higher(each, best, second)}"
    alone_best, alone_second = each.alone[best], each.alone[second]
    own_gain_s = (0.0 if alone_best is None else alone_best.value) - (
        0.0 if alone_second is None else alone_second.value
    )
    why = (
        "its own windows hold more there"
        if own_gain_s >= SAME_S
        else "the other targets fill the rest of the night better"
    )
    gain = f"the night gains {duration(gain_s)} over {CHOICE_WORDS[second]}"
    return f"{words}: {gain}, since {why}{_higher(each, best, second)}"


def _higher(each: TargetSides, best: SideChoice, second: SideChoice) -> str:
    one, other = each.night[best], each.night[second]
    if one is None or other is None or one.mean_altitude_deg is None or other.mean_altitude_deg is None:
        return ""
    return f"; it stands at {one.mean_altitude_deg:.0f}° on average, there at {other.mean_altitude_deg:.0f}°"
