"""The audit's report as text."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.models.continues import Continues
from optimizer.models.shots import AuditReport, ShotList, Violation
from optimizer.report.fitted import Fitted
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.words import at_least_minutes, clock, count, minus, tied
from optimizer.words import safe

QUALITY = "Breaks no rule, but falls short of what the request asks for"


def _margin(minutes: float) -> str:
    """The least margin to contact in words, rounded to the less flattering side."""
    beyond = ", BEYOND it" if minutes < 0 else ""
    return f"Least margin to contact: {at_least_minutes(minutes)}{beyond}"


def margin_words(report: AuditReport) -> str:
    """The least margin to contact as a sentence; the report must have one."""
    return "" if report.least_margin_min is None else f"{_margin(report.least_margin_min)}."


def _amount(violation: Violation) -> str:
    """By how much a rule is broken, in plain digits: seconds of a whole season are no power of ten."""
    decimals = 6 if abs(violation.amount) < 1 else 4  # a report holds no more than six
    digits = f"{violation.amount:.{decimals}f}".rstrip("0").rstrip(".")
    return f"{minus(digits)}{'°' if violation.unit == 'deg' else f' {violation.unit}'}"


def goes_on_words(continues: Continues, zone: str) -> str:
    """Which list another one goes on with, and from when by the site's clock."""
    begins = clock(continues.begin.utc, zone)
    return (
        f"From {begins} ({zone}) on, in place of the list whose SHA-256 begins with {continues.sha256[:8]}."
    )


def audit_view(report: AuditReport, shots: ShotList | None = None) -> RenderableType:
    """Verdict, least margin, a row for each broken rule, and what falls short without breaking one.

    Before them stands with which list `shots` goes on, where it does.
    """
    rules = count(len(report.rules), "rule")
    margin = "" if report.least_margin_min is None else f" {margin_words(report)}"
    parts: list[RenderableType] = []
    if shots is not None and shots.continues is not None:
        parts.append(Text(goes_on_words(shots.continues, shots.request.site.time_zone)))
    if report.violations:
        broken = count(len(report.violations), "violation")
        parts.append(heading(f"NOT within the rules: {broken}, {rules} checked.{margin}"))
        parts.append(_table(report.violations, "rule"))
    else:
        parts.append(Text(f"Safe and within the rules: {rules} checked, none broken.{margin}", style="bold"))
    if report.quality:
        parts += [Text(), heading(QUALITY), _table(report.quality, "quality")]
    return Group(*parts)


def _table(findings: Sequence[Violation], kind: str) -> Fitted:
    """A row for each finding; in narrow places a few lines for each."""
    table = plain_table("step", kind, "amount", "what", right=("step", "amount"))
    stacked: list[RenderableType] = []
    for each in findings:
        amount, what = _amount(each), Text(safe(each.message))
        where = "-" if each.step is None else str(each.step)
        table.add_row(where, each.rule, amount, what)
        place = "" if each.step is None else f"step {where}, "
        stacked += [Text(f"{place}{each.rule}, {tied(amount)}"), indented(what)]
    return Fitted(table, ("what",), (), lambda: stacked)
