"""Keys by content: equal data have one key in every process, and data that differ in anything have two."""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
import subprocess
import sys
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from optimizer.models.site import Night
from optimizer.reading.load import request_from_data
from optimizer.season.desk import NightRef
from optimizer.season.kept.content_key import content_key
from tests.support.scenarios.small import small_night


@dataclasses.dataclass(frozen=True)
class One:
    first: object
    second: object = dataclasses.field(default=0, compare=False)


@dataclasses.dataclass(frozen=True)
class Other:
    first: object
    second: object = dataclasses.field(default=0, compare=False)


class Colour(Enum):
    RED = 1
    BLUE = 2


EVENING = dt.date(2026, 11, 14)
NOON = dt.datetime(2026, 11, 14, 12, tzinfo=dt.UTC)
ALL_DIFFERENT: tuple[Any, ...] = (
    *(None, True, False, 1, 0, 1.0, 0.0, -0.0, 10**30, float("inf"), float("nan"), 0.1, 0.1 + 2**-56),
    *("1", "", b"1", "a,b", ("a", "b"), ("ab",), ("a", ("b",)), (("a",), "b"), ["a", "b"], (), [], ((),)),
    *({}, {"a": 1}, {"a": 2}, {"b": 1}, {1: "a"}, {"1": "a"}, frozenset({1}), frozenset({1, 2}), frozenset()),
    *(Fraction(1), Fraction(1, 3), Decimal(1), Decimal("1.0"), Colour.RED, Colour.BLUE, int, float),
    *(EVENING, dt.date(2026, 11, 15), NOON, NOON.replace(tzinfo=None), dt.timedelta(1), dt.time(12)),
    *(One(1), One(2), Other(1), One(1, 1), One((1,)), One(None), np.int64(1), np.int32(1), np.float64(1)),
    *(np.zeros(2), np.zeros(2, dtype=np.int64), np.zeros((1, 2)), np.zeros((2, 1)), np.zeros(3), np.ones(2)),
    *(NightRef(0, EVENING), NightRef(1, EVENING), (0, EVENING), content_key, request_from_data, Path("1")),
    *(Night(evening=EVENING), Night(evening=EVENING, ut1_utc_s=0.1)),
)


def test_what_differs_has_another_key() -> None:
    assert len({content_key(value) for value in ALL_DIFFERENT}) == len(ALL_DIFFERENT)
    assert len({content_key((value,)) for value in ALL_DIFFERENT}) == len(ALL_DIFFERENT)


def test_several_values_are_no_tuple_and_keep_their_places() -> None:
    assert len({content_key(*values) for values in [("a", "b"), ("b", "a"), (("a", "b"),), ("ab",), ()]}) == 5


@pytest.mark.parametrize(
    ("one", "same"),
    [
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
        ({"a": 1}, MappingProxyType({"a": 1})),
        (frozenset("abcdef"), set("fedcba")),
        (np.arange(6).reshape(2, 3), np.asfortranarray(np.arange(6).reshape(2, 3))),
        (np.arange(3, dtype=">i8"), np.arange(3, dtype="<i8")),
        (np.arange(10)[::3], np.array([0, 3, 6, 9])),
        (request_from_data(small_night(3), "x"), request_from_data(small_night(3), "y")),
    ],
    ids=lambda each: type(each).__name__,
)
def test_equal_data_have_one_key(one: object, same: object) -> None:
    assert content_key(one) == content_key(same)


@pytest.mark.parametrize(
    "value",
    [
        object(),
        lambda: 0,
        iter(()),
        np.array([None]),
        np.zeros(1, dtype=[("a", int)]),
        {"a": object()},
    ],
    ids=lambda each: type(each).__name__,
)
def test_what_has_no_key_is_refused(value: object) -> None:
    with pytest.raises(TypeError, match="no key"):
        content_key(value)


def test_every_key_of_a_request_counts() -> None:
    request = request_from_data(small_night(3), "x")
    for name in ("night", "site", "mount", "camera", "focus", "aim", "targets", "filters"):
        part = getattr(request, name)
        part = part[:-1] if isinstance(part, tuple) else part.model_copy(update={_some_key(part): "changed"})
        assert content_key(request.model_copy(update={name: part})) != content_key(request)


def _some_key(part: BaseModel) -> str:
    return max(type(part).model_fields)


def test_another_process_finds_the_same_key() -> None:
    """Python's `hash` of text, and with it the order of a set, differs from process to process."""
    text = (
        "from optimizer.season.kept.content_key import content_key;"
        "print(content_key(frozenset('abcdef'), {'a': 1, 'b': 2}, 0.1, 'ä').hex())"
    )
    here = content_key(frozenset("abcdef"), {"b": 2, "a": 1}, 0.1, "ä").hex()
    for seed in ("1", "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        found = subprocess.run(
            [sys.executable, "-c", text], env=environment, capture_output=True, text=True, check=True
        )
        assert found.stdout.strip() == here
