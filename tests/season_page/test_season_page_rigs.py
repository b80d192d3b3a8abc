"""The page of a season of several rigs: all of them together, each alone, and nothing of that for a single one."""

from __future__ import annotations

import re

import pytest

from optimizer.models.season import SeasonFile, TargetOnNight
from optimizer.report.season_page.by_rig import NOT_ITS_OWN, by_rig
from optimizer.report.season_page.details import goal_cells
from optimizer.report.season_page.facts import rig_cells, season_facts
from optimizer.report.season_page.lanes import night_lanes
from optimizer.report.season_page.page import season_page
from optimizer.report.season_page.verdict import MOST_ITEMS, verdict
from tests.picture.test_page_text import elements
from tests.support.season_cases import NAMES, goal, project, season
from tests.support.season_page_cases import dense, target
from tests.support.season_rigs_cases import (
    NORTH,
    ONE_RIG_STEPS,
    WIDE,
    dense_rigs,
    hostile_rigs,
    lacks,
    rig,
    two_rigs,
)


def words(file: SeasonFile) -> str:
    page = season_page(file)
    return " ".join(" ".join(elements(page[page.index("<body>") :]).words).split())


def test_columns_are_evenings_and_a_cell_has_the_hours_of_all_rigs() -> None:
    file = dense_rigs(9, 7, 3)
    facts = season_facts(file)
    assert [column.evening.isoformat() for column in facts.columns] == [
        night.evening for night in dense(9, 7).nights
    ]
    for row in facts.rows:
        for column, cell in zip(facts.columns, row.cells, strict=True):
            own = [
                goal
                for night in file.nights
                if night.evening == column.evening.isoformat()
                for goal in night.plan
                if goal.target == row.project.target
            ]
            assert cell.hours == pytest.approx(sum(goal.frames * goal.exposure_s for goal in own) / 3600)


def test_cells_of_the_rigs_add_up_to_those_of_all() -> None:
    facts = season_facts(dense_rigs(9, 7, 3))
    alone = [rig_cells(facts, each) for each in facts.rigs]
    for row in facts.rows:
        own = [cells[row.number] for cells in alone if row.number in cells]
        for number, cell in enumerate(row.cells):
            assert cell.hours == pytest.approx(sum(cells[number].hours for cells in own))
            assert cell.open_h == pytest.approx(sum(cells[number].open_h for cells in own))
    assert [sorted(cells) for cells in alone] == [
        [number for number in range(7) if not lacks(place, number)] for place in range(3)
    ]


def test_target_of_which_a_rig_wants_no_more_is_not_told_as_closed() -> None:
    """The project goes on with another rig; the sky of this one is not what keeps it away."""
    (first, *_) = season(projects=(two_rigs().projects[1],)).projects
    nights = tuple(
        night.model_copy(update={"targets": (), "plan": (), "visits": ()}) if night.rig == WIDE else night
        for night in two_rigs().nights
    )
    facts = season_facts(two_rigs(nights=nights, projects=(first,)))
    north, wide = (rig_cells(facts, each)[0] for each in facts.rigs)
    assert {cell.serves for cell in wide} == {"done"}
    assert [cell.serves for cell in north] == ["used", "used", "used", "open"]
    shut = TargetOnNight(target=NAMES[1], open_s=0.0, moonless_s=0.0)
    nights = tuple(
        night.model_copy(update={"targets": (shut,)}) if night.rig == WIDE else night for night in nights
    )
    facts = season_facts(two_rigs(nights=nights, projects=(first,)))
    assert {cell.serves for cell in rig_cells(facts, facts.rigs[1])[0]} == {"closed"}


