"""What is shown in 60 to 160 columns: nothing lost, no run of exposures torn apart, no line too long."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import RenderableType
from rich.text import Text

from optimizer.export.shot_files import read_shots
from optimizer.models.shots import AuditReport, ShotList, Violation
from optimizer.report.audit_view import audit_view
from optimizer.report.plan_view import plan_view
from optimizer.report.tables import PIPE_WIDTH, show
from optimizer.report.window_facts import windows_report
from optimizer.report.windows_view import windows_view
from optimizer.report.words import duration, run_words
from optimizer.views.visits import visits_of
from tests.support.docs_files import ROOT, stored_list
from tests.support.report_cases import a_request, text

PLANS = ROOT / "plans"
NIGHTS = ("first-night", "long-winter-night", "short-summer-night")
WIDTHS = (60, 80, 110, 160)
LONG_LINE = Text("word " * 200)


def stored(night: str) -> ShotList:
    path = stored_list(PLANS / night)
    shots = read_shots(path).shots
    assert shots is not None
    return shots


def lines(view: RenderableType, width: int, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    monkeypatch.setenv("COLUMNS", str(width))
    return text(view).splitlines()


def widest(monkeypatch: pytest.MonkeyPatch, **environment: str) -> int:
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    return max(map(len, text(LONG_LINE).splitlines()))


# --- how wide --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("columns", "width"), [("60", 60), ("80", 80), ("0200", 200), (" 97 ", 97)])
def test_columns_says_how_wide_a_pipe_is(columns: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    assert width - 5 < widest(monkeypatch, COLUMNS=columns) <= width


@pytest.mark.parametrize("columns", ["", "0", "-80", "wide", "80.5", "9" * 5000, "８０"])
def test_columns_that_say_nothing_leave_a_pipe_as_it_is(
    columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert PIPE_WIDTH - 5 < widest(monkeypatch, COLUMNS=columns) <= PIPE_WIDTH


def test_nothing_is_laid_out_for_less_than_the_lanes_need(monkeypatch: pytest.MonkeyPatch) -> None:
    assert 55 < widest(monkeypatch, COLUMNS="20") <= 60


@pytest.mark.parametrize("columns", ["", "130"])
def test_a_dumb_terminal_with_colours_asked_for_is_no_narrower(
    columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There the library's own rule is 80 cells, whatever width it was given."""
    width = int(columns or PIPE_WIDTH)
    found = widest(monkeypatch, COLUMNS=columns, TERM="dumb", FORCE_COLOR="1")
    assert width - 5 < found <= width


