"""Scarce hours for people: what counts most comes first, and nothing is said that is not so."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from typing import Any

import pytest

from optimizer.models.shots import GoalValue, NightFacts, ShotList
from optimizer.night import Night
from optimizer.report.picture.page import page_text
from optimizer.report.picture.shown import shown_list
from optimizer.report.plan_view import plan_view
from optimizer.report.scarce_facts import MOST_ROWS, ScarceFacts, scarce_facts
from tests.support.ahead_cases import realistic
from tests.support.report_cases import joined, planned, text


@cache
def night() -> ShotList:
    return Night(realistic(value="depth", time_limit_s=0.5)).plan()


def facts(shots: ShotList) -> ScarceFacts | None:
    return scarce_facts(shots.request, shots.night, shots.steps, shots.values, carried=shots.values_carried)


def told(shots: ShotList) -> ScarceFacts:
    found = facts(shots)
    assert found is not None
    return found


def with_values(shots: ShotList, **by_filter: tuple[float, float]) -> ShotList:
    """The list with other hours and factors, by filter; those not named have 100 h and count once."""
    rows = []
    for row in shots.values:
        hours, factor = by_filter.get(row.filter, (100.0, 1.0))
        rows.append(row.model_copy(update={"hours_ahead": hours, "factor": factor}))
    return shots.model_copy(update={"values": tuple(rows)})


def test_goals_of_the_same_hours_share_a_row_and_what_counts_most_is_first() -> None:
    found = told(night())
    assert [(row.target, row.filters) for row in found.rows] == [
        ("Early cluster", "L, B"),
        ("Elephant", "L"),
        ("Whirl", "L, R, G, B"),
        ("Elephant", "Ha, OIII"),
        ("Heart", "Ha, OIII"),
    ]
    counts = [float(row.counts.split()[0]) for row in found.rows]
    assert counts == sorted(counts, reverse=True)
    by_goal = {(row.target, row.filter): row for row in night().values}
    first = by_goal["Early cluster", "L"]
    assert (found.rows[0].hours, found.rows[0].counts) == (
        f"{first.hours_ahead:.0f} h",
        f"{first.factor:.2f} ×",
    )


def test_terminal_tells_the_table_and_its_sentences() -> None:
    view = text(plan_view(night()))
    lines = view.splitlines()
    assert all(len(line) <= 110 for line in lines)
    at = lines.index("Scarce hours, next 28 nights")
    assert lines.index("Progress") < at
    found = told(night())
    assert re.search(
        rf"^Early cluster +L, B +{found.rows[0].hours} +{found.rows[0].counts}$", view, re.MULTILINE
    )
    for note in found.notes:
        assert note in joined(plan_view(night()))
    assert (
        f"Early cluster could be shot through L, B for {found.rows[0].hours} in the 28 nights from 2026-10-20 "
        f"on, Heart through Ha, OIII for {found.rows[-1].hours}: the fewer hours, the more a sub counts tonight."
    ) in found.notes[0]


def test_page_tells_the_same() -> None:
    page = page_text(shown_list(night()))
    found = told(night())
    assert f"<h2>{found.heading}</h2>" in page
    for row in found.rows:
        assert f"<bdi>{row.target}</bdi>: <bdi>{row.filters}</bdi><td>{row.hours}<td>{row.counts}" in page
    for note in found.notes:
        assert note in page


def test_nothing_is_told_where_all_count_alike() -> None:
    assert planned().values == ()
    assert facts(planned()) is None
    assert "Scarce" not in text(plan_view(planned()))
    assert "Scarce" not in page_text(shown_list(planned()))
    assert facts(with_values(night())) is None


def test_complete_goals_are_not_told() -> None:
    targets = night().request.targets
    goals = tuple(goal.model_copy(update={"done": goal.frames}) for goal in targets[1].goals)
    request = night().request.model_copy(
        update={"targets": (targets[0], targets[1].model_copy(update={"goals": goals}), *targets[2:])}
    )
    found = told(night().model_copy(update={"request": request}))
    assert "Early cluster" not in {row.target for row in found.rows}
    assert "Early cluster" not in " ".join(found.notes)


def test_hours_are_as_precise_as_they_matter_and_none_is_explained() -> None:
    found = told(with_values(night(), L=(4.17, 2.5), Ha=(0.0, 1.0), OIII=(400.0, 0.5)))
    assert {row.filters: row.hours for row in found.rows} == {
        "L": "4.2 h",
        "R, G, B": "100 h",
        "B": "100 h",
        "Ha": "0 h",
        "OIII": "400 h",
    }
    assert "What has no such hours counts as it is." in found.notes
    assert "0 h in" not in found.notes[0].replace("100 h in", "")
    assert "What has no such hours counts as it is." not in told(night()).notes


def test_values_of_another_night_are_told_as_such() -> None:
    carried = night().model_copy(update={"values_carried": True})
    assert told(carried).notes[0].startswith("Kept from the plan before this one: were the sky")
    assert told(night()).notes[0].startswith("Were the sky always clear")


def test_one_row_is_not_set_beside_itself() -> None:
    """A night asked of another one, of whose goals one is left, still counts it by that night's median."""
    shots = night()
    target = shots.request.targets[0]
    alone = target.model_copy(update={"goals": target.goals[:1]})
    values = (shots.values[0].model_copy(update={"hours_ahead": 52.0, "factor": 1.5}),)
    found = told(
        shots.model_copy(
            update={
                "request": shots.request.model_copy(update={"targets": (alone,)}),
                "values": values,
                "values_carried": True,
            }
        )
    )
    assert len(found.rows) == 1
    assert found.notes[0] == (
        "Kept from the plan before this one: were the sky always clear, "
        f"{target.name} could be shot through {target.goals[0].filter} for 52 h in the 28 nights from "
        "2026-10-20 on: the fewer hours, the more a sub counts tonight."
    )


