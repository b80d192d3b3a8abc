"""What a request asks of its season: which nights, and how likely each is clear."""

from __future__ import annotations

import datetime as dt
import math
import re
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, field_validator

from optimizer.models.base import FromList, Frozen, KeyedError
from optimizer.models.site import LAST_YEAR, Evening, year_within_tables
from optimizer.words import number

MOST_NIGHTS = 400
SHARE = "give a share from 0 to 1, like 0.6"
_MONTHLY = f"{SHARE}, or twelve of them in brackets, from January on"
_PER_CENT = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*(?:%|per ?cent)\s*")
_NUMBER = re.compile(r"\s*[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)\s*")


def share_problem(given: Any) -> tuple[str, str] | None:
    """Say what is wrong with odds that should be a share from 0 to 1, and the remedy; None where they are.

    They are a number, or text as it stands where a number is wanted.
    """
    if isinstance(given, str):
        if per_cent := _PER_CENT.fullmatch(given):
            return "this is per cent, not a share", _share_of(float(per_cent[1].replace(",", ".")), given)
        if _NUMBER.fullmatch(given):
            return "this is text, not a number", f"drop the quotes: {given.strip()}"
        return "this is text, not a share", SHARE
    if isinstance(given, bool) or not isinstance(given, int | float):
        if isinstance(given, dict):
            return "this is a table, not a number", SHARE
        told = "null" if given is None else str(given).lower() if isinstance(given, bool) else "this"
        return f"{told} is not a number", SHARE
    if isinstance(given, float) and not math.isfinite(given):
        return "this is not a finite number", SHARE
    if given > 1:
        return "too large", _share_of(given)
    return ("too small", SHARE) if given < 0 else None


def _share_of(per_cent: float, text: str = "") -> str:
    """The remedy where per cent stand for a share."""
    if not 1 < per_cent <= 100 and not (text and per_cent <= 100):
        return SHARE
    return f"give a share from 0 to 1: {number(per_cent)} % is {number(float(f'{per_cent / 100:.6g}'))}"


def _share(value: Any) -> Any:
    if (problem := share_problem(value)) is not None:
        raise ValueError("; ".join(problem))
    return value


def _shares(value: Any) -> Any:
    """Odds of all nights, or of each month; what is neither is refused in words of its own."""
    if not isinstance(value, list | tuple):
        problem = share_problem(value)
        if problem is None:
            return value
        what, remedy = problem
        if isinstance(value, str) and re.search(r"\.(csv|txt|tsv)\s*$", value, re.IGNORECASE):
            remedy = f'for the name of a file write clear_odds_file = "{value.strip()}"'
        raise ValueError(f"{what}; {_MONTHLY if remedy == SHARE else remedy}")
    if len(value) != 12:
        what = "there is one item" if len(value) == 1 else f"there are {len(value)} items"
        remedy = "give one for each month from January on, or one number"
        raise ValueError(f"{what} where twelve are wanted; {remedy}")
    for month, each in enumerate(value):
        if (problem := share_problem(each)) is not None:
            raise KeyedError(("clear_odds", month), "; ".join(problem))
    return tuple(value)


Odds = Annotated[float, Field(ge=0, le=1)]
EveningOdds = Annotated[tuple[Evening, Annotated[Odds, BeforeValidator(_share)]], FromList]


class SeasonAsked(Frozen):
    """The nights of a season and their odds of clear sky."""

    first: Evening | None = Field(
        default=None, description="civil date of the first evening; omit: that of the night"
    )
    nights: Annotated[int, Field(ge=1, le=MOST_NIGHTS)] = Field(
        default=90, description="how many nights, the first one included"
    )
    clear_odds: Annotated[
        Odds | Annotated[tuple[Odds, ...], Field(min_length=12, max_length=12)], BeforeValidator(_shares)
    ] = Field(
        default=0.5,
        description="share of the nights that are clear, 0 to 1: one number, or one a month from January on",
    )
    clear_odds_by_evening: Annotated[tuple[EveningOdds, ...], FromList] = Field(
        default=(), description="evening, share: other odds for single nights; or `clear_odds_file`"
    )
    persistence: Annotated[float, Field(ge=0, lt=1)] = Field(
        default=0.0,
        description="how much a night's clear sky is like that of the night before:"
        " the correlation of the two",
    )
    discount_per_night: Annotated[float, Field(ge=0, le=0.1)] = Field(
        default=0.003, description="how much less each later night counts for what frames are worth tonight"
    )

    @field_validator("first")
    @classmethod
    def _year_within_tables(cls, value: dt.date | None) -> dt.date | None:
        return None if value is None else year_within_tables(value)

    @field_validator("clear_odds_by_evening")
    @classmethod
    def _evenings_differ(cls, value: tuple[tuple[dt.date, float], ...]) -> tuple[tuple[dt.date, float], ...]:
        seen: set[dt.date] = set()
        for index, (evening, _) in enumerate(value):
            if evening in seen:
                raise KeyedError(
                    ("clear_odds_by_evening", index, 0),
                    "this evening has its odds already; keep one of the two",
                )
            seen.add(evening)
        return value

    def evenings(self, evening: dt.date) -> tuple[dt.date, ...]:
        """The evenings of the season in their order, from `first` on, else from a night's own evening."""
        first = evening if self.first is None else self.first
        return tuple(first + dt.timedelta(days=number) for number in range(self.nights))

    def odds(self, evenings: tuple[dt.date, ...]) -> tuple[float, ...]:
        """The odds of clear sky of each evening, as shares from 0 to 1."""
        given = dict(self.clear_odds_by_evening)
        monthly = self.clear_odds if isinstance(self.clear_odds, tuple) else (self.clear_odds,) * 12
        return tuple(given.get(each, monthly[each.month - 1]) for each in evenings)

    def beyond_tables(self, evening: dt.date) -> tuple[str, str] | None:
        """Say that the last of the evenings is later than the sky is known, and the remedy; None: it is not.

        `evening` is the night's own, as for `evenings`.
        """
        first = self.evenings(evening)[0]
        within = (dt.date(LAST_YEAR, 12, 31) - first).days + 1
        if self.nights <= within:
            return None
        last = first + dt.timedelta(days=self.nights - 1)
        return (
            f"the last of the {self.nights} nights from {first} on is that of {last}, and the sky is known "
            f"to the end of {LAST_YEAR}",
            f"give {within} at most",
        )
