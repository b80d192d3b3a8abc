"""A season of several rigs in the terminal: who shoots what, which rig is the bottleneck, what a rig changes."""

from __future__ import annotations

import re
from typing import Any

import pytest

from optimizer.models.season import SeasonFile
from optimizer.report.season_facts import MOST_ROWS, MOST_TONIGHT, shown_season
from optimizer.report.season_page.details import night_words
from optimizer.report.season_page.page import season_page
from optimizer.report.season_rigs import (
    MOST_RIGS,
    bottleneck_words,
    clock_words,
    rig_rows,
    season_steps,
    shares_of,
    sites_words,
    steps_note,
)
from optimizer.report.season_view import season_view
from tests.support.report_cases import joined, text
from tests.support.season_cases import NAMES, season
from tests.support.season_rigs_cases import (
    NORTH,
    ONE_RIG_STEPS,
    STEPS,
    WIDE,
    dense_rigs,
    hostile_rigs,
    idle_project,
    step,
    two_rigs,
)


def with_worths(**worths_s: float) -> SeasonFile:
    """The two rigs, each with that worth on all its nights."""
    given = {"north": worths_s["north"], "=wide": worths_s["wide"]}
    nights = (night.model_copy(update={"worth_s": given[night.rig]}) for night in two_rigs().nights)
    return two_rigs(nights=tuple(nights), steps=())


def test_nights_are_evenings_and_rigs_are_counted() -> None:
    lines = text(season_view(two_rigs())).splitlines()
    assert lines[0] == "Season of 4 nights with 2 rigs at Heron Flat"
    assert lines[1] == "These are the evenings from 14 Nov to 17 Nov 2026. Times are local: Europe/Madrid."
    far = dense_rigs(9, 7, 3)
    assert (sites_words(far), clock_words(far)) == ("with 3 rigs at 2 sites", "of each rig those of its site")


def test_first_night_is_told_by_rig() -> None:
    lines = text(season_view(two_rigs())).splitlines()
    assert (
        "Plan Tonight, the evening of 14 Nov, if it is clear: north: =Heart 2.2 h and Cradle 0.8 h; =wide: "
        "=Heart 1.0 h Goals"
    ) in joined(season_view(two_rigs()))
    tonight = lines[lines.index("Tonight, the evening of 14 Nov") :]
    own = tonight[next(n for n, line in enumerate(tonight) if line.startswith("=wide: 40 % likely clear")) :]
    assert own[3].split() == ["20:28", "23:01", "=Heart", "east", "Ha", "12×300s"]
    assert own[4] == ""


def test_each_rig_has_the_clock_of_its_site() -> None:
    shown = text(season_view(dense_rigs(9, 7, 2)))
    near, far = shown[shown.index("rig A: ") :], shown[shown.index("\nrig B: ") :]
    assert re.findall(r"\n(\d\d:\d\d) ", near)[0] == "19:30"
    assert re.findall(r"\n(\d\d:\d\d) ", far)[0] == "12:30"


def test_rigs_have_their_row_the_bottleneck_first() -> None:
    first, second = rig_rows(two_rigs())
    assert (first.name, first.nights, first.projects, first.worth) == (NORTH, "3 of 4", "2", "2.5 h")
    assert (second.name, second.nights, second.projects, second.worth) == (WIDE, "3 of 4", "1", "1.5 h")
    # 24 subs of 120 s and 26 of 300 s on three nights, each by odds of 0.45; 12 of 300 s by 0.4
    assert (first.planned, second.planned) == ("4.0 h", "1.2 h")
    assert (first.dark, second.dark) == ("20 h", "16 h")


def test_bottleneck_is_the_rig_whose_clear_night_is_worth_most() -> None:
    assert bottleneck_words(two_rigs()) == (
        "the bottleneck is north: one more clear night of it raises what all nights can be worth by 2.5 h at "
        "most, on the mean of its nights (=wide 1.5 h). Of one more rig, one like north helps most: 3.1 of 4 "
        "projects finished on average, without it 2.3"
    )
    assert f"Rigs {bottleneck_words(two_rigs())}." in joined(season_view(two_rigs()))
    assert bottleneck_words(with_worths(north=1_800.0, wide=3_700.0)).startswith(
        "the bottleneck is =wide: one more clear night of it raises what all nights can be worth by 1.1 h at most"
    )


