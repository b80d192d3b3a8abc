"""What is shown of a season: verdict first, true words, nothing lost at any width, long lists folded."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from optimizer.models.season import TargetOnNight
from optimizer.report.season_facts import MOST_NIGHTS, MOST_PROJECTS, shown_season
from optimizer.report.season_view import season_view
from optimizer.report.season_words import (
    day,
    gap_words,
    hours,
    hours_told,
    month,
    proven_words,
    share_words,
    span,
)
from tests.support.report_cases import joined, text
from tests.support.season_cases import NAMES, NOTHING, PROJECTS, evening, night, project, season

WIDTHS = (60, 80, 110, 160)


def test_verdict_comes_first() -> None:
    lines = text(season_view(season())).splitlines()
    assert lines[0] == "Season of 4 nights at Heron Flat"
    assert lines[1] == "These are the evenings from 14 Nov to 17 Nov 2026. Times are local: Europe/Madrid."
    assert lines[2] == "Plan   Tonight, the evening of 14 Nov, if it is clear: =Heart 2.2 h and Cradle 0.8 h"
    assert lines[3].startswith(
        "Goals  1 of 4 projects is finished already; of the other 3, by 200 simulated seasons"
    )
    assert "these get finished: 1 in 90 % or more of them, 1 in fewer and 1 in none" in joined(
        season_view(season())
    )


def test_proven_and_expected_are_told_apart() -> None:
    shown = joined(season_view(season()))
    assert (
        "Proof the plans of all nights bring 150 h, and none can bring more than 153 h: within 1.5 % of the "
        "best possible; all rounds were done"
    ) in shown
    assert "It is no forecast." in shown
    assert (
        "Expect 200 simulated seasons, on a coarse grid: 119 h on average, 85 % of the most that could be had if the weather "
        "were known beforehand (71 % to 93 % in 80 % of them); each clear night planned by scarce hours first, as plan "
        "does by itself; simulated in 12 s"
    ) in shown


def test_time_that_the_weathers_took_is_told() -> None:
    policy = season().policy
    assert policy is not None
    told = season(policy=policy.model_copy(update={"seconds": 134.0}))
    assert "simulated in 2 min" in joined(season_view(told))


def test_without_weather_nothing_is_expected() -> None:
    bare = tuple(
        each.model_copy(
            update={
                "finish_50": None,
                "finish_90": None,
                "finish_share": None,
                "left_after": None,
                "steps": (),
            }
        )
        for each in PROJECTS
    )
    shown = joined(season_view(season(policy=None, projects=bare)))
    assert "of the other 3 it was not simulated how many get finished" in shown
    assert not re.search("Expect|50 %|90 %|share", shown)
    # what no night can serve is proven without any weather
    assert f"Not even if all these nights are clear: {NAMES[2]} (L)." in shown


def test_tonight_is_only_the_night_in_which_it_was_planned() -> None:
    assert "Tonight, the evening of 14 Nov" in text(season_view(season()))
    later = season(created_utc=dt.datetime(2026, 11, 13, 8, tzinfo=dt.UTC))
    assert "First night, the evening of 14 Nov" in text(season_view(later))
    assert "Tonight" not in text(season_view(later))


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"odds": 0.0}, "nothing, as its odds of clear sky are 0"),
        ({"targets": ()}, "nothing, as no project that lacks subs can be shot"),
        (
            {"targets": (TargetOnNight(target=NAMES[1], open_s=0.0, moonless_s=0.0),)},
            "nothing, as no project that lacks subs can be shot",
        ),
        ({}, "nothing, as the season's plans leave it free"),
    ],
)
def test_first_night_without_a_plan_says_why(changes: dict[str, object], why: str) -> None:
    shown = text(season_view(season(nights=(night(0, **NOTHING, **changes), night(1)))))
    assert f"Plan   Tonight, the evening of 14 Nov, if it is clear: {why}\n" in shown


def test_rows_of_projects() -> None:
    lines = text(season_view(season())).splitlines()
    (row,) = (line for line in lines if line.startswith(f"{NAMES[0]} ") and " h " in line and "%" in line)
    assert row.split()[1:] == ["7.5", "h", "5.6", "h", "3", "16", "Nov", "15", "Nov", "16", "Nov", "93", "%"]
    (late,) = (line for line in lines if line.startswith(f"{NAMES[1]} ") and line.rstrip().endswith("31 %"))
    assert late.split()[-4:] == ["-", "-", "31", "%"]
    assert " end " in late  # it can be shot until the season ends
    assert "In hand already: Old Friend." in lines


def test_what_is_not_likely_has_its_steps() -> None:
    lines = text(season_view(season())).splitlines()
    after = lines[lines.index("Less likely than not, and what one step would change") :]
    (row,) = (line for line in after if line.startswith(NAMES[1]))
    assert row.split()[1:] == ["31", "%", "3.6", "h", "48", "%", "96", "%"]
    assert [each.target for each in shown_season(season()).steps] == [
        NAMES[1]
    ]  # the others: likely, impossible


def test_step_that_hardly_helps_is_not_told_as_one() -> None:
    night, half = PROJECTS[1].steps
    little = PROJECTS[1].model_copy(
        update={"steps": (night.model_copy(update={"finish_share": 0.35}), half)}  # of 0.31
    )
    nothing = project(
        "Owl",
        finish_50=None,
        finish_90=None,
        finish_share=0.0,
        steps=(night.model_copy(update={"finish_share": 0.0}), half.model_copy(update={"finish_share": 0.0})),
    )
    told = season(projects=(little, nothing))
    (row,) = shown_season(told).steps
    assert (row.target, row.clear_night, row.half_the_subs) == (NAMES[1], "-", "96 %")
    shown = joined(season_view(told))
    assert "Neither step raises the share by 5 points or more: Owl." in shown
    assert "in 0 % of" not in shown


def test_many_that_no_step_helps_are_one_sentence() -> None:
    step = PROJECTS[1].steps[1].model_copy(update={"finish_share": 0.0})
    dates = {"finish_50": None, "finish_90": None, "finish_share": 0.0}
    many = tuple(project(f"Owl {number:02d}", steps=(step,), **dates) for number in range(20))
    shown = joined(season_view(season(projects=many)))
    assert "by 5 points or more: Owl 00, Owl 01," in shown
    assert "Owl 07 (and 12 more)." in shown


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0 %"),
        (0.004, "< 1 %"),
        (0.895, "89 %"),
        (0.9, "90 %"),
        (0.29, "29 %"),
        (0.999, "99 %"),
        (1, "100 %"),
    ],
)
def test_share_is_told_no_larger_than_it_is(share: float, words: str) -> None:
    """In `90 %` of the seasons stands nowhere without the evening by which it is so."""
    assert share_words(share) == words


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_too_wide_or_lost(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    told = season()
    lines = text(season_view(told)).splitlines()
    assert max(map(len, lines)) <= width
    shown = " ".join(" ".join(lines).split())
    for each in told.projects:
        assert each.target in shown
    for goal in told.nights[0].plan:
        assert f"{goal.filter} {goal.frames}×{goal.exposure_s:g}s" in shown
    for word in ("17 Nov", "93 %", "7.5 h", "2.5 h", "One more clear night"):
        assert word in shown
    assert not re.search(r"\d\.\d\d", shown)  # no more digits than they deserve


@pytest.mark.parametrize("width", WIDTHS)
def test_ascii_terminal_is_served(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    import io

    from optimizer.report.tables import show

    monkeypatch.setenv("COLUMNS", str(width))
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    show(season_view(season()), out)
    out.flush()
    assert b"?" not in out.buffer.getvalue()


def test_long_lists_are_folded() -> None:
    many = tuple(
        project(f"Project {number:03d}", finish_share=0.2, steps=PROJECTS[1].steps)
        for number in range(MOST_PROJECTS + 12)
    )
    nights = tuple(night(number) for number in range(MOST_NIGHTS + 5))
    shown = text(season_view(season(projects=many, nights=nights)))
    assert shown.count("12 projects more in the JSON, and on the page that --page draws") == 2
    assert "4 nights more in the CSV and the calendar" in shown
    assert len(shown.splitlines()) < 130


def test_hostile_names_drive_no_terminal() -> None:
    shown = text(season_view(season(projects=(project("\x1b[2JX\u202e"),))))
    assert "\x1b" not in shown
    assert "\u202e" not in shown


# --- words --------------------------------------------------------------------------------------------------


def test_words_of_dates_and_hours() -> None:
    assert (day("2026-12-04"), day("2026-12-04", year=True)) == ("4 Dec", "4 Dec 2026")
    assert month("2027-01") == "Jan 2027"
    assert span(evening(0), evening(0)) == "the evening of 14 Nov 2026"
    assert span("2026-12-30", "2027-01-02") == "the evenings from 30 Dec 2026 to 2 Jan 2027"
    assert [hours(s) for s in (0, 1_000, 35_800, 35_999, 543_210)] == [
        "0.0 h",
        "0.3 h",
        "9.9 h",
        "10 h",
        "151 h",
    ]


@pytest.mark.parametrize(
    ("seconds", "has", "most"),
    [
        (3_600.0, "1.0 h", "1.0 h"),
        (3_700.0, "1.0 h", "1.1 h"),
        (542_000.0, "150 h", "151 h"),
        (35_999.0, "9.9 h", "10 h"),
    ],
)
def test_value_is_told_no_larger_and_bound_no_smaller_than_it_is(seconds: float, has: str, most: str) -> None:
    assert (hours_told(seconds, up=False), hours_told(seconds, up=True)) == (has, most)


@pytest.mark.parametrize(
    ("gap", "words"),
    [(0.0, "within 0.0 %"), (0.0131, "within 1.4 %"), (0.013, "within 1.3 %"), (0.0600001, "within 6.1 %")],
)
def test_gap_is_never_told_as_less_than_it_is(gap: float, words: str) -> None:
    assert gap_words(gap).startswith(words)


def test_large_gap_is_told_in_hours_alone() -> None:
    far = season().proof.model_copy(update={"value": 36_000.0, "bound": 72_000.0, "gap": 1.0})
    assert proven_words(far) == (
        "the plans of all nights bring 10 h, and none can bring more than 20 h; all rounds were done"
    )
