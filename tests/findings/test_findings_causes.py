"""One cause is one finding: spoilt copies of the stored nights, and that no violation is lost on the way."""

from __future__ import annotations

import datetime as dt
import math
import re
import zoneinfo
from collections import Counter
from collections.abc import Sequence

import pytest

from optimizer.audit import audit_shot_list, audit_steps
from optimizer.findings import GROUPS, Finding, findings_of
from optimizer.findings.causes import causes_of
from optimizer.findings.sentences import Teller
from optimizer.models.shots import Step
from tests.support.picture_cases import NIGHTS, stored
from tests.support.speeds import deep
from tests.support.spoilt_lists import bare, moved, numbered, spoilt, swapped, thinned, without_flips

CASES = [
    pytest.param(night, deed, marks=marks)
    for night, marks in (("short-summer-night", ()), ("first-night", ()), ("long-winter-night", deep))
    for deed in spoilt(stored(night).steps)
]
MOST = 3
OF_PLACE = ("contact", "flip_from", "sun_down")


def found(night: str, steps: list[Step]) -> tuple[Finding, ...]:
    request = stored(night).request
    return findings_of(request, steps, audit_steps(request, steps))


@pytest.mark.parametrize(("night", "deed"), CASES)
def test_spoilt_list_has_at_most_three_findings_the_dangerous_one_first(night: str, deed: str) -> None:
    """And every violation has exactly one cause. The whole list is audited, as from its JSON file."""
    steps = spoilt(stored(night).steps)[deed]
    shots = stored(night).model_copy(update={"steps": tuple(steps)})
    report = audit_shot_list(shots)
    causes = causes_of(shots.request, steps, report)
    findings = [Teller(shots.request, steps).finding(cause) for cause in causes]
    assert report.violations
    assert 1 <= len(findings) <= MOST, [finding.sentence for finding in findings]
    ranks = [GROUPS.index(finding.group) for finding in findings]
    assert ranks == sorted(ranks)
    if any(violation.rule in OF_PLACE for violation in report.violations):
        assert findings[0].group == "equipment"
        assert findings[0].rule in OF_PLACE
    every = (*report.violations, *report.quality)
    told = [fault for cause in causes for fault in cause.faults if fault.index >= 0]
    assert Counter(fault.index for fault in told) == Counter(range(len(every)))
    assert all(every[fault.index] is fault.violation for fault in told)


@pytest.mark.parametrize("night", NIGHTS)
def test_whole_list_has_nothing_to_tell(night: str) -> None:
    shots = stored(night)
    assert findings_of(shots.request, shots.steps, audit_shot_list(shots)) == ()


def worst_min(steps: Sequence[Step]) -> float:
    """Minutes by which the tube is past its limit at the worst, rounded up to tenths."""
    found = audit_steps(stored("first-night").request, steps).violations
    return math.ceil(max(each.amount for each in found if each.rule == "contact") / 6) / 10


def test_late_list_is_one_sentence_that_says_how_late_and_what_comes_of_it() -> None:
    steps = moved(stored("first-night").steps, 40)
    (finding,) = found("first-night", steps)
    assert (finding.group, finding.rule, finding.unit) == ("equipment", "contact", "s")
    assert re.match(
        rf"From \d\d:\d\d the tube is up to {worst_min(steps):.1f} min past its limit, past contact itself \(",
        finding.sentence,
    )
    assert re.search(r"; \d+ subs would be lost or spoilt from \d\d:\d\d on", finding.sentence)
    assert finding.sentence.endswith(": all times are 40 min later than the positions in the list say.")


def test_rest_that_is_late_is_told_from_where() -> None:
    steps = stored("short-summer-night").steps
    half = len(steps) // 2
    (finding,) = found("short-summer-night", moved(steps, 25, half))
    since = steps[half].start_utc + dt.timedelta(minutes=25)
    local = since.astimezone(zoneinfo.ZoneInfo(stored("short-summer-night").request.site.time_zone))
    assert f"all times from {local:%H:%M} on are 25 min later than the positions" in finding.sentence


