"""Gaps -> the acts that they hold, by the list that the night was taken by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from optimizer.learn.gaps import Gap
from optimizer.learn.rows import ActName, Held
from optimizer.learn.rules import ROOM_FOR_SUB, SHORT_SUB_S, Sorted
from optimizer.models.shots import ShotList, Step, StepKind
from optimizer.pace.aligned import Aligned
from optimizer.words import listing

NOT_OF_LIST = "one of its frames is no sub of the list"
MISSING = "a sub of the list lies between, of which no file is there"
WAITED = "the list waits in it"
ON_TIME_S = 1.0  # a sub that begins no later than this after its time has been waited with, perhaps
ACT_OF: dict[StepKind, ActName] = {
    "dither": "dither",
    "filter": "filter",
    "focus": "focus",
    "slew": "slew",
    "centre": "slew",
    "settle": "slew",
    "rotate": "slew",
    "flip": "flip",
}
_ORDER: tuple[ActName, ...] = ("between_subs", "slew", "flip", "filter", "dither", "focus")
PLAIN = "by the list: gaps with nothing between two subs"
_WORDS: dict[ActName, str] = {
    "dither": "a dither",
    "filter": "a change of filter",
    "focus": "an autofocus",
    "slew": "a slew",
    "flip": "a flip",
}


def by_list(shots: ShotList, aligned: Aligned, gaps: Sequence[Gap]) -> Sorted:
    """Tell which acts lie in each gap of the list's night, by the steps between its two subs."""
    taken = {each.frame.path: each for each in aligned.taken}
    places = {step.step: place for place, step in enumerate(shots.steps)}
    prompt_s = min((each.late_s for each in aligned.taken), default=0.0) + ON_TIME_S  # clocks may differ
    held: list[Held] = []
    aside: list[tuple[Gap, str]] = []
    for gap in gaps:
        before, after = taken.get(gap.before.frame.path), taken.get(gap.after.frame.path)
        if gap.broken or before is None or after is None:
            aside.append((gap, gap.broken or NOT_OF_LIST))
            continue
        between = shots.steps[places[before.step.step] + 1 : places[after.step.step]]
        reason = _unclear(between)
        tail_s = before.step.seconds - (before.step.exposure_s or 0.0)
        if not between and gap.seconds >= max(gap.before.exposure_s, SHORT_SUB_S) + tail_s:
            reason = ROOM_FOR_SUB  # where many are missing the frames may lie beside the wrong subs
        if reason:
            aside.append((gap, reason))
        else:
            at_most = after.late_s <= prompt_s
            held.append(_held(gap, before.step, after.step, between, at_most=at_most))
    return held, aside


def _unclear(between: Sequence[Step]) -> str | None:
    kinds = {step.kind for step in between}
    if "expose" in kinds:
        return MISSING
    return WAITED if "wait" in kinds or "park" in kinds else None


def _held(gap: Gap, before: Step, after: Step, between: Sequence[Step], *, at_most: bool) -> Held:
    found: set[ActName] = {"between_subs", *(ACT_OF[step.kind] for step in between)}
    if "flip" in found:
        found.discard("slew")  # centre and settle are the flip's own
    acts = tuple(act for act in _ORDER if act in found)
    sided = replace(
        gap,
        before=replace(gap.before, side=before.pier_side),
        after=replace(gap.after, side=after.pier_side),
    )
    words = listing((_WORDS[act] for act in acts[1:]), "and")
    how = f"by the list: gaps with {words}" if words else PLAIN
    return Held(sided, acts, how, listed=True, at_most=at_most)
