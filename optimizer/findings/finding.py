"""What a person is told of a list: one finding a cause, in a group that says how dangerous it is."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import SerializerFunctionWrapHandler, model_serializer

from optimizer.models.base import FromList, Frozen
from optimizer.models.shots import AuditReport
from optimizer.models.site import Utc

Group = Literal["equipment", "lost_frames", "quality", "form"]

GROUPS: Final[tuple[Group, ...]] = ("equipment", "lost_frames", "quality", "form")
"""The groups, the most dangerous first."""


class Finding(Frozen):
    """One cause of violations, in the group and under the rule of the worst that comes of it.

    `steps` are the numbers of the steps that are in that group by it, in the order of the list; `from_utc` to
    `to_utc` is from the earliest of their starts to the latest of their ends, None where it is the list as a
    whole. `amount`, in `unit`, is the worst by which `rule` is broken. `sentence` says it for people, with
    all that comes of it, in local time.
    """

    group: Group
    rule: str
    from_utc: Utc | None
    to_utc: Utc | None
    steps: Annotated[tuple[int, ...], FromList]
    amount: float
    unit: str
    sentence: str


class Comparison(Frozen):
    """A list beside the best plan for the same request, in seconds of open shutter and weighted seconds.

    Of the list only lawful subs count: those that no finding of equipment or lost frames is about, and of
    each goal no more than it still lacks. `value_share` and `open_share` are the list's share (0 to 1) of the
    best plan that was found, None where that holds nothing; `bound` is the value that no plan can exceed, and
    `gap` by how much of its own value the best plan may fall short of it. `seconds` is how long the search
    took.
    """

    subs: int
    subs_counted: int
    open_s: float
    value_s: float
    best_open_s: float
    best_value_s: float
    open_share: float | None
    value_share: float | None
    bound: float
    gap: float
    status: Literal["optimal", "feasible", "stopped"]
    seconds: float
    sentence: str


class CheckReport(AuditReport):
    """The audit's report with its findings, the most dangerous first; what `check --json` prints.

    `safe`: nothing that was found endangers the equipment. `comparison` is there only if it was asked for.
    """

    safe: bool
    findings: Annotated[tuple[Finding, ...], FromList]
    comparison: Comparison | None = None

    @model_serializer(mode="wrap")
    def _leave_out_unasked(self, rest: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = rest(self)
        if self.comparison is None:
            del data["comparison"]
        return data
