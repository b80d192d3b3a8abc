"""What cells that a person filled hold: numbers with a point or a comma, whole numbers, words of a choice."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from typing import TypeVar

from optimizer.words import listing, quoted

_NUMBER = re.compile(r"[+\-\u2212]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]{1,4})?")
_WHOLE = re.compile(r"[0-9]{1,18}")
_Word = TypeVar("_Word", bound=str)


def number_in(text: str) -> float | None:
    """The number that a cell holds, decimals after a point or a comma; None where it holds none."""
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text.replace(",", ".").replace("\u2212", "-"))
    return value if math.isfinite(value) else None


def whole_in(text: str) -> int | None:
    """The whole number, not negative, that a cell holds in digits alone; None where it holds none."""
    return int(text) if _WHOLE.fullmatch(text) else None


def word_in(text: str, words: Sequence[_Word]) -> _Word | None:
    """The word of a choice that a cell holds, in whatever case; None where it holds none of them."""
    return next((word for word in words if word == text.casefold()), None)


def words_remedy(text: str, words: Sequence[str]) -> str:
    """What to write where a cell holds none of some words."""
    near = difflib.get_close_matches(text.casefold(), list(words), 1, 0.6)
    choice = listing((quoted(word) for word in words), "or")
    return f"did you mean {quoted(near[0])}? To choose from: {choice}" if near else f"give {choice}"
