"""The night's visits in order: what is shot when, and on which pier side, in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.shots import Step
from optimizer.report.words import clock, name, run_text
from optimizer.views.visits import visits_of


@dataclass(frozen=True)
class VisitLine:
    """A visit in words that are safe to show; times are local."""

    begins: str
    ends: str
    target: str
    exposures: str
    side: str
    by_flip: bool


def order_of_night(steps: Sequence[Step], zone: str) -> list[VisitLine]:
    """The visits of a list, one line each."""
    return [
        VisitLine(
            begins=clock(visit.steps[0].start_utc, zone),
            ends=clock(visit.steps[-1].end_utc, zone),
            target=name(visit.target, 60) or "no target",
            exposures=", ".join(_run(*run) for run in visit.runs()) or "no sub",
            side=visit.side or "",
            by_flip=visit.by_flip,
        )
        for visit in visits_of(steps)
    ]


def _run(filter_name: str, frames: int, exposure_s: float) -> str:
    """One run in words, held together by spaces that do not break."""
    return run_text(name(filter_name, 12), frames, exposure_s).replace(" ", "\u00a0")
