"""Where a night and its list parted, as data."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from optimizer.learn.parted import Parted, Spell, Why, taken_at
from optimizer.models.base import FromList, Frozen
from optimizer.models.site import Utc
from optimizer.report.tally_facts import FileReason
from optimizer.words import safe


class SpellFacts(Frozen):
    """A stretch of the night in which every sub was late, from `from_step` to `to_step`.

    `late_s` is the lateness of the latest of them, which is `latest_step`, `last_late_s` that of the last.
    """

    from_utc: Utc
    from_step: int
    to_utc: Utc
    to_step: int
    latest_step: int
    latest_utc: Utc
    late_s: float
    last_late_s: float


class GrownFacts(Frozen):
    """Seconds by which the list came to be later over gaps with these acts; no act: from sub to sub."""

    acts: Annotated[tuple[str, ...], FromList]
    count: int
    seconds: float


class HeldUpFacts(Frozen):
    """A gap between two subs that was so many seconds longer than planned; `missing` subs lie in it."""

    after_step: int
    after_utc: Utc
    before_step: int
    before_utc: Utc
    seconds: float
    missing: int


class WithoutFacts(Frozen):
    """A sub of the list that has no whole frame, and why as far as files tell."""

    step: int
    start_utc: Utc
    target: str
    filter: str
    exposure_s: float
    why: Why
    reason: str


class PartedFacts(Frozen):
    """Where the night and its list parted; times are when subs were really taken, where they were."""

    evening: str
    time_zone: str
    subs: int
    taken: int
    spells: Annotated[tuple[SpellFacts, ...], FromList]
    grown: Annotated[tuple[GrownFacts, ...], FromList]
    held_up: Annotated[tuple[HeldUpFacts, ...], FromList]
    caught_up_s: float
    without: Annotated[tuple[WithoutFacts, ...], FromList]
    others: Annotated[tuple[str, ...], FromList]
    untold: Annotated[tuple[FileReason, ...], FromList]


def parted_facts(folder: Path, parted: Parted) -> PartedFacts:
    """Put where a night and its list parted into data; files are named by their paths in the folder."""
    return PartedFacts(
        evening=parted.shots.night.evening,
        time_zone=parted.shots.night.time_zone,
        subs=parted.subs,
        taken=len(parted.taken),
        spells=tuple(map(_spell, parted.spells)),
        grown=tuple(
            GrownFacts(acts=each.acts, count=each.count, seconds=round(each.seconds, 1))
            for each in parted.grown
        ),
        held_up=tuple(
            HeldUpFacts(
                after_step=each.after.step.step,
                after_utc=taken_at(each.after),
                before_step=each.before.step.step,
                before_utc=taken_at(each.before),
                seconds=round(each.seconds, 1),
                missing=each.missing,
            )
            for each in parted.held_up
        ),
        caught_up_s=round(parted.caught_up_s, 1),
        without=tuple(
            WithoutFacts(
                step=each.step.step,
                start_utc=each.step.start_utc,
                target=each.step.target or "",
                filter=each.step.filter or "",
                exposure_s=each.step.exposure_s or 0.0,
                why=each.why,
                reason=safe(each.reason),
            )
            for each in parted.without
        ),
        others=tuple(file_reason(folder, each.path, "").file for each in parted.others),
        untold=tuple(file_reason(folder, each.path, each.reason) for each in parted.untold),
    )


def _spell(spell: Spell) -> SpellFacts:
    return SpellFacts(
        from_utc=taken_at(spell.first),
        from_step=spell.first.step.step,
        to_utc=taken_at(spell.last),
        to_step=spell.last.step.step,
        latest_step=spell.latest.step.step,
        latest_utc=taken_at(spell.latest),
        late_s=round(spell.latest.late_s, 1),
        last_late_s=round(spell.last.late_s, 1),
    )


def file_reason(folder: Path, path: Path, reason: str) -> FileReason:
    """Name a file by its path in the folder, with what is to be said of it."""
    inside = path.relative_to(folder) if path.is_relative_to(folder) else path
    return FileReason(file=safe(inside.as_posix()), reason=safe(reason))