def test_of_very_many_rows_both_ends_are_shown() -> None:
    target = night().request.targets[2]
    targets = tuple(target.model_copy(update={"name": f"T{number}"}) for number in range(20))
    request = night().request.model_copy(update={"targets": targets})
    values = tuple(
        GoalValue(
            target=each.name,
            filter=goal.filter,
            exposure_s=goal.exposure_s,
            gain=None,
            offset=None,
            binning=1,
            hours_ahead=100.0 + number,
            factor=round(2.0 - number / 20, 3),
        )
        for number, each in enumerate(targets)
        for goal in each.goals
    )
    shots = night().model_copy(update={"request": request, "values": values})
    found = told(shots)
    names = [row.target for row in found.rows]
    assert len(names) == MOST_ROWS
    assert (names[:6], names[6:]) == ([f"T{n}" for n in range(6)], [f"T{n}" for n in range(14, 20)])
    assert (found.at, found.between) == (6, "8 more between")
    assert re.search(r"^8 more between$", text(plan_view(shots)), re.MULTILINE)


# --- the Moon ----------------------------------------------------------------------------------------------


def by_moon(rises: str | None, sets: str | None) -> list[str]:
    """The sentence on the Moon, were its edges at these times of the night."""
    first = next(step for step in night().steps if step.kind == "expose").start_utc

    def at(clock: str | None) -> dt.datetime | None:
        if clock is None:
            return None
        instant = first.replace(hour=int(clock[:2]), minute=int(clock[3:]), second=0)
        return instant if instant.hour >= 12 else instant + dt.timedelta(days=1)

    changes: dict[str, Any] = {"moonrise_utc": at(rises), "moonset_utc": at(sets)}
    facts: NightFacts = night().night.model_copy(update=changes)
    found = told(night().model_copy(update={"night": facts}))
    return [note for note in found.notes if note.startswith("Open shutter tonight")]


def seconds(sentence: str) -> tuple[int, int]:
    """Minutes of open shutter that the sentence names with the Moon down, and with it up."""
    parts = sentence.split("; with the Moon up: ")
    minutes = [
        sum(60 * int(h or 0) + int(m) for h, m in re.findall(r"(?:(\d+) h )?(\d+) min", part))
        for part in parts
    ]
    return minutes[0], minutes[1]


def open_min(after: str | None = None, before: str | None = None) -> float:
    """Minutes of open shutter between times of the night."""

    def minutes(clock: str) -> int:
        hour = int(clock[:2])
        return 60 * (hour if hour >= 12 else hour + 24) + int(clock[3:])

    total = 0.0
    for step in night().steps:
        if step.kind == "expose" and step.exposure_s:
            begins = minutes(step.start_utc.strftime("%H:%M")) + step.start_utc.second / 60
            ends = begins + step.exposure_s / 60
            low = max(begins, minutes(after) if after else begins)
            total += max(0.0, min(ends, minutes(before) if before else ends) - low)
    return total


@pytest.mark.parametrize(
    ("rises", "sets", "down"),
    [
        ("14:09", "00:11", [("00:11", None)]),
        (None, "00:11", [("00:11", None)]),
        ("22:00", None, [(None, "22:00")]),
        ("22:00", "02:00", [(None, "22:00"), ("02:00", None)]),
        ("02:00", "22:00", [("22:00", "02:00")]),
    ],
)
def test_open_shutter_is_parted_at_the_edges_of_the_moon(
    rises: str | None, sets: str | None, down: list[tuple[str | None, str | None]]
) -> None:
    (sentence,) = by_moon(rises, sets)
    found = seconds(sentence)
    expected = sum(open_min(after, before) for after, before in down)
    assert found[0] == pytest.approx(expected, abs=4)  # each filter is rounded by itself
    assert found[1] == pytest.approx(open_min() - expected, abs=4)


def test_nothing_is_said_of_a_moon_that_is_up_or_down_all_the_while() -> None:
    assert by_moon(None, None) == []
    assert by_moon("14:09", "15:00") == []
    assert by_moon(None, "15:00") == []