def test_worth_is_told_no_smaller_than_it_is() -> None:
    assert {row.name: row.worth for row in rig_rows(with_worths(north=3_601.0, wide=1.0))} == {
        NORTH: "1.1 h",
        WIDE: "0.1 h",
    }


def test_rigs_alike_are_no_bottleneck() -> None:
    assert bottleneck_words(with_worths(north=3_600.0, wide=3_600.0)) == (
        "none is more of a bottleneck than the others: one more clear night of any raises what all nights can "
        "be worth by 1.0 h at most, on the mean of its nights"
    )
    assert bottleneck_words(with_worths(north=0.0, wide=0.0)) == (
        "none is a bottleneck: no further clear night raises what all nights can be worth"
    )


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ((), "(=wide 1.5 h)"),
        ((step("rig_more", NORTH, 2.3, 118.0), step("rig_more", WIDE, 2.32, 140.0)), "No further rig finishes 0.1 projects more on average; one like =wide brings most: 140 h, without it 119 h"),
        ((step("rig_more", NORTH, 2.349, 118.0), step("rig_more", WIDE, 2.32, 140.0)), "No further rig finishes 0.1 projects more on average; one like =wide brings most: 140 h, without it 119 h"),
        ((step("rig_more", NORTH, 2.3, 119.45), step("rig_more", WIDE, 2.3, 119.44)), "In the simulated seasons no further rig brings noticeably more"),
        ((step("rig_more", NORTH, 2.2, 118.0), step("rig_more", WIDE, 2.1, 118.0)), "In the simulated seasons no further rig brings noticeably more"),
    ],
)  # fmt: skip
def test_answer_of_one_more_rig_is_no_more_than_was_simulated(steps: Any, words: str) -> None:
    assert bottleneck_words(two_rigs(steps=steps)).endswith(words)


def test_answer_of_some_rigs_says_that_it_is_of_these() -> None:
    some = two_rigs(steps=(step("rig_more", WIDE, 2.6, 150.0),))
    assert "one like =wide helps most of the 1 tried: 2.6 of 4" in bottleneck_words(some)
    assert "of the 2 tried" not in bottleneck_words(two_rigs())


def test_steps_of_the_season_are_rows() -> None:
    rows = [(row.step, row.finished, row.brought) for row in season_steps(two_rigs())]
    assert rows == [
        ("one more rig like north", "from 2.3 to 3.1", "from 119 h to 160 h"),
        ("one more rig like =wide", "from 2.3 to 2.6", "from 119 h to 150 h"),
        ("without north", "from 2.3 to 1.0", "from 119 h to 50 h"),
        ("without =wide", "from 2.3 to 1.8", "from 119 h to 80 h"),
        ("without the last 7 nights", "from 2.3 to 1.9", "from 119 h to 101 h"),
    ]
    assert "on the mean of 200 simulated seasons of the same weather" in steps_note(two_rigs())
    few = two_rigs(steps=(*STEPS, step("week_less", None, 1.0, 1.0, seasons=40)))
    assert "on the mean of the first 40 and 200 simulated seasons" in steps_note(few)
    assert "A rig more, a rig less, a week less" in text(season_view(two_rigs()))


def test_single_rig_shows_its_steps_and_nothing_else_of_rigs() -> None:
    plain, told = (text(season_view(each)).splitlines() for each in (season(), season(steps=ONE_RIG_STEPS)))
    begin = told.index("A rig more, a week less")
    assert [" ".join(line.split()) for line in told[begin + 3 : begin + 5]] == [
        "one more rig like this from 2.3 to 3.1 from 119 h to 160 h",
        "without the last 7 nights from 2.3 to 1.9 from 119 h to 101 h",
    ]
    end = told.index("Projects")
    assert told[:begin] + told[end:] == plain
    assert not any(re.search(r"\brigs?\b", line) for line in plain)


def test_only_steps_that_were_tried_stand_in_the_heading() -> None:
    short = text(season_view(season(steps=ONE_RIG_STEPS[:1]))).splitlines()
    assert "A rig more" in short
    assert "<h2>A rig more</h2>" in season_page(season(steps=ONE_RIG_STEPS[:1]))
    assert "<h2>A rig more, a rig less, a week less</h2>" in season_page(two_rigs())


def test_nights_that_are_not_shown_are_those_of_all_rigs() -> None:
    shown = shown_season(dense_rigs(9, 3, 14))
    assert len(shown.nights) == 12
    assert shown.nights_more == f"{8 * 14 - 12} nights more in the CSV and the calendar"