def test_cells_of_a_rig_are_handed_to_the_script_in_short() -> None:
    found = by_rig(season_facts(two_rigs()))
    assert found.names == (NORTH, WIDE)
    heart = [row.number for row in season_facts(two_rigs()).rows if row.project.target == NAMES[1]]
    # 26 subs of 300 s are 2.2 h, the third step; 12 of them one hour, the first
    assert (
        found.rows[heart[0]]
        == "32.2,56/83 32.2,56/83 32.2,56/83 ,56/83|11.0,56/83 11.0,56/83 11.0,56/83 ,56/83"
    )
    assert found.rows[0].endswith(f"|{NOT_ITS_OWN}")
    assert found.heads[2] == "b4,45 b4,45 b4,45 b4,45|b4,40 b4,40 b4,40 b4,40"


def test_map_has_a_choice_of_rig_and_rows_to_be_narrowed_by_it() -> None:
    page = season_page(dense_rigs(9, 7, 3))
    pick = page[page.index("<select") : page.index("</select>")]
    assert re.findall(r"<option value=\"(-?\d+)\">([^<]*)", pick) == [
        ("-1", "all rigs"),
        ("0", "rig A"),
        ("1", "rig B"),
        ("2", "rig C"),
    ]
    body = page[page.index("<tbody>") : page.index("</tbody>")]
    rows = re.findall(r"<tr data-t=\"(\d)\".*? data-rigs=\"([^\"]*)\".*?</tr>", body, re.DOTALL)
    assert len(rows) == 7
    for number, own in rows:
        for place, cells in enumerate(own.split("|")):
            assert (cells == NOT_ITS_OWN) == lacks(place, int(number))
            assert cells == NOT_ITS_OWN or len(cells.split(" ")) == 9


def test_each_evening_has_the_lanes_and_visits_of_each_rig() -> None:
    file = dense_rigs(9, 7, 3)
    page = season_page(file)
    parts = page[page.index('<section id="nights"') : page.index('<section id="targets"')].split("<details")[
        1:
    ]
    assert len(parts) == 9
    for number, part in enumerate(parts):
        blocks = part.split('<section class="rig"')[1:]
        assert len(blocks) == 3
        for place, block in enumerate(blocks):
            night = file.nights[3 * number + place]
            assert f"<h3><bdi>{night.rig}</bdi>: " in block
            shown = sum(int(count) for count in re.findall(r"(\d+)×", block[block.index("<tbody>") :]))
            assert shown == sum(goal.frames for goal in night.plan)


def test_lanes_are_by_the_clock_of_their_site() -> None:
    axes, nights = night_lanes(season_facts(dense_rigs(9, 7, 2)))
    assert [nights[0][rig].visits[0].begins for rig in (0, 1)] == ["19:30", "12:30"]
    # the same hours after noon have the same names in both zones, so one axis serves them
    assert ({nights[0][rig].axis for rig in (0, 1)}, len(axes)) == ({0}, 1)
    near, far = (float(nights[0][rig].lanes[0].bars[0].x[:-1]) for rig in (0, 1))
    assert near > far


def test_verdict_tells_the_first_night_by_rig_and_the_bottleneck() -> None:
    lines = {line.key: line for line in verdict(season_facts(two_rigs()))}
    tonight = lines["tonight"]
    assert [part.label for part in tonight.parts] == [NORTH, WIDE]
    assert [(item.name, item.words) for item in tonight.parts[1].items] == [(NAMES[1], "Ha 12×300s")]
    assert tonight.parts[1].words.startswith("40 % likely clear, 10 h dark")
    assert lines["rigs"].words.startswith("the bottleneck is north: one more clear night of it")
    assert tonight.words == ""
    shared = {line.key: line for line in verdict(season_facts(dense_rigs(9, 7, 3)))}["tonight"]
    assert shared.words == "30 % likely clear, 11 h dark, 0.0 h of it moonless, Moon 100 % lit."
    assert shared.parts[2].words == "If it is clear, 3 h 00 min of open shutter:"
    many = {line.key: line for line in verdict(season_facts(dense_rigs(9, 7, 11)))}["tonight"]
    assert (len(many.parts), many.more) == (MOST_ITEMS, "3 more rigs below")


