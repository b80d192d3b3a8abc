"""What a request's tally adds to `done` as the request is loaded."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer import load
from optimizer.models.request import Request
from tests.support.tally_cases import write_request

HEADER = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"


def loaded(folder: Path, text: str | None, *swaps: tuple[str, str]) -> tuple[list[int], list[str]]:
    """`done` of both goals, and the warnings without the folder."""
    path = write_request(folder, *swaps)
    if text is not None:
        (folder / "in-hand.csv").write_text(HEADER + text)
    found = load(path)
    done = [goal.done for _, goal in found.request.goals()]
    return done, [warning.replace(f"{folder}/", "") for warning in found.warnings]


def test_a_tally_that_is_not_there_yet_counts_nothing(tmp_path: Path) -> None:
    assert loaded(tmp_path, None) == ([0, 0], [])


def test_counts_are_added_to_done_and_both_numbers_are_told(tmp_path: Path) -> None:
    done, warnings = loaded(
        tmp_path, "Cradle,L,300,,,1,2026-11-13,4,1,x\n", ("frames = 8", "frames = 8\ndone = 2")
    )
    assert done == [5, 0]
    assert warnings == [
        'request.toml:35: targets[0].goals[0].done = 2 (1st goal of target "Cradle"): "in-hand.csv" counts 3 subs '
        "of this goal too: 5 are taken to be in hand; leave in done only what the tally does not count"
    ]


def test_rows_of_no_goal_are_told_once_for_each_reason(tmp_path: Path) -> None:
    text = (
        "Old,L,300,,,1,2026-11-12,4,1,x\nOld,L,300,,,1,2026-11-13,4,1,x\nCradle,L,300,,,1,2026-11-13,1,,x\n"
    )
    assert loaded(tmp_path, text) == (
        [1, 0],
        [
            'in-hand.csv:2: this row counts for no goal of the request: "Old" is no name or alias of a target (and '
            "so for 1 more); mend it, or leave it if it is another request's"
        ],
    )


def test_a_complete_goal_is_told(tmp_path: Path) -> None:
    done, warnings = loaded(
        tmp_path, "Cradle,L,300,,,1,2026-11-13,9,1,x\nCradle,Ha,1200,,,1,2026-11-13,3,,x\n"
    )
    assert done == [8, 6]
    assert [warning.partition(": all ")[2] for warning in warnings] == [
        "8 subs of this goal are in hand; it gets no time; raise frames to take more",
        "6 subs of this goal are in hand; it gets no time; raise hours to take more",
    ]


def test_what_is_loaded_reads_back_equal(tmp_path: Path) -> None:
    """A list keeps the counts that it began with, whatever the tally says later."""
    (tmp_path / "in-hand.csv").write_text(HEADER + "Cradle,Ha,1200,,,1,2026-11-13,2,,x\n")
    request = load(write_request(tmp_path)).request
    assert Request.model_validate_json(request.model_dump_json(by_alias=True)) == request
    assert request.targets[0].goals[1].done == 4


def test_a_rig_without_targets_needs_no_tally(tmp_path: Path) -> None:
    path = write_request(tmp_path)
    text = path.read_text()
    begin, end = text.index("[[targets]]"), text.index("[aim]")
    path.write_text(text[:begin] + text[end:])
    (tmp_path / "in-hand.csv").write_text(HEADER + "Cradle,Ha,1200,,,1,2026-11-13,2,,x\n")
    assert load(path, targets_needed=False).warnings == ()


def test_a_tally_may_lie_outside_where_that_is_allowed(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    path = write_request(tmp_path / "in", ('"in-hand.csv"', '"../in-hand.csv"'))
    (tmp_path / "in-hand.csv").write_text(HEADER + "Cradle,L,300,,,1,2026-11-13,4,1,x\n")
    assert load(path, include_outside=True).request.targets[0].goals[0].done == 3


@pytest.mark.parametrize("name", ["counts/in-hand.csv", "In Hand.CSV"])
def test_a_tally_is_found_beside_the_request(tmp_path: Path, name: str) -> None:
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text(HEADER + "Cradle,L,300,,,1,,1,,\n")
    assert load(write_request(tmp_path, ("in-hand.csv", name))).request.targets[0].goals[0].done == 1
