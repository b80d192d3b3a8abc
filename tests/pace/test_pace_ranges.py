"""Numbers of steps as ranges, and read again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.pace.ranges import ranges_of
from optimizer.reading.done_file import done_ranges


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ([], ""),
        ([7], "7"),
        ([1, 2], "1-2"),
        ([3, 1, 2, 2], "1-3"),
        ([*range(1, 151), *range(153, 189)], "1-150,153-188"),
        ([1, 3, 5, 6], "1,3,5-6"),
    ],
)
def test_ranges_are_as_few_as_can_be(numbers: list[int], text: str) -> None:
    assert ranges_of(numbers) == text


@given(st.sets(st.integers(1, 400), min_size=1))
def test_ranges_are_read_as_they_were_written(numbers: set[int]) -> None:
    parts = done_ranges(ranges_of(numbers))
    assert {number for low, high in parts for number in range(low, high + 1)} == numbers
