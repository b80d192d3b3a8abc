"""What the night adds to each goal, and what was left out, gathered for people to read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.shots import GoalTotal, Unplanned
from optimizer.models.words import safe
from optimizer.report.words import name


@dataclass(frozen=True)
class Bar:
    """A goal's progress; shares of the frames wanted, in percent: in hand, and with tonight's."""

    target: str
    filter: str
    exposure_s: float
    done: int
    tonight: int
    left: int
    wanted: int
    done_percent: float
    tonight_percent: float


def bars(goals: Sequence[GoalTotal]) -> list[Bar]:
    """One bar for each goal; frames beyond what is wanted do not lengthen it."""
    found = []
    for goal in goals:
        wanted = max(1, goal.frames_wanted)  # a list typed by hand may say anything
        done = min(1.0, max(0, goal.frames_done) / wanted)
        after = max(done, min(1.0, (goal.frames_done + goal.frames_planned) / wanted))
        found.append(
            Bar(
                target=safe(goal.target),
                filter=name(goal.filter, 40),
                exposure_s=goal.exposure_s,
                done=goal.frames_done,
                tonight=goal.frames_planned,
                left=goal.frames_left,
                wanted=goal.frames_wanted,
                done_percent=round(100 * done, 1),
                tonight_percent=round(100 * (after - done), 1),
            )
        )
    return found


@dataclass(frozen=True)
class LeftOut:
    """Goals by target that found no place for the same reason, and the reason as a sentence."""

    parts: tuple[tuple[str, str], ...]
    sentence: str


def left_out(entries: Sequence[Unplanned]) -> list[LeftOut]:
    """In the order of the list; what is said of several targets is said once."""
    grouped: dict[str, dict[str, list[str]]] = {}
    for entry in entries:
        # held together by spaces that do not break
        words = f"{name(entry.filter, 40)} {entry.frames}×{entry.exposure_s:g} s".replace(" ", "\u00a0")
        grouped.setdefault(entry.sentence, {}).setdefault(entry.target, []).append(words)
    return [
        LeftOut(tuple((safe(target), ", ".join(words)) for target, words in targets.items()), safe(sentence))
        for sentence, targets in grouped.items()
    ]
