"""How late a plan may run, told with the step that says so: on the terminal, on the page and in the picture."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache

import pytest

from optimizer.models.shots import ShotList, Violation
from optimizer.report.audit_view import QUALITY
from optimizer.report.picture.facts import picture_facts
from optimizer.report.picture.headline import figures
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list
from optimizer.report.plan_view import plan_view
from optimizer.report.slack_words import slack_seconds, slack_words
from tests.support.report_cases import text
from tests.support.timeline_nights import crossing, later, planned


@cache
def kept() -> ShotList:
    return planned(crossing().request.with_aim(slack_s=74))


def least(shots: ShotList, number: int, seconds: int) -> ShotList:
    """The list, where this step has the least slack."""
    totals = shots.totals.model_copy(update={"least_slack_s": seconds, "least_slack_step": number})
    steps = [
        step.model_copy(update={"latest_start_utc": later(step.start_utc, seconds)})
        if step.step == number
        else step
        for step in shots.steps
    ]
    return shots.model_copy(update={"totals": totals, "steps": tuple(steps)})


def test_line_names_the_step_with_the_least_slack() -> None:
    (flip,) = [step for step in kept().steps if step.kind == "flip"]
    shots = least(kept(), flip.step, 74)
    local = (flip.start_utc + dt.timedelta(hours=1)).strftime("%H:%M")
    assert slack_words(shots) == f"least 74 s, before the flip of Cradle at {local}"
    assert f"Slack  least 74 s, before the flip of Cradle at {local}" in text(plan_view(shots)).splitlines()


def test_line_holds_for_the_plan_as_it_is() -> None:
    number = kept().totals.least_slack_step
    assert number is not None
    step = kept().steps[number - 1]
    assert step.latest_start_utc is not None
    spare_s = round((step.latest_start_utc - step.start_utc).total_seconds())
    assert kept().totals.least_slack_s == spare_s >= 74
    assert (slack_words(kept()) or "").startswith(f"least {spare_s} s, before the ")


def test_list_without_a_latest_start_has_no_line() -> None:
    totals = kept().totals.model_copy(update={"least_slack_s": None, "least_slack_step": None})
    assert slack_words(kept().model_copy(update={"totals": totals})) is None


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0 s"), (74, "74 s"), (599, "599 s"), (600, "10 min"), (3659, "1 h 00 min")]
)
def test_slack_is_told_in_seconds_and_rounded_down_where_long(seconds: int, words: str) -> None:
    assert slack_seconds(seconds) == words


def test_page_and_picture_tell_the_least_slack() -> None:
    (flip,) = [step for step in kept().steps if step.kind == "flip"]
    shots = least(kept(), flip.step, 17)
    (figure,) = [each for each in figures(picture_facts(shown_list(shots))) if each.key == "slack"]
    assert figure.value == "17 s"
    assert re.fullmatch(r"least slack, before the flip at \d\d:\d\d", figure.words)
    assert figure.words in page_text(shown_list(shots))


def test_page_tells_missing_slack_apart_from_the_verdict() -> None:
    found = Violation(rule="slack", step=7, amount=43, unit="s", message="step 7 <b>, has 17 s of slack")
    audit = kept().audit_report.model_copy(update={"quality": (found,)})
    page = page_text(shown_list(kept().model_copy(update={"audit": audit})))
    assert QUALITY in page
    assert "step 7 &lt;b&gt;, has 17 s of slack" in page
    assert "none broken" in page
    assert "do not run this list" not in page
    assert QUALITY not in page_text(shown_list(kept()))
