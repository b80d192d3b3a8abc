"""The view of a check: the verdict first and the worst finding with it, never more than a screen."""

from __future__ import annotations

import datetime as dt

import pytest

from optimizer.findings import GROUPS, CheckReport, Finding, Group
from optimizer.models.shots import Violation
from optimizer.report.check_view import MOST_SHOWN, check_view
from tests.support.report_cases import text

SINCE = dt.datetime(2026, 11, 14, 22, tzinfo=dt.UTC)


def finding(group: Group, sentence: str, *steps: int) -> Finding:
    return Finding(
        group=group,
        rule="floor",
        from_utc=SINCE,
        to_utc=SINCE + dt.timedelta(minutes=3),
        steps=steps,
        amount=1.0,
        unit="deg",
        sentence=sentence,
    )


def report(*findings: Finding, broken: bool = True) -> CheckReport:
    violation = Violation(rule="floor", step=1, amount=1.0, unit="deg", message="too low")
    return CheckReport(
        rules=("floor", "contact"),
        violations=(violation,) if broken else (),
        least_margin_min=13.9,
        safe=all(each.group != "equipment" for each in findings),
        findings=findings,
    )


@pytest.mark.parametrize(
    ("group", "sentence", "verdict"),
    [
        (
            "equipment",
            "From 00:31 the tube is past its limit.",
            "Not safe. From 00:31 the tube is past its limit.",
        ),
        ("lost_frames", "12 subs would be lost.", "Safe, but 12 subs would be lost."),
        ("quality", "3 subs lack a dither.", "Safe, but not within the rules. 3 subs lack a dither."),
        ("form", "4 rows have cells.", "Safe, but not within the rules. 4 rows have cells."),
    ],
)
def test_verdict_is_the_first_line(group: Group, sentence: str, verdict: str) -> None:
    shown = text(check_view(report(finding(group, sentence, 3, 4, 5, 9))))
    assert shown.startswith(f"{verdict}\n  floor, steps 3-5, 9\n")
    assert shown.count(sentence.split(" ", 1)[1]) == 1
    assert "2 rules checked, 1 violation. Least margin to contact: 13.9 min." in shown


def test_list_without_a_fault_is_safe_and_within_the_rules() -> None:
    shown = text(check_view(report(broken=False)))
    assert shown == (
        "Safe and within the rules: 2 rules checked, none broken. Least margin to contact: 13.9 min.\n"
    )


def test_findings_stand_under_their_groups_and_no_more_than_fit_on_a_screen() -> None:
    many = [finding(group, f"Cause {number}.", number) for group in GROUPS for number in (1, 2, 3, 4)]
    lines = text(check_view(report(*many))).splitlines()
    headings = [
        line for line in lines if line in ("Equipment in danger", "Subs lost, spoilt or not asked for")
    ]
    assert headings == ["Equipment in danger", "Subs lost, spoilt or not asked for"]
    assert sum("Cause" in line for line in lines) == MOST_SHOWN + 1
    assert f"and {len(many) - MOST_SHOWN - 1} more findings; --json has all" in lines
    assert len(lines) <= 24
