"""A list as a telescope would follow it: what a row names counts only where something brings the mount there.

The audit judges each row by the target and pier side that it names. Where a flip or slew is missing the mount
is elsewhere, and where no row tells of some time it tracks on: both may lead to contact, and no row says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from optimizer.audit import audit_steps
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.shots import Step, Violation
from optimizer.models.targets import Target

DANGERS_OF_PLACE: Final = ("contact", "lower_culmination", "flip_from", "sun_down")


@dataclass(frozen=True)
class Origin:
    """A step of a changed list, with its place in the list as it was given; None: it was put in."""

    step: Step
    place: int | None


@dataclass(frozen=True)
class Stands:
    """Where the mount is: a target by name on a pier side, and whether it tracks. No target: at home."""

    target: str | None = None
    side: Any = None
    tracks: bool = False

    @classmethod
    def at_start(cls, continues: Continues | None) -> Stands:
        """Where the mount is before the first row."""
        if continues is None:
            return cls()
        begin = continues.begin
        tracks = begin.target is not None and begin.stands_since_utc is None
        return cls(begin.target, begin.pier_side, tracks)

    def after(self, step: Step) -> Stands:
        """Where it is after a step."""
        if step.kind in ("slew", "flip"):
            return Stands(step.target, step.pier_side, True)
        if step.kind == "park":
            return Stands()
        if step.kind == "wait" and not step.tracking:
            return replace(self, tracks=False)
        return self

    def carries(self, step: Step) -> bool:
        """Whether the mount is where the step takes it to be, as far as the step says."""
        here = step.target in (None, self.target) and step.pier_side in (None, self.side)
        return step.kind in ("slew", "flip", "park") or (step.kind == "wait" and not step.tracking) or here


def violations_of(
    request: Request, rows: Sequence[Origin], continues: Continues | None
) -> list[tuple[int | None, Violation]]:
    """What the audit finds in a changed list, by the place of the step in the list as it was given.

    What falls short of the request counts too; the place is None for the list as a whole. Violations of steps
    that were put in are left out.
    """
    steps = [row.step.model_copy(update={"step": number}) for number, row in enumerate(rows, start=1)]
    report = audit_steps(request, steps, continues)
    found: list[tuple[int | None, Violation]] = []
    for violation in (*report.violations, *report.quality):
        place = None if violation.step is None else rows[violation.step - 1].place
        if violation.step is None or place is not None:
            found.append((place, violation))
    return found


def hidden_dangers(
    request: Request, rows: Sequence[Origin], continues: Continues | None, told: set[tuple[str, int | None]]
) -> list[tuple[int, Violation]]:
    """Dangers of the place where the mount really is that no row names, each with the place of its step.

    Those that are `told` already, by rule and place, are left out. A danger between two rows has the place of
    the second one.
    """
    driven = _driven(request, rows, continues)
    if [row.step for row in driven] == [row.step for row in rows]:
        return []
    steps = [row.step.model_copy(update={"step": number}) for number, row in enumerate(driven, start=1)]
    hidden: dict[tuple[str, int | None], tuple[int, Violation]] = {}
    for violation in audit_steps(request, steps, continues).violations:
        place = None if violation.step is None else driven[violation.step - 1].place
        key = (violation.rule, place)
        if violation.rule in DANGERS_OF_PLACE and place is not None and key not in told:
            before = hidden.get(key)
            if before is None or before[1].amount < violation.amount:
                hidden[key] = (place, violation)
    return list(hidden.values())


def _driven(request: Request, rows: Sequence[Origin], continues: Continues | None) -> list[Origin]:
    """The rows with the target and pier side on which the mount is, and waits where nothing is told.

    What is put in between two rows has the place of the second.
    """
    targets = {target.name: target for target in request.targets}
    stands, until = Stands.at_start(continues), None
    driven: list[Origin] = []
    for row in rows:
        step = row.step
        target = targets.get(stands.target or "")
        if stands.tracks and target is not None:
            if step.kind == "wait" and step.tracking is None:  # nobody says that it stands, so it tracks on
                step = step.model_copy(update={**_here(target, stands), "tracking": True})
            if until is not None and step.start_utc > until:
                idle = step.model_copy(
                    update={**_here(target, stands), "kind": "wait", "start_utc": until, "tracking": True}
                )
                driven.append(Origin(idle.model_copy(update={"end_utc": step.start_utc}), row.place))
            if not stands.carries(step):
                step = step.model_copy(update=_here(target, stands))
        driven.append(Origin(step, row.place))
        stands = stands.after(step)
        until = step.end_utc if until is None else max(until, step.end_utc)
    return driven


def _here(target: Target, stands: Stands) -> dict[str, Any]:
    """The columns of a row on this target and pier side."""
    return {
        "target": target.name,
        "ra_deg": target.ra_deg,
        "dec_deg": target.dec_deg,
        "pier_side": stands.side,
        "latest_start_utc": None,
    }