def test_page_tells_rigs_steps_and_who_shoots_a_target() -> None:
    told = words(two_rigs())
    assert "Season from 14 Nov to 17 November 2026 with 2 rigs at Heron Flat" in told
    assert "4 nights, 4 targets" in told
    assert re.search(r"north Heron Flat 3 of 4 2 4\.0 h 20 h 2\.5 h =wide Heron Flat 3 of 4 1 1\.2 h", told)
    assert "one more rig like north from 2.3 to 3.1 from 119 h to 160 h" in told
    assert "without the last 7 nights from 2.3 to 1.9 from 119 h to 101 h" in told
    assert "north , in the plan of 3 nights: 14 Nov 2.2 h, 15 Nov 2.2 h, 16 Nov 2.2 h." in told
    assert "=wide , in the plan of 3 nights: 14 Nov 1 h, 15 Nov 1 h, 16 Nov 1 h." in told
    assert "3 nights of 2 rigs can serve it" in told
    assert "by all its rigs together" in told


def test_page_of_one_rig_tells_steps_and_nothing_else_of_rigs() -> None:
    plain, told = season_page(season()), season_page(season(steps=ONE_RIG_STEPS))
    for page in (plain, told):
        for sign in ("data-rigs", "<select", 'class="rig"', 'id="rigs"', "Most with"):
            assert sign not in page[page.index("<body>") :]
    section = told[told.index('<section id="steps">') : told.index("</section>", told.index('id="steps"'))]
    assert "one more rig like this" in section
    assert told.replace(section + "</section>\n", "") == plain


def test_hostile_names_of_rigs_are_text() -> None:
    nasty, plain = (elements(season_page(file)) for file in (hostile_rigs(), two_rigs()))
    assert nasty.found == plain.found
    page = season_page(hostile_rigs())
    assert page.count("<script>") == 1
    assert "\u202e" not in page
    assert "{{ 7 * 7 }}" in " ".join(nasty.words)


def test_rig_without_a_name_gets_its_number() -> None:
    nights = tuple(
        night.model_copy(update={"rig": ""}) if night.rig == WIDE else night for night in two_rigs().nights
    )
    projects = (two_rigs().projects[1].model_copy(update={"rigs": (NORTH, "")}),)
    facts = season_facts(two_rigs(rigs=(rig(NORTH), rig("")), nights=nights, projects=projects))
    assert [each.name for each in facts.rigs] == [NORTH, "rig 2"]
    assert sorted(rig_cells(facts, facts.rigs[1])) == [0]


def test_orders_are_those_of_all_rigs() -> None:
    facts = season_facts(dense_rigs(9, 7, 3))
    one = season_facts(dense(9, 7))
    assert facts.orders["finish"] == one.orders["finish"]
    (row,) = (row for row in facts.rows if row.project.target == target(0))
    (alone,) = (row for row in one.rows if row.project.target == target(0))
    assert row.urgency == pytest.approx(alone.urgency / 3)


def test_gain_of_one_camera_is_not_told_of_a_goal_that_others_share() -> None:
    """Two goals of one filter and exposure are told apart by it all the same."""
    goals = (goal("Ha", 72, 0, 3, gain=100), goal("L", 40, 0, 3, gain=100), goal("L", 40, 0, 3, gain=0))
    file = two_rigs(projects=(project(NAMES[1], rigs=(NORTH, WIDE), goals=goals),))
    (row,) = season_facts(file).rows
    assert [goal_cells(row, each)[1] for each in row.project.goals] == [
        "300 s",
        "300 s, gain 100",
        "300 s, gain 0",
    ]
    (alone,) = season_facts(two_rigs(projects=(project(NAMES[1], rigs=(NORTH,), goals=goals),))).rows
    assert goal_cells(alone, goals[0])[1] == "300 s, gain 100"