def test_who_shoots_what_and_when() -> None:
    shown = shown_season(two_rigs(projects=(*two_rigs().projects, idle_project("Owl"))))
    who = dict(shown.who)
    assert set(who) == {*NAMES, "Owl"}
    heart = who[NAMES[1]].replace("\ue000", " ")
    # 26 and 12 subs of 300 s on three nights, by odds of 0.45 and 0.4
    assert heart == ("north 2.9 h on 3 nights, 14 Nov to 16 Nov; =wide 1.2 h on 3 nights, 14 Nov to 16 Nov")
    assert who["Owl"] == "nobody, in any of these plans"


def test_shares_of_the_rigs_are_what_their_plans_have() -> None:
    told = dense_rigs(9, 7, 3)
    for target, shares in shares_of(told).items():
        for share in shares:
            own = [night for night in told.nights if night.rig == share.rig.name]
            seconds = sum(
                night.odds * goal.frames * goal.exposure_s
                for night in own
                for goal in night.plan
                if goal.target == target
            )
            assert share.seconds == pytest.approx(seconds)
            assert share.evenings == tuple(own[number].evening for number in share.columns)
        assert [share.seconds for share in shares] == sorted((s.seconds for s in shares), reverse=True)


def test_next_nights_have_a_row_for_each_rig() -> None:
    lines = [" ".join(line.split()) for line in text(season_view(two_rigs())).splitlines()]
    after = lines[lines.index("The next nights, if they are clear") :]
    assert after[1] == "evening rig clear dark moonless subs"
    assert "15 Nov north 45 % 11 h 6.2 h Cradle L 24×120s; =Heart Ha 20×300s, OIII 6×300s" in after
    assert "17 Nov =wide 40 % 10 h 6.2 h nothing" in after


def test_month_says_with_which_rig_a_clear_night_gives_most() -> None:
    lines = [" ".join(line.split()) for line in text(season_view(two_rigs())).splitlines()]
    assert "Nov 2026 4 2 2.5 h north 2.5 h" in lines


def test_many_rigs_are_folded() -> None:
    told = dense_rigs(9, 7, 20)
    shown = shown_season(told)
    assert len(shown.first) == MOST_TONIGHT
    assert len(shown.rigs) == MOST_RIGS
    assert len(shown.nights) <= MOST_ROWS
    assert len(shown.season_steps) == MOST_RIGS
    assert shown.rigs[0].name == "rig T"  # the greatest worth is not folded away
    words = text(season_view(told))
    assert "14 rigs more in the CSV and the calendar" in words
    assert "8 rigs more in the JSON, and on the page that --page draws" in words
    assert len(words.splitlines()) < 260


@pytest.mark.parametrize("width", [60, 80, 120, 160])
@pytest.mark.parametrize("file", [two_rigs(), hostile_rigs(), dense_rigs(9, 7, 5)])
def test_nothing_is_too_wide_or_lost(file: SeasonFile, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    lines = text(season_view(file)).splitlines()
    assert max(map(len, lines)) <= width
    shown = " ".join(" ".join(lines).split())
    for row in season_steps(file):
        assert f"{row.finished}" in shown
    for rig in rig_rows(file):
        assert rig.name in shown
        assert rig.worth in shown
    assert not re.search(r"[\u202e\x1b\ue000]", shown)


def test_simulated_nights_of_several_rigs_are_told_as_they_were_planned() -> None:
    """A rig knows there what those before it took on the same night, which plan does not by itself."""
    after = (
        "as plan does by itself, each rig after those before it in the season took their subs; simulated in"
    )
    assert after in joined(season_view(two_rigs()))
    assert "as plan does by itself; simulated in" in joined(season_view(season()))


def test_what_a_clear_night_gives_at_most_is_never_told_as_less() -> None:
    month = two_rigs().months[0].model_copy(update={"worth_s": 100.0})
    (row, *_) = shown_season(two_rigs(months=(month,))).months
    assert row.worth == "0.1 h"
    night = two_rigs().nights[0].model_copy(update={"worth_s": 100.0})
    assert night_words(night)["worth"].endswith("by 0.1 h at most.")


def test_rigs_of_which_the_plan_says_nothing_are_counted() -> None:
    shown = shown_season(dense_rigs(3, 3, MOST_TONIGHT + 2))
    assert shown.plan.endswith("; and 2 more rigs")
    assert "more rig" not in shown_season(two_rigs()).plan
