"""One cause is one finding: spoilt copies of the stored nights, and that no violation is lost on the way."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache

import pytest

from optimizer.audit import audit_shot_list, audit_steps
from optimizer.findings import GROUPS, Finding, findings_of
from optimizer.findings.causes import causes_of
from optimizer.models.shots import AuditReport, ShotList, Step
from tests.support.picture_cases import NIGHTS, stored
from tests.support.spoilt_lists import bare, moved, numbered, spoilt, swapped, thinned, without_flips

CASES = [(night, deed) for night in NIGHTS for deed in spoilt(stored(night).steps)]
MOST = 3


@lru_cache
def copies(night: str) -> dict[str, list[Step]]:
    return spoilt(stored(night).steps)


def report_on(shots: ShotList, steps: list[Step], *, own: bool) -> AuditReport:
    """The audit of the steps alone, as of a table, or of the whole list, as of its JSON file."""
    if own:
        return audit_shot_list(shots.model_copy(update={"steps": tuple(steps)}))
    return audit_steps(shots.request, steps)


def found(night: str, steps: list[Step]) -> tuple[Finding, ...]:
    request = stored(night).request
    return findings_of(request, steps, audit_steps(request, steps))


@pytest.mark.parametrize(("night", "deed"), CASES)
def test_spoilt_list_has_at_most_three_findings_the_dangerous_one_first(night: str, deed: str) -> None:
    shots, steps = stored(night), copies(night)[deed]
    for own in (False, True):
        report = report_on(shots, steps, own=own)
        findings = findings_of(shots.request, steps, report)
        assert report.violations
        assert 1 <= len(findings) <= MOST, [finding.sentence for finding in findings]
        ranks = [GROUPS.index(finding.group) for finding in findings]
        assert ranks == sorted(ranks)
        if any(each.rule in ("contact", "flip_from", "sun_down") for each in report.violations):
            assert findings[0].group == "equipment"
            assert findings[0].rule in ("contact", "flip_from", "sun_down")


@pytest.mark.parametrize(("night", "deed"), CASES)
def test_every_violation_has_exactly_one_cause(night: str, deed: str) -> None:
    shots, steps = stored(night), copies(night)[deed]
    report = report_on(shots, steps, own=True)
    told = [
        fault
        for cause in causes_of(shots.request, steps, report)
        for fault in cause.faults
        if fault.index >= 0
    ]
    every = (*report.violations, *report.quality)
    assert Counter(fault.index for fault in told) == Counter(range(len(every)))
    assert all(every[fault.index] is fault.violation for fault in told)


@pytest.mark.parametrize("night", NIGHTS)
def test_whole_list_has_nothing_to_tell(night: str) -> None:
    shots = stored(night)
    assert findings_of(shots.request, shots.steps, audit_shot_list(shots)) == ()


def test_late_list_is_one_sentence_that_says_how_late_and_what_comes_of_it() -> None:
    (finding,) = found("first-night", moved(stored("first-night").steps, 40))
    assert (finding.group, finding.rule, finding.unit) == ("equipment", "contact", "s")
    assert finding.sentence.startswith("From 21:48 the tube is up to 38.5 min past its limit")
    assert "18 sky not dark enough" in finding.sentence
    assert finding.sentence.endswith("all times are 40 min later than the positions in the list say.")
    assert set(finding.steps) <= set(range(1, 278))


def test_rest_that_is_late_is_told_from_where() -> None:
    steps = stored("long-winter-night").steps
    (finding,) = found("long-winter-night", moved(steps, 25, len(steps) // 2))
    assert "all times from 00:26 on are 25 min later than the positions in the list say" in finding.sentence


def test_missing_flips_are_one_sentence_that_says_where_the_tube_is() -> None:
    """No row is past the limit by what it says: the rows behind the flip name the other pier side."""
    steps = numbered(without_flips(stored("first-night").steps))
    request = stored("first-night").request
    report = audit_steps(request, steps)
    assert "contact" not in {violation.rule for violation in report.violations}
    (finding,) = findings_of(request, steps, report)
    assert (finding.group, finding.rule) == ("equipment", "contact")
    assert finding.sentence.startswith(
        "From 21:48 the tube is up to 116.7 min past its limit, past contact itself "
        "(Pelican at the shore, 23 subs; Hyades dust, 51 subs)"
    )
    assert finding.sentence.endswith(
        "the flips of Pelican at the shore before 21:36 and of Hyades dust before 04:25 are missing."
    )


def test_time_that_no_row_tells_of_may_lead_to_contact() -> None:
    """The list ends its visit in time, yet the rows that would move the mount come an hour later."""
    night = stored("first-night")
    flip = next(place for place, step in enumerate(night.steps) if step.kind == "flip")
    steps = numbered(bare(moved(night.steps, 60, flip)[: flip + 8] + [moved(night.steps, 60)[-1]]))
    finding = found("first-night", steps)[0]
    assert (finding.group, finding.rule) == ("equipment", "contact")
    assert finding.sentence.startswith("If the mount tracks on where no row tells of the time, from 21:48 ")


def test_rows_out_of_order_are_one_sentence() -> None:
    (finding,) = found("short-summer-night", swapped(stored("short-summer-night").steps))
    assert finding.group == "lost_frames"
    assert "2 rows stand out of the order of time, the first of them step 27 at 00:45" in finding.sentence


def test_rows_that_are_missing_are_one_sentence() -> None:
    (finding,) = found("short-summer-night", thinned(stored("short-summer-night").steps, 7))
    assert finding.sentence.endswith(
        "rows are missing at 7 places, the first of them before step 5 at 23:54."
    )


def test_local_times_taken_for_utc_are_thought_of() -> None:
    """Without positions nothing but the sky speaks for it, and the sentence asks."""
    (finding,) = found("first-night", moved(bare(stored("first-night").steps), 120))
    assert finding.group == "equipment"
    assert "moved 2 h earlier it would keep all limits of sky and meridian" in finding.sentence
    assert finding.sentence.endswith("is its clock another one?")


def test_column_that_is_wrong_in_every_row_is_one_finding_of_form() -> None:
    steps = [
        step.model_copy(
            update={"altitude_deg": None if step.altitude_deg is None else step.altitude_deg + 0.5}
        )
        for step in stored("first-night").steps
    ]
    (finding,) = found("first-night", steps)
    assert (finding.group, finding.rule, finding.amount) == ("form", "columns", pytest.approx(0.5, abs=1e-3))
    assert "not what the sky says, which was computed anew: altitude_deg" in finding.sentence


def test_one_row_on_the_other_pier_side_is_no_missing_flip() -> None:
    steps = list(stored("first-night").steps)
    place = next(place for place, step in enumerate(steps) if step.kind == "expose")
    steps[place] = steps[place].model_copy(update={"pier_side": "east"})
    findings = found("first-night", steps)
    assert findings[0].group == "equipment"
    assert all("missing" not in finding.sentence for finding in findings)