def test_missing_flips_are_one_sentence_that_says_where_the_tube_is() -> None:
    """No row is past the limit by what it says: the rows behind the flip name the other pier side."""
    night = stored("first-night")
    flips = [step.target for step in night.steps if step.kind == "flip"]
    steps = numbered(without_flips(night.steps))
    report = audit_steps(night.request, steps)
    assert "contact" not in {violation.rule for violation in report.violations}
    (finding,) = findings_of(night.request, steps, report)
    assert (finding.group, finding.rule) == ("equipment", "contact")
    stays = [step.model_copy(update={"pier_side": "west"}) for step in steps]
    assert f"the tube is up to {worst_min(stays):.1f} min past its limit" in finding.sentence
    assert re.search(
        " and ".join(rf"of {target} before \d\d:\d\d" for target in flips) + r" are missing\.$",
        finding.sentence,
    )


def test_time_that_no_row_tells_of_may_lead_to_contact() -> None:
    """The list ends its visit in time, yet the rows that would move the mount come an hour later."""
    night = stored("first-night")
    flip = next(place for place, step in enumerate(night.steps) if step.kind == "flip")
    steps = numbered(bare([*moved(night.steps, 60, flip)[: flip + 8], moved(night.steps, 60)[-1]]))
    finding = found("first-night", steps)[0]
    assert (finding.group, finding.rule) == ("equipment", "contact")
    assert finding.sentence.startswith("If the mount tracks on where no row tells of the time, from ")


def test_rows_out_of_order_are_one_sentence() -> None:
    (finding,) = found("short-summer-night", swapped(stored("short-summer-night").steps))
    assert finding.group == "lost_frames"
    assert "2 rows stand out of the order of time, the first of them step 27 at " in finding.sentence


def test_rows_that_are_missing_are_one_sentence() -> None:
    (finding,) = found("short-summer-night", thinned(stored("short-summer-night").steps, 7))
    assert "rows are missing at 7 places, the first of them before step 5 at " in finding.sentence


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
    assert (finding.group, finding.rule) == ("form", "columns")
    assert finding.amount == pytest.approx(0.5, abs=1e-3)
    assert "not what the sky says, which was computed anew: altitude_deg" in finding.sentence


def test_one_row_on_the_other_pier_side_is_no_missing_flip() -> None:
    steps = list(stored("first-night").steps)
    place = next(place for place, step in enumerate(steps) if step.kind == "expose")
    steps[place] = steps[place].model_copy(update={"pier_side": "east"})
    findings = found("first-night", steps)
    assert findings[0].group == "equipment"
    assert all("missing" not in finding.sentence for finding in findings)


def test_rows_of_one_number_are_told_apart() -> None:
    """All rows are numbered 7: the wait that tracks on is the one in danger, not the first row."""
    steps = list(stored("first-night").steps)
    steps[-1] = steps[-1].model_copy(update={"tracking": True})
    night = stored("first-night")
    alike = [step.model_copy(update={"step": 7}) for step in steps]
    (first, *_) = causes_of(night.request, alike, audit_steps(night.request, alike))
    assert first.danger[0] == GROUPS.index("equipment")
    assert [(fault.rule, fault.place) for fault in first.faults] == [("tracking", len(steps) - 1)]


def test_times_by_the_sites_clock_where_utc_belongs_are_told_as_that() -> None:
    """The site was two hours ahead of UTC that night."""
    (finding,) = found("first-night", moved(stored("first-night").steps, 120))
    assert finding.sentence.endswith(
        ": all times are 2 h later than the positions in the list say "
        "(written by the site's clock where UTC belongs?)."
    )


def test_missing_flips_come_before_a_missing_park() -> None:
    """A list of nothing but its subs."""
    subs = [step for step in stored("first-night").steps if step.kind == "expose"]
    first, second = found("first-night", subs)
    assert "the flips of Pelican at the shore before 21:39 and of Hyades dust" in first.sentence
    assert second.rule == "ends_with_park"
