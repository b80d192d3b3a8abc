"""Violations by cause: each belongs to exactly one, and the most dangerous comes first."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.findings.finding import Finding
from optimizer.findings.groups import Fault, family_of, group_of
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.shots import AuditReport, Step


def findings_of(
    request: Request, steps: Sequence[Step], report: AuditReport, continues: Continues | None = None
) -> tuple[Finding, ...]:
    """What an audit found in these steps, one finding for each cause, the most dangerous first.

    `report` is the audit's on the same request and steps; its violations and its quality are told, and every
    one of them belongs to exactly one finding. Sentences have the local time of the site.
    """
    families: dict[tuple[str, str], list[Fault]] = {}
    for fault in faults_of(steps, report):
        families.setdefault(family_of(fault), []).append(fault)
    ordered = sorted(families.values(), key=lambda faults: min(fault.danger for fault in faults))
    return tuple(_finding(steps, faults) for faults in ordered)


def faults_of(steps: Sequence[Step], report: AuditReport) -> list[Fault]:
    """The violations and the quality of a report, each with its place in the list and its group."""
    places = {step.step: place for place, step in reversed(list(enumerate(steps)))}
    faults = []
    for index, violation in enumerate((*report.violations, *report.quality)):
        place = None if violation.step is None else places.get(violation.step)
        group = group_of(violation, None if place is None else steps[place])
        if index >= len(report.violations):
            group = "quality"
        faults.append(Fault(index, violation, place, group))
    return faults


def _finding(steps: Sequence[Step], faults: Sequence[Fault]) -> Finding:
    worst = min(faults, key=lambda fault: fault.danger)
    places = sorted({fault.place for fault in faults if fault.place is not None})
    return Finding(
        group=worst.group,
        rule=worst.rule,
        from_utc=steps[places[0]].start_utc if places else None,
        to_utc=max(steps[place].end_utc for place in places) if places else None,
        steps=tuple(steps[place].step for place in places),
        amount=worst.violation.amount,
        unit=worst.violation.unit,
        sentence=worst.violation.message,
    )
