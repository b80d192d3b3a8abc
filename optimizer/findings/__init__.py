"""What an audit found, by cause and in the order of danger.

In: the request, the steps and the audit's report on them. Out: findings, one for each cause, the most
dangerous first; each violation belongs to exactly one. May import the audit, and what that imports.
"""

from optimizer.findings.finding import GROUPS, CheckReport, Comparison, Finding, Group
from optimizer.findings.told import checked, findings_of

__all__ = ["GROUPS", "CheckReport", "Comparison", "Finding", "Group", "checked", "findings_of"]
