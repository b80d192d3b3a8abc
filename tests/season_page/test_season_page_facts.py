"""What the season's page shows is what its file holds."""

from __future__ import annotations

import math
from typing import Any

import pytest

from optimizer.models.season import SeasonFile, TargetOnNight
from optimizer.report.season_page.colours import STEP_ENDS_H, step_of
from optimizer.report.season_page.facts import Row, season_facts
from optimizer.report.season_page.marks import marks, open_hours, short_hours
from tests.support.season_cases import NAMES, evening, goal, night, project, season
from tests.support.season_page_cases import dense, target

HA = NAMES[1]


def sky(open_s: float, moonless_s: float | None = None) -> tuple[TargetOnNight, ...]:
    return (TargetOnNight(target=HA, open_s=open_s, moonless_s=moonless_s or open_s),)


def one_target(nights: tuple[Any, ...], **changes: Any) -> Row:
    (row,) = season_facts(season(nights=nights, projects=(project(HA, **changes),))).rows
    return row


def unplanned(number: int, open_s: float, moonless_s: float | None = None, **changes: Any) -> Any:
    return night(number, plan=(), visits=(), targets=sky(open_s, moonless_s), **changes)


def test_what_a_night_is_to_a_target_is_told_apart() -> None:
    nights = (
        night(0, targets=sky(20_000.0)),
        unplanned(1, 20_000.0),
        unplanned(2, 0.0, 9_000.0),
        night(3, plan=(), visits=(), targets=(TargetOnNight(target=HA, open_s=0.0, moonless_s=0.0),)),
    )
    cells = one_target(nights).cells
    assert [cell.serves for cell in cells] == ["used", "open", "moon", "closed"]
    assert cells[0].hours == pytest.approx((20 + 6) * 300 / 3600)
    assert [cell.hours for cell in cells[1:]] == [0.0, 0.0, 0.0]


def test_what_is_in_hand_asks_for_no_night() -> None:
    row = one_target((unplanned(0, 20_000.0),), goals=(goal("Ha", 72, 72, 0),))
    assert (row.done, row.urgency, [cell.serves for cell in row.cells]) == (True, -1.0, ["done"])
    assert (row.finish_50_at, row.finish_90_at, row.last_at) == (None, None, None)


def test_urgency_is_what_is_left_of_the_open_hours_by_their_odds() -> None:
    nights = (unplanned(0, 10_000.0, odds=0.5), unplanned(1, 20_000.0, odds=0.25))
    row = one_target(nights, goals=(goal("Ha", 20, 10, 2),))
    assert row.urgency == pytest.approx(3_000 / (0.5 * 10_000 + 0.25 * 20_000))
    assert one_target((unplanned(0, 10_000.0, odds=0.0),)).urgency == math.inf


@pytest.mark.parametrize(("frames", "never"), [(20, ()), (21, ("Ha",))])
def test_impossible_is_said_only_of_what_open_hours_rule_out(frames: int, never: tuple[str, ...]) -> None:
    """To the frame: as many seconds wanted as all nights have open may be had, one frame more may not."""
    nights = (unplanned(0, 4_000.0), unplanned(1, 2_000.0))
    assert one_target(nights, goals=(goal("Ha", frames, 0, 2),)).never == never


def test_goal_that_no_night_serves_is_impossible_and_told_by_its_filter() -> None:
    nights = (unplanned(0, 40_000.0),)
    row = one_target(nights, goals=(goal("Ha", 10, 0, 1), goal("OIII", 10, 0, 0), goal("L", 10, 10, 0)))
    assert row.never == ("OIII",)


def ordered(file: SeasonFile, order: str) -> list[str]:
    facts = season_facts(file)
    return [row.project.target for row in sorted(facts.rows, key=lambda row: facts.orders[order][row.number])]


def test_orders_put_first_what_is_finished_first_or_presses_most_and_last_what_is_done() -> None:
    done = {"goals": (goal("Ha", 10, 10, 0),)}
    nights = (night(0, targets=tuple(TargetOnNight(target=n, open_s=9e4, moonless_s=9e4) for n in "abcde")),)
    projects = (
        project("a", **done, finish_50=evening(0), finish_90=evening(0)),
        project("b", finish_50=None, finish_90=None, finish_share=0.2, goals=(goal("Ha", 30, 0, 1),)),
        project("c", finish_50=evening(1), finish_90=evening(3), goals=(goal("Ha", 10, 0, 1),)),
        project("d", finish_50=evening(2), finish_90=evening(2), goals=(goal("Ha", 20, 0, 1),)),
        project("e", finish_50=None, finish_90=None, finish_share=0.4, goals=(goal("Ha", 5, 0, 1),)),
    )
    file = season(nights=nights, projects=projects)
    assert ordered(file, "finish") == ["d", "c", "e", "b", "a"]
    assert ordered(file, "urgency") == ["b", "d", "c", "e", "a"]
    assert ordered(file, "request") == ["a", "b", "c", "d", "e"]


def test_finish_dates_and_last_evening_are_marked_on_their_nights() -> None:
    nights = tuple(unplanned(number, 20_000.0) for number in range(5))
    row = one_target(nights, finish_50=evening(1), finish_90=evening(2), last_useful_evening=evening(3))
    assert [mark.class_ for mark in marks(row)] == ["", "h", "k", "u", ""]
    late = one_target(nights, finish_50=None, finish_90=None, last_useful_evening=evening(4))
    assert [mark.class_ for mark in marks(late)] == [""] * 5  # that a season ends is no news of a target


def test_open_hours_tell_what_the_moon_takes() -> None:
    row = one_target((unplanned(0, 7_200.0), unplanned(1, 3_600.0, 10_800.0)))
    assert open_hours(row) == "20 10/30"


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (1 / 120, ".01"),
        (0.05, ".05"),
        (0.094, ".09"),
        (0.096, "0.1"),
        (4.44, "4.4"),
        (9.96, "10"),
        (11.4, "11"),
    ],
)
def test_hours_of_a_cell_are_short(hours: float, text: str) -> None:
    assert short_hours(hours) == text


def test_steps_of_hours_rise() -> None:
    assert step_of(0.0) == 0
    for number, end in enumerate(STEP_ENDS_H, start=1):
        assert (step_of(end), step_of(end + 0.001)) == (number, number + 1)


def test_each_cell_has_the_hours_of_the_plan() -> None:
    file = dense(9, 7)
    for row in season_facts(file).rows:
        for cell, of_night in zip(row.cells, file.nights, strict=True):
            own = [each for each in of_night.plan if each.target == row.project.target]
            assert cell.hours == pytest.approx(sum(each.frames * each.exposure_s for each in own) / 3600)
            assert (cell.serves == "used") == bool(own)
    kinds = [{cell.serves for cell in row.cells} for row in season_facts(file).rows]
    assert kinds[1:4] == [{"done"}, {"moon"}, {"closed"}]
    assert season_facts(file).rows[1].project.target == target(1)
