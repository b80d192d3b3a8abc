"""What the views say: nothing left out, nothing claimed that is not so."""

from __future__ import annotations

import re
from typing import Any

import pytest

from optimizer.models.shots import AuditReport, ShotList, Violation
from optimizer.report.audit_view import audit_view
from optimizer.report.plan_view import plan_view
from optimizer.views.visits import visits_of
from tests.support.report_cases import a_request, joined, plan, planned, text


def changed(**parts: dict[str, Any]) -> ShotList:
    """The planned night with keys of its parts replaced, as if it had come out so."""
    shots = planned()
    return shots.model_copy(
        update={part: getattr(shots, part).model_copy(update=keys) for part, keys in parts.items()}
    )


# --- visits --------------------------------------------------------------------------------------------


def test_visits_hold_all_steps_but_idle_waits_and_park() -> None:
    shots = planned()
    visits = visits_of(shots.steps)
    assert [(visit.target, visit.side, visit.by_flip) for visit in visits] == [
        ("Cradle", "west", False),
        ("Cradle", "east", True),
    ]
    held = [step.step for visit in visits for step in visit.steps]
    assert held == [step.step for step in shots.steps if step.tracking]
    assert sum(visit.open_s for visit in visits) == shots.totals.open_shutter_s
    assert sum(visit.focus_runs for visit in visits) == sum(step.kind == "focus" for step in shots.steps)


def test_runs_count_every_exposure() -> None:
    shots = planned()
    counted: dict[tuple[str, float], int] = {}
    for visit in visits_of(shots.steps):
        for filter_name, frames, seconds in visit.runs():
            counted[filter_name, seconds] = counted.get((filter_name, seconds), 0) + frames
    assert counted == {
        (goal.filter, goal.exposure_s): goal.frames_planned
        for goal in shots.totals.goals
        if goal.frames_planned
    }


# --- the plan ------------------------------------------------------------------------------------------


def test_plan_is_told_from_dusk_to_caution() -> None:
    lines = text(plan_view(planned())).splitlines()
    assert lines[0] == "Night of 2026-11-14 at Heron Flat"
    assert lines[1] == "Times are local: Europe/Madrid, UTC+01."
    for number, word in (
        (2, "Sun "),
        (3, "Moon "),
        (4, "Open "),
        (5, "Proof "),
        (6, "Flip "),
        (7, "Slack "),
        (8, "Audit "),
    ):
        assert lines[number].startswith(word)
    for part in ("Visits", "Progress", "Left out tonight, and what would change it"):
        assert part in lines
    assert "measure contact by hand" in joined(plan_view(planned()))
    assert all(line == line.rstrip() and len(line) <= 110 for line in lines)


def test_visits_are_shown_with_their_wait_and_flip() -> None:
    rows = text(plan_view(planned()))
    (wait,) = [step for step in planned().steps if step.kind == "wait"]
    minutes = round(wait.seconds / 60)
    assert re.search(rf"wait {minutes} min", rows)
    (flip,) = [step for step in planned().steps if step.kind == "flip"]
    assert re.search(r"^0\d:\d\d +0\d:\d\d +Cradle +east +FLIP ", rows, re.MULTILINE)
    local = f"{(flip.start_utc.hour + 1) % 24:02}:{flip.start_utc.minute:02}"
    assert f"1 flip at {local}" in rows


def test_progress_has_every_goal_with_its_numbers() -> None:
    rows = text(plan_view(planned()))
    for goal in planned().totals.goals:
        numbers = (goal.frames_done, goal.frames_planned, goal.frames_left, goal.frames_wanted)
        cells = " +".join(str(number) for number in numbers)
        assert re.search(rf"{goal.filter} +{goal.exposure_s:g} s +{cells} +[█▒░]{{12}}", rows)


def test_bar_is_full_length_at_its_ends() -> None:
    goals = planned().totals.goals
    for done, tonight, bar in (
        (40, 0, "█" * 12),
        (0, 0, "░" * 12),
        (0, 40, "▒" * 12),
        (20, 10, "██████▒▒▒░░░"),
    ):
        goal = goals[0].model_copy(
            update={"frames_done": done, "frames_planned": tonight, "frames_left": 40 - done - tonight}
        )
        assert bar in text(plan_view(changed(totals={"goals": (goal, *goals[1:])})))
    more_than_wanted = goals[0].model_copy(update={"frames_done": 90, "frames_planned": 0, "frames_left": 0})
    shown = text(plan_view(changed(totals={"goals": (more_than_wanted, *goals[1:])})))
    progress = shown[shown.index("\nProgress\n") :]
    assert max(len(bar) for bar in re.findall("[█▒░]+", progress)) == 12


