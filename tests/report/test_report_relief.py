"""What is shown of one step of relief: each change once, nothing claimed that is not so."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.models.shots import Relief, ShotList, Unplanned
from optimizer.report.plan_view import plan_view
from optimizer.report.relief_facts import NOTES
from tests.support.report_cases import planned, text

FLOOR = Relief(
    change="floor 28° instead of 30°",
    of="A",
    key="floor_deg",
    old=30.0,
    new=28.0,
    target_open_s=1320.0,
    open_s=1200.0,
    value_s=30.0,
    certain=False,
)
DUSK = FLOOR.model_copy(
    update={
        "change": "darkness of L nautical instead of astronomical",
        "of": "L",
        "key": "darkness",
        "value_s": 4000.0,
        "certain": True,
    }
)
WEIGHT = FLOOR.model_copy(
    update={
        "change": "weight 1.5 instead of 1",
        "key": "weight",
        "target_open_s": 7500.0,
        "open_s": 0.0,
        "value_s": -90.0,
    }
)


def entry(target: str, *relief: Relief, filter_name: str = "L") -> Unplanned:
    return Unplanned(
        target=target,
        filter=filter_name,
        exposure_s=300.0,
        frames=9,
        reason="night_full",
        sentence="the hours went elsewhere",
        relief=relief,
    )


def part_of(*entries: Unplanned) -> list[str]:
    """The lines from the heading on, none where there is no such part."""
    shots: ShotList = planned().model_copy(update={"unplanned": entries})
    lines = text(plan_view(shots)).splitlines()
    assert all(len(line) <= 110 for line in lines)
    at = [
        number for number, line in enumerate(lines) if line.startswith("What one easier setting would give")
    ]
    return lines[at[0] :] if at else []


def row(lines: list[str], begin: str) -> list[str]:
    """Cells of the line that begins so."""
    (line,) = [line for line in lines if line.startswith(begin)]
    return [cell.strip() for cell in line.split("  ") if cell.strip()]


def test_nothing_is_shown_where_nobody_asked() -> None:
    assert part_of(entry("A").model_copy(update={"relief": None})) == []


def test_steps_come_best_first_with_gains_and_losses() -> None:
    lines = part_of(entry("A", FLOOR, WEIGHT), entry("B", DUSK))
    begins = [line.split("  ")[0] for line in lines]
    order = [begins.index(step.change) for step in (DUSK, FLOOR, WEIGHT)]
    assert order == sorted(order)
    assert row(lines, "floor") == ["floor 28° instead of 30°", "A", "+22 min", "+20 min", "+30 s", "found"]
    assert row(lines, "darkness")[-2:] == ["+1 h 07 min", "certain"]
    assert row(lines, "weight")[2:] == ["+2 h 05 min", "0 s", "−2 min", "moved"]


def test_change_of_a_filter_is_told_once_with_all_its_targets() -> None:
    lines = part_of(entry("A", DUSK), entry("B", DUSK), entry("B", DUSK, filter_name="R"))
    assert sum(line.startswith(DUSK.change) for line in lines) == 1
    shown = [line for line in lines if "+22 min" in line]
    assert [line.split("+")[0].split()[-1] for line in shown] == ["A", "B"]
    assert sum("certain" in line for line in shown) == 1


def test_equal_changes_of_two_targets_are_two() -> None:
    lines = part_of(entry("A", FLOOR), entry("B", FLOOR.model_copy(update={"of": "B"})))
    assert sum(line.startswith(FLOOR.change) for line in lines) == 2


def test_step_of_another_target_names_it() -> None:
    assert row(part_of(entry("B", FLOOR)), "floor")[0] == "floor 28° instead of 30° (A)"


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        ((FLOOR,), {"found"}),
        ((DUSK,), {"certain", "darkness"}),
        ((WEIGHT, FLOOR), {"moved", "found"}),
        ((), set()),
    ],
)
def test_only_words_that_occur_are_explained(steps: tuple[Relief, ...], told: set[str]) -> None:
    lines = part_of(entry("A", *steps))
    assert {word for word, note in NOTES.items() if note in lines} == told


def test_goals_without_help_and_goals_not_asked_are_told_apart() -> None:
    unasked: dict[str, Any] = {"relief": None}
    lines = part_of(
        entry("A"), entry("A", filter_name="R"), entry("B", FLOOR), entry("C").model_copy(update=unasked)
    )
    assert "No single easier setting was found to help: A L, R." in lines
    assert "Not asked for: C L." in lines


def test_names_cannot_drive_the_terminal() -> None:
    lines = part_of(entry("A\x1b[2J", FLOOR.model_copy(update={"change": "floor\x1b[2J"})), entry("B\x1b[2J"))
    assert lines
    assert "\x1b" not in "".join(lines)
