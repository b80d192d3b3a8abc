"""A night in view of its season, in words whose figures agree with each other."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from optimizer.models.season_tonight import InSeason
from optimizer.report.in_season_facts import season_words


def of_season(without_s: float, with_s: float, nights_after: int = 3) -> InSeason:
    return InSeason(
        season_sha256="0" * 64,
        season_created_utc=dt.datetime(2026, 11, 14, tzinfo=dt.UTC),
        policy="scarce hours",
        balance=0.3,
        nights_after=nights_after,
        last_evening="2026-12-01",
        with_s=with_s,
        without_s=without_s,
        goals=(),
    )


@pytest.mark.parametrize("without_s", [0.0, 49_319.0, 49_679.0, 50_030.0])
@pytest.mark.parametrize("with_s", [80_279.0, 80_000.0, 79_921.0])
def test_what_tonight_adds_and_what_there_is_come_to_what_there_will_be(
    without_s: float, with_s: float
) -> None:
    words = season_words(of_season(without_s, with_s))
    assert words is not None
    added, without, total = (round(10 * float(hours)) for hours in re.findall(r"(\d+\.\d) h", words))
    assert without + added == total
    assert added == (with_s - without_s) // 360  # no more than it adds
    assert total == with_s // 360
    assert abs(360 * without - without_s) < 360


def test_last_night_of_a_season_adds_to_nothing() -> None:
    assert season_words(of_season(0.0, 36_000.0, 0)) == "this is its last night: tonight adds 10.0 h of value"
