"""What was learned of the rig, what to change, and what a night gains by it, as data."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field

from optimizer.learn.acts import ActName, LearnedAct
from optimizer.learn.changes import Change
from optimizer.learn.lesson import Lesson
from optimizer.learn.lines import Place, Written
from optimizer.learn.tonight import Outcome, Tonight
from optimizer.models.base import FromList, Frozen
from optimizer.report.parted_facts import PartedFacts, file_reason, parted_facts
from optimizer.report.tally_facts import FileReason
from optimizer.words import safe

LEARN_SCHEMA: Final = "darkfill-learn/1"


class ActFacts(Frozen):
    """How long an act of the rig really takes, in seconds, or in `unknown` why that cannot be told.

    `acts` has one act, or several whose sum alone was measured. `low_s` and `high_s` hold nine tenths of the
    `count` gaps measured. `longer_s` is by how much an act takes longer than planned (negative: shorter), the
    median, which lies within `longer_from_s` and `longer_to_s` with 95 %. `how` says how the act's gaps were
    told apart from others.
    """

    acts: Annotated[tuple[ActName, ...], FromList]
    filter: str | None
    planned_s: float | None
    median_s: float | None
    low_s: float | None
    high_s: float | None
    count: int
    longer_s: float | None
    longer_from_s: float | None
    longer_to_s: float | None
    how: str
    unknown: str | None


class SetAsideFacts(Frozen):
    """Gaps that say nothing of the acts: why, and how many."""

    reason: str
    count: int


class ChangeFacts(Frozen):
    """A key of the request to change, in seconds, and where it stands.

    `filter` is the filter's name for a key of `filters`. `file` and `line` are where the key stands or, if it
    is not `written`, the table or filter that it belongs to; None where not even that is. `hides`: the key
    stands in the request itself, which wins over every file that it includes. `together` are the acts of
    which only the sum is known, and which the key takes all; empty where the act is known by itself.
    """

    key: str
    filter: str | None
    old: float
    new: float
    unit: str
    count: int
    file: str | None
    line: int | None
    written: bool
    hides: bool
    together: Annotated[tuple[ActName, ...], FromList]


class OutcomeFacts(Frozen):
    """Subs of a list, their seconds of open shutter, and their value in weighted seconds."""

    subs: int
    open_s: float
    value_s: float


class TonightFacts(Frozen):
    """A night planned with the request's numbers and with the learned ones.

    `old_taken` and `new_taken` are what would really be taken of the two plans if acts last as learned.
    `gain_s` are the weighted seconds that the second brings more than the first; `undecided_s` is what the
    two searches leave open, and `can_be_told` whether the gain is more than that, one way or the other.
    """

    evening: str
    old: OutcomeFacts
    old_taken: OutcomeFacts
    new: OutcomeFacts
    new_taken: OutcomeFacts
    gain_s: float
    undecided_s: float
    can_be_told: bool


class LearnReport(Frozen):
    """`darkfill-learn/1`: what the frames of a folder tell of the rig, and what follows from it.

    `subs` of goals were found among `files`, those with a date, copies once; `pairs` of consecutive ones were
    looked at. `sums` are acts that were measured only together. `written` is the file of the learned numbers,
    if one was written, `include` the line of the request by which it comes to count, which must be allowed
    where `include_outside`, and `older` where a file of its name is now. `evening` is that of the night which
    is planned with the learned numbers, `tonight` None where nothing changes or nothing can be scheduled on
    it, `parted` None where no list was given.
    """

    schema_: Literal["darkfill-learn/1"] = Field(alias="schema")
    folder: str
    files: int
    subs: int
    calibration: int
    unmatched: Annotated[tuple[FileReason, ...], FromList]
    damaged: Annotated[tuple[FileReason, ...], FromList]
    evenings: Annotated[tuple[str, ...], FromList]
    pairs: int
    acts: Annotated[tuple[ActFacts, ...], FromList]
    sums: Annotated[tuple[ActFacts, ...], FromList]
    set_aside: Annotated[tuple[SetAsideFacts, ...], FromList]
    changes: Annotated[tuple[ChangeFacts, ...], FromList]
    evening: str
    tonight: TonightFacts | None
    parted: PartedFacts | None
    include: str | None
    include_outside: bool
    written: str | None
    older: str | None


def learn_report(folder: Path, lesson: Lesson, written: Written | None = None) -> LearnReport:
    """Put all that was learned from a folder into one report, with the file of its numbers, if any."""
    found, learned = lesson.found, lesson.learned
    return LearnReport(
        schema_=LEARN_SCHEMA,
        folder=safe(str(folder)),
        files=found.files,
        subs=learned.frames,
        calibration=found.calibration,
        unmatched=tuple(file_reason(folder, path, why) for path, why in found.unmatched),
        damaged=tuple(file_reason(folder, each.path, each.reason) for each, _ in found.damaged),
        evenings=tuple(evening.isoformat() for evening in learned.evenings),
        pairs=learned.pairs,
        acts=tuple(map(_act, learned.acts)),
        sums=tuple(map(_act, learned.sums)),
        set_aside=tuple(SetAsideFacts(reason=each.reason, count=each.count) for each in learned.set_aside),
        changes=tuple(_change(*each) for each in lesson.changes),
        evening=lesson.evening.isoformat(),
        tonight=None if lesson.tonight is None else _tonight(lesson.tonight),
        parted=None if lesson.parted is None else parted_facts(folder, lesson.parted),
        written=None if written is None else safe(str(written.file)),
        include=None if written is None else written.included.line,
        include_outside=written is not None and not written.included.within,
        older=None if written is None or written.older is None else safe(str(written.older)),
    )


def _act(act: LearnedAct) -> ActFacts:
    def tidy(seconds: float | None) -> float | None:
        return None if seconds is None else round(seconds, 2)

    return ActFacts(
        acts=act.acts,
        filter=act.filter,
        planned_s=tidy(act.planned_s),
        median_s=tidy(act.median_s),
        low_s=tidy(act.low_s),
        high_s=tidy(act.high_s),
        count=act.count,
        longer_s=tidy(act.longer_s),
        longer_from_s=tidy(act.longer_from_s),
        longer_to_s=tidy(act.longer_to_s),
        how=act.how,
        unknown=act.unknown,
    )


def _change(change: Change, place: Place) -> ChangeFacts:
    return ChangeFacts(
        key=change.key,
        filter=change.filter,
        old=change.old,
        new=change.new,
        unit=change.unit,
        count=change.count,
        file=place.file or None,
        line=place.line,
        written=place.written,
        hides=place.own and place.written and change.filter is None,
        together=change.together,
    )


def _tonight(tonight: Tonight) -> TonightFacts:
    def outcome(each: Outcome) -> OutcomeFacts:
        return OutcomeFacts(subs=each.subs, open_s=each.open_s, value_s=round(each.value_s, 3))

    return TonightFacts(
        evening=tonight.old_list.night.evening,
        old=outcome(tonight.old),
        old_taken=outcome(tonight.old_taken),
        new=outcome(tonight.new),
        new_taken=outcome(tonight.new_taken),
        gain_s=round(tonight.gain_s, 3),
        undecided_s=round(tonight.undecided_s, 3),
        can_be_told=tonight.can_be_told,
    )
