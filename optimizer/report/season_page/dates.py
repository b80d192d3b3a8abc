"""Evenings as the season's page writes them."""

from __future__ import annotations

import datetime as dt
from typing import Final

from optimizer.words import MONTHS

WEEKDAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def short_date(evening: dt.date) -> str:
    """Day and month: `3 Feb`."""
    return f"{evening.day} {MONTHS[evening.month - 1][:3]}"


def long_date(evening: dt.date) -> str:
    """Weekday, day, month and year: `Thu 3 February 2028`."""
    return f"{WEEKDAYS[evening.weekday()]} {evening.day} {month_words(evening)}"


def month_words(evening: dt.date) -> str:
    """Month and year: `February 2028`."""
    return f"{MONTHS[evening.month - 1]} {evening.year}"