def test_columns_is_honoured_by_terminals_too(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        encoding = "utf-8"

        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("COLUMNS", "70")
    monkeypatch.setenv("TERM", "xterm")
    out = Terminal()
    show(LONG_LINE, out)
    assert 65 < max(map(len, out.getvalue().splitlines())) <= 70


# --- plans -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("night", NIGHTS)
def test_no_run_is_torn_apart_and_no_line_too_long(
    night: str, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = stored(night)
    found = lines(plan_view(shots), width, monkeypatch)
    assert max(map(len, found)) <= width
    visits = found[found.index("Visits") : found.index("The night in lanes")]
    for visit in visits_of(shots.steps):
        for filter_name, frames, exposure_s in visit.runs():
            assert any(f"{filter_name} {frames}×{exposure_s:g}s" in line for line in visits)
    whole = "\n".join(found)
    for entry in shots.unplanned:
        assert f"{entry.filter} {entry.frames}×{entry.exposure_s:g}s" in whole


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("night", NIGHTS)
def test_every_visit_and_every_goal_keeps_its_numbers(
    night: str, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = stored(night)
    shown = lines(plan_view(shots), width, monkeypatch)
    visits = " ".join(" ".join(shown[shown.index("Visits") : shown.index("The night in lanes")]).split())
    for visit in visits_of(shots.steps):
        assert duration(visit.open_s) in visits
    assert len(re.findall(r"\b(?:west|east)\b", visits)) == len(visits_of(shots.steps))
    assert "pier side" in visits or re.search(r"\bpier\b.*\bside\b", visits)
    progress = shown[shown.index("Progress") :]
    rows = [re.findall(r"\d+", found[1]) for line in progress if (found := re.search(r"\d s([ :].*)", line))]
    wanted = [
        [str(n) for n in (goal.frames_done, goal.frames_planned, goal.frames_left, goal.frames_wanted)]
        for goal in shots.totals.goals
    ]
    assert rows[: len(wanted)] == wanted


def test_visits_are_a_table_from_80_columns_on(monkeypatch: pytest.MonkeyPatch) -> None:
    for width in (80, 110):
        assert any(
            re.match("from +to +target", line)
            for line in lines(plan_view(stored("long-winter-night")), width, monkeypatch)
        )
    narrow = lines(plan_view(stored("first-night")), 60, monkeypatch)
    flip = next(visit for visit in visits_of(stored("first-night").steps) if visit.by_flip)
    at = next(number for number, line in enumerate(narrow) if "by FLIP" in line)
    assert re.fullmatch("[0-9:]{5} to [0-9:]{5}  Pelican at the shore", narrow[at - 1])
    first, last = flip.exposures[0].altitude_deg, flip.exposures[-1].altitude_deg
    altitudes = f"{first:.0f}° → {last:.0f}°"
    assert narrow[at] == f"  pier side east, by FLIP, {altitudes}, {duration(flip.open_s)} open"
    assert narrow[at + 1] == f"  Ha {len(flip.exposures)}×300s"


@pytest.mark.parametrize("width", WIDTHS)
def test_longest_names_are_not_torn_apart_either(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    shots = stored("first-night")
    steps = tuple(
        step.model_copy(
            update={
                "target": step.target and "N" * 40,
                "filter": step.filter and "narrow fi-ha",
                "exposure_s": step.exposure_s and 12345.678,
            }
        )
        for step in shots.steps
    )
    found = lines(plan_view(shots.model_copy(update={"steps": steps})), width, monkeypatch)
    visits = found[found.index("Visits") : found.index("The night in lanes")]
    assert max(map(len, visits)) <= width
    longest = max(len(visit.exposures) for visit in visits_of(shots.steps))
    assert any(f"narrow fi-ha {longest}×12345.7s" in line for line in visits)


def test_the_sign_that_ties_is_seen_by_nobody() -> None:
    assert text(Text(run_words("Ha", 3, 300.0))) == "Ha 3×300s\n"
    assert text(Text(run_words("H\ue000a", 3, 300.0))) == "H\\ue000a 3×300s\n"


# --- windows, audit --------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", WIDTHS)
def test_windows_keep_their_edges_at_every_width(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    report = windows_report(a_request())
    found = lines(windows_view(report), width, monkeypatch)
    assert max(map(len, found)) <= width
    whole = " ".join(" ".join(found).split())
    for words in ("clear span begins", "pier side west must be left", "clear span ends"):
        assert all(word in whole for word in words.split())
    assert whole.count("Ha") >= 2
    assert "pier side" in whole or ("pier" in whole and "side from" in whole)


def test_findings_are_told_one_after_the_other_where_there_is_no_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    violation = Violation(
        rule="longest_rule_name_of_all", step=1234, amount=12.3456, unit="s of hour angle", message="too near"
    )
    report = AuditReport(rules=("contact",), violations=(violation,), least_margin_min=None)
    found = lines(audit_view(report), 60, monkeypatch)
    assert found[1:] == ["step 1234, longest_rule_name_of_all, 12.3456 s of hour angle", "  too near"]


def test_the_amount_of_a_finding_is_no_power_of_ten() -> None:
    """A list of another season lies millions of seconds outside the night."""
    violations = tuple(
        Violation(rule="night", step=1, amount=amount, unit=unit, message="-")
        for amount, unit in ((6804163.0, "s"), (0.00012, "deg"), (-2.5, "mag"))
    )
    whole = text(audit_view(AuditReport(rules=("night",), violations=violations, least_margin_min=None)))
    assert "6804163 s" in whole
    assert "0.00012°" in whole
    assert "−2.5 mag" in whole


# --- the glance ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("night", NIGHTS)
def test_glance_lines_keep_clear_of_their_labels(
    night: str, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = lines(plan_view(stored(night)), width, monkeypatch)
    glance = shown[2 : shown.index("")]
    folded = [line for line in glance if line.startswith(" ")]
    assert folded or width > 60
    labels = ("Sun", "Moon", "Open", "Depth", "Proof", "Short", "Flip", "Pier", "Slack", "Audit")
    for line in glance:
        assert line[:7].strip() in ("", *labels)
        assert line[7] != " "
