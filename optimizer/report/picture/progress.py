"""What the night adds to each goal, and what was left out, gathered for people to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimizer.models.shots import GoalTotal, Unplanned
from optimizer.report.set_words import SetProgress
from optimizer.report.words import advice_words, name, run_text, sentence_parts
from optimizer.words import safe


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
    lines = []
    for goal in goals:
        wanted = max(1, goal.frames_wanted)  # a list typed by hand may say anything
        done = min(1.0, max(0, goal.frames_done) / wanted)
        after = max(done, min(1.0, (goal.frames_done + goal.frames_planned) / wanted))
        lines.append(
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
    return lines


@dataclass(frozen=True)
class SetBar:
    """A filter set's progress in words, and its shares in percent: in hand, and with tonight's."""

    words: str
    done_percent: float
    tonight_percent: float


def set_bars(sets: Mapping[str, SetProgress]) -> dict[str, SetBar]:
    """One bar for each filter set, by the name of its target as it is shown."""
    shown = {}
    for target, progress in sets.items():
        done = min(1.0, max(0.0, progress.before))
        after = max(done, min(1.0, progress.after))
        shown[safe(target)] = SetBar(progress.words, round(100 * done, 1), round(100 * (after - done), 1))
    return shown


@dataclass(frozen=True)
class LeftOut:
    """Goals that were left out for the same reason, with each target's subs and what else is known of it."""

    why: str
    parts: tuple[tuple[str, str, str], ...]


def left_out(entries: Sequence[Unplanned]) -> tuple[list[LeftOut], list[str]]:
    """Reasons in the order of the list, each said once, and what holds for all goals of some reason.

    What is the same for all targets of a reason stands with it.
    """
    grouped: dict[str, dict[tuple[str, str], list[str]]] = {}
    shared: dict[str, int] = {}
    for entry in entries:
        why, more, advice = sentence_parts(entry.sentence)
        # held together by spaces that do not break
        words = run_text(name(entry.filter, 40), entry.frames, entry.exposure_s).replace(" ", "\u00a0")
        grouped.setdefault(why, {}).setdefault((safe(entry.target), more), []).append(words)
        if advice:
            shared[advice] = shared.get(advice, 0) + 1
    reasons = []
    for why, targets in grouped.items():
        mores = {more for _, more in targets}
        same = mores.pop() if len(mores) == 1 else ""
        parts = tuple(
            (target, ", ".join(words), "" if same else more) for (target, more), words in targets.items()
        )
        reasons.append(LeftOut(f"{why}; {same}" if same else why, parts))
    return reasons, [advice_words(each, for_all=of == len(entries)) for each, of in shared.items()]
