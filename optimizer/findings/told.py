"""The findings of an audit, and its report with them."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.findings.causes import causes_of
from optimizer.findings.finding import CheckReport, Comparison, Finding
from optimizer.findings.sentences import Teller
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.shots import AuditReport, Step


def findings_of(
    request: Request, steps: Sequence[Step], report: AuditReport, continues: Continues | None = None
) -> tuple[Finding, ...]:
    """What an audit found in these steps, one finding for each cause, the most dangerous first.

    `report` is the audit's on the same request and steps; its violations and its quality are told, and every
    one of them belongs to exactly one finding. Dangers that no row names are told too: where the mount would
    be, were the list followed as it stands. Sentences have the local time of the site.
    """
    teller = Teller(request, tuple(steps))
    return tuple(teller.finding(cause) for cause in causes_of(request, steps, report, continues))


def checked(
    request: Request,
    steps: Sequence[Step],
    report: AuditReport,
    continues: Continues | None = None,
    comparison: Comparison | None = None,
) -> CheckReport:
    """The audit's report with its findings and whether the list is safe: no finding endangers equipment."""
    findings = findings_of(request, steps, report, continues)
    return CheckReport(
        rules=report.rules,
        violations=report.violations,
        quality=report.quality,
        least_margin_min=report.least_margin_min,
        safe=all(finding.group != "equipment" for finding in findings),
        findings=findings,
        comparison=comparison,
    )
