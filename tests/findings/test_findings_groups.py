"""Every rule of the audit has a group, and every kind of broken plan is told in one."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.audit import audit_steps
from optimizer.audit.registry import (
    CONTINUED_RULE_NAMES,
    LIST_RULE_NAMES,
    QUALITY_RULE_NAMES,
    SEASON_RULE_NAMES,
    SPAN_RULES,
    STEP_RULE_NAMES,
)
from optimizer.findings import GROUPS
from optimizer.findings.causes import causes_of
from optimizer.findings.groups import GROUP_OF, group_of
from optimizer.findings.sentences import Teller
from optimizer.models.shots import Violation
from tests.broken_plans import (
    test_broken_acts,
    test_broken_arrivals,
    test_broken_begins,
    test_broken_hours,
    test_broken_latest,
    test_broken_names,
    test_broken_sky,
    test_broken_steps,
    test_broken_visits,
)
from tests.support.hand_laid.night_cases import flipped

BROKEN = [
    pytest.param(case, id=f"{module.__name__.rsplit('_', 1)[1]}: {case.rule}: {case.name}")
    for module in (
        test_broken_acts,
        test_broken_arrivals,
        test_broken_begins,
        test_broken_hours,
        test_broken_latest,
        test_broken_names,
        test_broken_sky,
        test_broken_steps,
        test_broken_visits,
    )
    for case in module.CASES
]
# The group of the case's own rule, where it is not that of the rule's worst breaches.
MILDER = {
    ("contiguous", "form"): "a number of a row, or time that no row tells of",
    ("coordinates", "form"): "an empty cell",
    ("coordinates", "quality"): "a field a little beside the target",
    ("position_angle", "form"): "an empty cell",
    ("tracking", "form"): "an empty cell",
    ("tracking", "lost_frames"): "the mount stands still in a sub",
    ("tracking", "quality"): "the mount stands still before a flip",
    ("latest_start", "form"): "none, or a needless one",
    ("latest_start", "lost_frames"): "it would lose subs",
    ("latest_start", "quality"): "it is over already",
    ("ends_with_park", "lost_frames"): "a park too soon",
    ("acquired", "equipment"): "on another pier side than the mount",
    ("sides", "equipment"): "a flip where the mount never flips",
}


def test_no_rule_is_without_a_group() -> None:
    of_lists = {*LIST_RULE_NAMES, *SEASON_RULE_NAMES}
    rules = {*STEP_RULE_NAMES, *CONTINUED_RULE_NAMES, *QUALITY_RULE_NAMES, *of_lists}
    assert rules == set(GROUP_OF)
    assert set(GROUP_OF.values()) == set(GROUPS)


def test_rule_that_nobody_grouped_counts_as_dangerous() -> None:
    assert group_of(Violation(rule="new", step=None, amount=1, unit="s", message="x"), None) == "equipment"


@pytest.mark.parametrize("case", BROKEN)
def test_broken_plan_is_told_in_the_group_of_its_rule(case: Any) -> None:
    made = case.broken()
    continues = getattr(made, "continues", None)
    report = audit_steps(made.request, made.steps, continues)
    causes = causes_of(made.request, made.steps, report, continues)
    findings = [Teller(made.request, made.steps).finding(cause) for cause in causes]
    own = [fault for cause in causes for fault in cause.faults if fault.rule == case.rule]
    assert own
    for fault in own:
        assert fault.group == GROUP_OF[case.rule] or (case.rule, fault.group) in MILDER, fault
    ranks = [GROUPS.index(finding.group) for finding in findings]
    assert ranks == sorted(ranks)
    assert ranks[0] <= min(GROUPS.index(fault.group) for fault in own)
    told = sorted(fault.index for cause in causes for fault in cause.faults if fault.index >= 0)
    assert told == list(range(len(report.violations) + len(report.quality)))
    for finding in findings:
        assert finding.sentence[-1] in ".?"
        assert finding.sentence[0] == finding.sentence[0].upper()
        assert finding.amount > 0


@pytest.mark.parametrize("rule", [rule.name for rule in SPAN_RULES])
def test_latest_start_is_as_dangerous_as_what_it_would_break(rule: str) -> None:
    message = f"started at its latest start the step breaks {rule}: so"
    violation = Violation(rule="latest_start", step=1, amount=1, unit="s", message=message)
    assert group_of(violation, flipped().steps[0]) == GROUP_OF[rule]
