"""What a request asks of its season: which nights, and how likely each is clear."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from optimizer.models.base import FromList, Frozen

MOST_NIGHTS = 400
Odds = Annotated[float, Field(ge=0, le=1)]
Evening = Annotated[dt.date, BeforeValidator(lambda value: _date(value))]


def _date(value: Any) -> Any:
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value)
        except ValueError as error:
            raise ValueError(f"{error}; write it like 2026-11-14") from error
    return value


class SeasonAsked(Frozen):
    """The nights of a season and their odds of clear sky."""

    first: Evening | None = Field(
        default=None, description="civil date of the first evening; omit: that of the night"
    )
    nights: Annotated[int, Field(ge=1, le=MOST_NIGHTS)] = Field(
        default=90, description="how many nights, the first one included"
    )
    clear_odds: Odds | Annotated[tuple[Odds, ...], FromList, Field(min_length=12, max_length=12)] = Field(
        default=0.5,
        description="share of the nights that are clear, 0 to 1: one number, or one a month from January on",
    )
    clear_odds_by_evening: Annotated[tuple[tuple[Evening, Odds], ...], FromList] = Field(
        default=(), description="evening, share: other odds for single nights; or `clear_odds_file`"
    )
    persistence: Annotated[float, Field(ge=0, lt=1)] = Field(
        default=0.0,
        description="how much a night's clear sky is like that of the night before:"
        " the correlation of the two, 0 to 1",
    )
    discount_per_night: Annotated[float, Field(ge=0, le=0.1)] = Field(
        default=0.003, description="how much less each later night counts, as a share"
    )
