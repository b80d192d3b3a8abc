"""The audit's report as text."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.models.shots import AuditReport, Violation
from optimizer.report.fitted import Fitted
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.words import at_least_minutes, count, minus, tied
from optimizer.words import safe


def _margin(minutes: float) -> str:
    """The least margin to contact in words, rounded to the less flattering side."""
    beyond = ", BEYOND it" if minutes < 0 else ""
    return f"Least margin to contact: {at_least_minutes(minutes)}{beyond}"


def _amount(violation: Violation) -> str:
    """By how much a rule is broken, in plain digits: seconds of a whole season are no power of ten."""
    decimals = 6 if abs(violation.amount) < 1 else 4  # a report holds no more than six
    digits = f"{violation.amount:.{decimals}f}".rstrip("0").rstrip(".")
    return f"{minus(digits)}{'°' if violation.unit == 'deg' else f' {violation.unit}'}"


def audit_view(report: AuditReport) -> RenderableType:
    """Verdict, least margin, and a row for each broken rule."""
    rules = count(len(report.rules), "rule")
    margin = "" if report.least_margin_min is None else f" {_margin(report.least_margin_min)}."
    if not report.violations:
        return Text(f"Safe and within the rules: {rules} checked, none broken.{margin}", style="bold")
    table = plain_table("step", "rule", "amount", "what", right=("step", "amount"))
    stacked: list[RenderableType] = []
    for violation in report.violations:
        amount, what = _amount(violation), Text(safe(violation.message))
        where = "-" if violation.step is None else str(violation.step)
        table.add_row(where, violation.rule, amount, what)
        place = "" if violation.step is None else f"step {where}, "
        stacked += [Text(f"{place}{violation.rule}, {tied(amount)}"), indented(what)]
    broken = count(len(report.violations), "violation")
    title = heading(f"NOT within the rules: {broken}, {rules} checked.{margin}")
    return Group(title, Fitted(table, ("what",), (), lambda: stacked))
