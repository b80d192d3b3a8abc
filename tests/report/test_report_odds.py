"""What may be expected by the odds of clear sky, and which part of the night is a gamble, to people."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache

import pytest

from optimizer.models.shots import ShotList
from optimizer.report.odds_facts import gamble_words
from optimizer.report.picture.facts import picture_facts
from optimizer.report.picture.frame import NARROW, WIDE, Frame
from optimizer.report.picture.headline import figures
from optimizer.report.picture.odds_lane import odds_lane
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list, shown_steps
from optimizer.report.plan_view import plan_view
from optimizer.report.proof_words import proof_words
from optimizer.report.words import duration
from tests.support.report_cases import a_request, joined, plan, planned

NIGHT = {
    "evening": "2026-11-14",
    "clear": [["2026-11-14T23:00:00Z", "2026-11-15T01:30:00Z"]],
    "ut1_utc_s": 0.0,
}
ZERO = dt.datetime(2026, 11, 15, tzinfo=dt.UTC)


@lru_cache
def by_odds(*pairs: tuple[int, float]) -> ShotList:
    """The planned night by odds at minutes after 00:00 UTC, which is 01:00 by the site's clock."""
    odds = [[(ZERO + dt.timedelta(minutes=minutes)).isoformat(), percent] for minutes, percent in pairs]
    return plan(a_request(night={**NIGHT, "clear_odds": odds}))


def gamble(*pairs: tuple[int, float]) -> str:
    """The gamble of the plan without odds under these, with its hours as they are."""
    shots = planned()
    given = tuple((ZERO + dt.timedelta(minutes=minutes), percent) for minutes, percent in pairs)
    night = shots.request.night.model_copy(update={"clear_odds": given})
    words = gamble_words(shots.request.model_copy(update={"night": night}), shots.steps)
    assert words is not None
    return words


def open_s(first: int, last: int) -> float:
    """Open shutter of that plan between minutes after 00:00 UTC, counted second by second."""
    begins, ends = (ZERO + dt.timedelta(minutes=minutes) for minutes in (first, last))
    return sum(
        max(
            0.0,
            (
                min(ends, step.start_utc + dt.timedelta(seconds=step.exposure_s or 0))
                - max(begins, step.start_utc)
            ).total_seconds(),
        )
        for step in planned().steps
        if step.kind == "expose"
    )


@pytest.mark.parametrize(
    ("pairs", "when", "minutes"),
    [
        (((-120, 100.0), (80, 0.0)), "after 00:40", (-20, 600)),
        (((-120, 0.0), (80, 100.0)), "until 00:40", (-600, -20)),
        (((-60, 90.0), (-20, 10.0), (20, 90.0)), "from 00:20 to 01:00", (-40, 0)),
        (((0, 49.9),), "all night", (-600, 600)),
    ],
)
def test_the_gamble_is_told_with_its_hours(
    pairs: tuple[tuple[int, float], ...], when: str, minutes: tuple[int, int]
) -> None:
    planned_there = duration(open_s(*minutes))
    assert gamble(*pairs) == f"{when} the odds are below 50 %: {planned_there} of open shutter lie there"


def test_a_night_without_a_gamble_says_so() -> None:
    words = "from the first sub to the last the odds are never below 50 %"
    assert gamble((0, 50.0)) == words
    assert gamble((0, 70.0), (300, 70.0), (301, 10.0)) == words  # long after the last sub


def test_no_odds_no_words() -> None:
    assert gamble_words(planned().request, planned().steps) is None
    told = joined(plan_view(planned()))
    assert "odds" not in told
    assert "odds" not in page_text(shown_list(planned())).split("<style>")[0]
    assert picture_facts(shown_list(planned())).odds == ()


def test_expected_hours_stand_beside_the_planned_ones_in_terminal_and_page() -> None:
    shots = by_odds((-60, 90.0), (60, 30.0))
    assert shots.totals.expected_s is not None
    words = (
        f"planned {duration(shots.totals.open_shutter_s)}, expected {duration(shots.totals.expected_s)} "
        "by the odds of clear sky given, as far as these hold"
    )
    told, page = joined(plan_view(shots)), page_text(shown_list(shots))
    assert words in told
    assert f"P{words[1:]}." in page
    assert re.search(r"after 01:2\d the odds are below 50 %", told)
    assert re.search(r"After 01:2\d the odds are below 50 %", page)
    (figure,) = [each for each in figures(picture_facts(shown_list(shots))) if each.key == "expected"]
    assert figure.value == duration(shots.totals.expected_s)


def test_a_value_far_from_its_bound_is_called_expected() -> None:
    shots = by_odds((-60, 90.0), (60, 30.0))
    far = shots.model_copy(
        update={"proof": shots.proof.model_copy(update={"status": "feasible", "gap": 2.0})}
    )
    assert " of expected open shutter, this one has " in proof_words(far)


@pytest.mark.parametrize("layout", [WIDE, NARROW])
def test_the_lane_of_the_odds_is_as_high_as_they_are_good(layout: object) -> None:
    facts = picture_facts(shown_list(by_odds((-60, 90.0), (60, 30.0))))
    assert facts.odds[0][1] == 90.0
    assert facts.odds[-1][1] == 30.0
    assert [percent for _, percent in facts.odds] == [90.0, 90.0, 30.0, 30.0]
    lane = odds_lane(Frame(layout, facts), 0.0)  # type: ignore[arg-type]
    words = " ".join(shape.text for shape in lane.shapes if shape.text)
    assert "30 to 90 %" in words


def test_bare_steps_tell_their_gamble_but_no_expectation() -> None:
    shots = by_odds((-60, 90.0), (60, 30.0))
    page = page_text(shown_steps(shots.request, shots.steps))
    assert "the odds are below 50 %" in page
    assert "by the odds of clear sky given" not in page