@pytest.mark.parametrize(
    ("status", "words"),
    [
        ("optimal", "the best plan possible, proven in "),
        ("feasible", " of the best possible, shown in "),
        ("stopped", "search stopped early"),
    ],
)
def test_proof_says_what_is_proven(status: str, words: str) -> None:
    assert words in joined(plan_view(changed(proof={"status": status, "gap": 0.01})))


@pytest.mark.parametrize("gap", [0.001549, 0.000012, 0.25])
def test_gap_is_never_told_smaller_than_it_is(gap: float) -> None:
    """Who says "within 0.15 %" must not mean 0.1549 %."""
    told = re.search(
        r"within ([0-9.]+) % of the best",
        joined(plan_view(changed(proof={"status": "feasible", "gap": gap}))),
    )
    assert told
    assert gap * 100 <= float(told[1]) <= gap * 100 + 0.1


@pytest.mark.parametrize("margin_min", [12.0003, 9.96, 0.04, -0.04, 12.96])
def test_margin_to_contact_is_never_told_larger_than_it_is(margin_min: float) -> None:
    """ "never nearer than 10.0 min" must not mean 9.96."""
    report = AuditReport(rules=("contact",), violations=(), least_margin_min=margin_min)
    shown = [
        joined(plan_view(changed(audit={"least_margin_min": margin_min}))),
        joined(audit_view(report)),
    ]
    for words, pattern in zip(shown, (r"than (−?[0-9.]+) min", r"contact: (−?[0-9.]+) min"), strict=True):
        told = re.search(pattern, words)
        assert told, words
        assert margin_min - 0.11 <= float(told[1].replace("−", "-")) <= margin_min


def test_dark_that_is_clouded_out_is_not_called_too_bright() -> None:
    """Blocked all night: it is dark enough, but nobody can use it."""
    blocked = {
        "evening": "2026-11-14",
        "blocked": [["2026-11-14T10:00:00Z", "2026-11-15T14:00:00Z"]],
        "ut1_utc_s": 0.0,
    }
    words = joined(plan_view(plan(a_request(night=blocked))))
    assert "Open nothing" in words
    assert "never dark enough" not in words


def test_night_without_dark_says_so() -> None:
    """On 20 June at 55 degrees north the Sun stays above -18 degrees, so L has no dark."""
    summer = a_request(
        night={"evening": "2026-06-20", "ut1_utc_s": 0.0},
        site={"latitude_deg": 55.0, "longitude_deg": 12.9, "floor_deg": 30.0},
    )
    words = joined(plan_view(plan(summer)))
    assert "never dark enough tonight for any filter asked for" in words
    assert "never 18° below the horizon" in words
    assert "12° below" not in words
    assert "Visits" not in words


def test_polar_nights_have_words_too() -> None:
    for evening, latitude_deg in (("2026-06-20", 80.0), ("2026-12-20", 80.0), ("2026-12-20", 89.0)):
        polar = a_request(
            night={"evening": evening, "ut1_utc_s": 0.0},
            site={"latitude_deg": latitude_deg, "longitude_deg": 15.0, "floor_deg": 30.0},
        )
        shots = plan(polar)
        assert shots.audit_report.violations == ()
        words = joined(plan_view(shots))
        assert "no twilight edge tonight" in words or "below" in words
        assert "None" not in words


def test_fork_has_no_word_of_flips() -> None:
    shots = plan(a_request(mount={"kind": "fork"}))
    words = text(plan_view(shots))
    assert "Flip " not in words
    assert "contact than" not in words


# --- the audit -----------------------------------------------------------------------------------------


def test_findings_are_shown_with_step_rule_and_amount() -> None:
    found = (
        Violation(rule="contact", step=7, amount=12.345678, unit="s", message="too near [bold]x[/]"),
        Violation(rule="totals", step=None, amount=2.0, unit="subs", message="one\u202etwo"),
    )
    report = AuditReport(rules=("contact", "totals", "clear"), violations=found, least_margin_min=9.5)
    shown = text(audit_view(report))
    assert shown.startswith(
        "NOT within the rules: 2 violations, 3 rules checked. Least margin to contact: 9.5 min"
    )
    assert re.search(r"^ *7 +contact +12\.3457 s +too near \[bold\]x\[/\]$", shown, re.MULTILINE)
    assert re.search(r"^ *- +totals +2 subs +one\\u202etwo$", shown, re.MULTILINE)


def test_clean_report_counts_its_rules() -> None:
    report = AuditReport(rules=("contact",), violations=(), least_margin_min=None)
    assert text(audit_view(report)) == "Safe and within the rules: 1 rule checked, none broken.\n"
