"""What easier settings would give, gathered for people: best first, and what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import ClassVar

from optimizer.models.shots import Relief, Unplanned
from optimizer.report.words import duration, name

OF_FILTER = ("darkness", "moon_gap_deg", "moonlight_mag")
NOTES = {
    "certain": "certain: the new plan has a greater value than any plan of the night as it is.",
    "found": "found: a plan of the night as it is might have as much value; only a longer search would tell.",
    "moved": "moved: the hours come from other targets; the value is by the weights as they are.",
    "darkness": "The value leaves out how bright the twilight is: look at a test sub first.",
}


@dataclass(frozen=True)
class EasierSetting:
    """An easier setting in words: what each target gains (most first), the whole night, and how surely."""

    words: str
    gains: list[tuple[str, str]]
    whole: str
    value: str
    sure: str


@dataclass(frozen=True)
class ReliefFacts:
    """The easier settings, best first, notes on the words that occur in them, and the goals without one."""

    heading: ClassVar = "What one easier setting would give, best first"

    settings: list[EasierSetting]
    notes: list[str]
    rest: list[str]


def relief_facts(entries: Sequence[Unplanned]) -> ReliefFacts | None:
    """What easier settings would give; None where nobody asked."""
    if all(entry.relief is None for entry in entries):
        return None
    pairs = _pairs(entries)
    words_in_use = {_sure(step) for _, step in pairs} | {step.key for _, step in pairs}
    rest = (
        ("No single easier setting was found to help", [entry for entry in entries if entry.relief == ()]),
        ("Not asked for", [entry for entry in entries if entry.relief is None]),
    )
    return ReliefFacts(
        settings=[_setting(list(same)) for _, same in groupby(pairs, key=lambda pair: _change(pair[1]))],
        notes=[note for word, note in NOTES.items() if word in words_in_use],
        rest=[f"{words}: {_goals(left)}." for words, left in rest if left],
    )


def _pairs(entries: Sequence[Unplanned]) -> list[tuple[str, Relief]]:
    """Targets with the settings that help them, each pair once, those of one change side by side."""
    by_pair = {(entry.target, _change(step)): step for entry in entries for step in entry.relief or ()}
    pairs = [(target, step) for (target, _), step in by_pair.items()]
    return sorted(pairs, key=lambda pair: (-pair[1].value_s, _change(pair[1]), -pair[1].target_open_s))


def _change(step: Relief) -> tuple[str, str, str]:
    """The key by which one change differs from another."""
    return step.change, step.key, step.of


def _setting(same: Sequence[tuple[str, Relief]]) -> EasierSetting:
    """One change with all targets that it helps; another target's key is named with that target."""
    step = same[0][1]
    elsewhere = step.key not in OF_FILTER and any(step.of != target for target, _ in same)
    return EasierSetting(
        words=name(step.change, 60) + (f" ({name(step.of)})" if elsewhere else ""),
        gains=[(name(target), _signed(each.target_open_s)) for target, each in same],
        whole=_signed(step.open_s),
        value=_signed(step.value_s),
        sure=_sure(step),
    )


def _sure(step: Relief) -> str:
    if step.key == "weight":
        return "moved"
    return "certain" if step.certain else "found"


def _signed(seconds: float) -> str:
    """Time gained or lost, to the minute; in seconds where it is less than one."""
    text = duration(abs(seconds)) if abs(seconds) >= 60 else f"{abs(seconds):.0f} s"
    if text == "0 s":
        return text
    return f"+{text}" if seconds > 0 else f"−{text}"


def _goals(entries: Sequence[Unplanned]) -> str:
    """Targets with their filters, in words."""
    grouped: dict[str, list[str]] = {}
    for entry in entries:
        filters = grouped.setdefault(entry.target, [])
        if (chosen := name(entry.filter, 12)) not in filters:
            filters.append(chosen)
    return "; ".join(f"{name(target)} {', '.join(filters)}" for target, filters in grouped.items())
