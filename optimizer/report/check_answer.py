"""What `check --json` prints: the findings, and what is told of a typed plan and of a list that runs late."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import SerializerFunctionWrapHandler, model_serializer

from optimizer.findings.finding import CheckReport
from optimizer.models.base import FromList, Frozen
from optimizer.models.shots import StepKind
from optimizer.models.site import Utc
from optimizer.pace.late_by import LateBy
from optimizer.typed.inferred import Typed


class TimeLacking(Frozen):
    """A row of a typed plan, by its line, that starts before what must come before it is over."""

    line: int
    start_utc: Utc
    lacking_s: int
    kinds: Annotated[tuple[StepKind, ...], FromList]


class FlipLacking(Frozen):
    """A stay of a typed plan, by the lines of its rows, that has no gap for the flip it asks for.

    The flip may begin from `opens_utc` until `closes_utc`, if that is later.
    """

    lines: Annotated[tuple[int, ...], FromList]
    target: str
    opens_utc: Utc
    closes_utc: Utc


class TypedTold(Frozen):
    """How a plan typed by hand was read, and what of its steps was inferred.

    `counts` has the inferred steps by kind, `lines` the line of the file for each step that is a row's, by
    the step's number. `inferred` says it in a sentence, with the flips by the site's clock; `provided` is
    what must be done though no row says so, or the tube is in danger: without it the plan is not safe.
    """

    said: Annotated[tuple[str, ...], FromList]
    inferred: str
    provided: str
    counts: dict[str, int]
    flips_utc: Annotated[tuple[Utc, ...], FromList]
    flips_lacking: Annotated[tuple[FlipLacking, ...], FromList]
    time_lacking: Annotated[tuple[TimeLacking, ...], FromList]
    lines: dict[int, int]


class CheckAnswer(CheckReport):
    """The report of a check; `typed` and `late` are there only where there is something to tell."""

    typed: TypedTold | None = None
    late: LateBy | None = None

    @model_serializer(mode="wrap")
    def _leave_out_unasked(self, rest: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = rest(self)
        for name in ("comparison", "typed", "late"):
            if getattr(self, name) is None:
                del data[name]
        return data


def check_answer(found: CheckReport, typed: Typed | None, late: LateBy | None, zone: str) -> CheckAnswer:
    """Put a report and what is told besides into one; `zone` is the site's."""
    fields = {name: getattr(found, name) for name in CheckReport.model_fields}
    return CheckAnswer(**fields, typed=None if typed is None else _told(typed, zone), late=late)


def _told(typed: Typed, zone: str) -> TypedTold:
    return TypedTold(
        said=typed.said,
        inferred=typed.inferred.sentence(zone),
        provided=typed.provided(zone),
        counts=dict(typed.inferred.counts),
        flips_utc=typed.inferred.flips_utc,
        flips_lacking=tuple(
            FlipLacking(
                lines=each.lines, target=each.target, opens_utc=each.opens_utc, closes_utc=each.closes_utc
            )
            for each in typed.unflipped
        ),
        time_lacking=tuple(
            TimeLacking(line=each.line, start_utc=each.start_utc, lacking_s=each.lacking_s, kinds=each.kinds)
            for each in typed.short
        ),
        lines=dict(typed.lines),
    )
