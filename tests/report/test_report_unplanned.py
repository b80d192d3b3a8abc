"""What was left out as a table: whole at any width, each reason once, what all rows share below it."""

from __future__ import annotations

import io

import pytest
from rich.console import Console, Group

from optimizer.models.shots import Unplanned
from optimizer.report.picture.progress import left_out
from optimizer.report.unplanned_view import unplanned_parts
from optimizer.report.words import TIE
from optimizer.timeline.unplanned import ADVICE

FILTERS = ("L", "R", "G", "B", "Ha", "OIII", "SII")
WHY = "the plan has no place for it beside the other goals"
CHANGE = "alone tonight at least 31 of 48 subs still wanted would fit together"


def entry(target: str, filter_name: str, sentence: str = f"{WHY}; {CHANGE}. {ADVICE}") -> Unplanned:
    return Unplanned(
        target=target, filter=filter_name, exposure_s=300.0, frames=33, reason="night_full", sentence=sentence
    )


NINE = [entry(f"Target {number}", name) for number in range(1, 10) for name in FILTERS]


def lines(entries: list[Unplanned], width: int) -> list[str]:
    out = io.StringIO()
    Console(file=out, width=width, highlight=False).print(Group(*unplanned_parts(entries)))
    return [line.rstrip().replace(TIE, " ") for line in out.getvalue().splitlines()]


@pytest.mark.parametrize("width", [60, 80, 110])
def test_nine_targets_and_seven_filters_are_nine_rows(width: int) -> None:
    shown = lines(NINE, width)
    assert max(len(line) for line in shown) <= width
    words = " ".join(" ".join(shown).split())
    assert words.count(ADVICE) == 1
    for number in range(1, 10):
        assert words.count(f"Target {number} ") == 1
    for name in FILTERS:  # a filter and its frames are never parted
        assert sum(f"{name} 33×300s" in line for line in shown) == 9


def test_wide_table_has_a_column_for_the_reason_and_one_for_the_remedy() -> None:
    shown = lines([entry("Cradle", "L", "why it is so; what would help")], 110)
    assert shown[0].split("  ")[0] == "target"
    (row,) = [line for line in shown if line.startswith("Cradle")]
    assert "why it is so  " in row
    assert row.endswith("what would help")


def test_goals_with_one_reason_share_a_row_and_others_do_not() -> None:
    entries = [
        entry("Cradle", "L", "one; x"),
        entry("Cradle", "Ha", "one; x"),
        entry("Cradle", "R", "two; y"),
    ]
    shown = lines(entries, 110)
    (first,) = [line for line in shown if "one" in line]
    (second,) = [line for line in shown if "two" in line]
    assert "L 33×300s, Ha 33×300s" in first
    assert "R 33×300s" in second
    assert not second.startswith("Cradle")  # named once


def test_sentence_without_a_remedy_is_shown_whole() -> None:
    """As a list written by another hand may have it."""
    for width in (60, 110):
        assert "no reason given" in " ".join(lines([entry("Cradle", "L", "no reason given")], width))


def test_advice_that_not_all_rows_share_says_where_it_holds() -> None:
    closed = entry(
        "Heart", "OIII", "the Moon is up and within 40.4° all the while; another night would open it"
    )
    alike = " ".join(" ".join(lines(NINE, 110)).split())
    mixed = " ".join(" ".join(lines([closed, *NINE], 110)).split())
    assert alike.endswith(f"{ADVICE}.")
    assert mixed.endswith(f"{ADVICE} (where there is no place for it).")
    assert left_out(NINE)[1] == [ADVICE]
    assert left_out([closed, *NINE])[1] == [f"{ADVICE} (where there is no place for it)"]
