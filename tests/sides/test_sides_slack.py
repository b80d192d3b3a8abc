"""What only the slack forbids is not impossible: no plan was found, and that is all that is said."""

from __future__ import annotations

from typing import Any

from optimizer.models.request import Request
from optimizer.models.targets import Target
from optimizer.night import Night
from optimizer.packing.search.construct import constructed
from optimizer.sides.cases import Case
from optimizer.sides.compare import compare_sides
from optimizer.sides.proofs import is_impossible
from tests.support.timeline_nights import CRADLE, a_request, goal


def before_only(**aim: Any) -> Request:
    """A clear span of 10 min well before the transit: two subs of 120 s fit, and none with 400 s of slack."""
    target = {**CRADLE, "goals": [goal(exposure_s=120.0, frames=2)]}
    return a_request(target, clear=("22:00", "22:10"), mount={"contact_min": 40.0}, aim=aim)


def case_of(request: Request) -> tuple[Case, Target]:
    night = Night(request)
    return Case(request, night.sky, night.windows, night.problem), request.targets[0]


def test_slack_makes_nothing_impossible() -> None:
    for slack_s, fits in ((0, True), (400, False)):
        case, target = case_of(before_only(slack_s=slack_s))
        assert bool(constructed(case.problem)) is fits
        assert not is_impossible(case.under(target, "before"), target, "before")
        assert is_impossible(case.under(target, "after"), target, "after")
        assert is_impossible(case.under(target, "across"), target, "across")


def test_comparison_says_that_none_was_found() -> None:
    (told,) = compare_sides(before_only(slack_s=400, time_limit_s=0.5)).targets
    assert told.night == {"before": None, "after": None, "across": None}
    assert told.night_sure["before"].status == "not_found"
    assert told.night_sure["after"].status == "impossible"
