"""What to do about a name that nothing has."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from optimizer.words import listing, quoted


def remedy_for(name: str, known: Sequence[str], add: str) -> str:
    """The known name that was probably meant; else all of them, and what to `add` for the one that was not.

    A name is never meant by one that is very unlike it; case and blanks around make no difference.
    """
    folded = {other.strip().casefold(): other for other in known}
    near = difflib.get_close_matches(name.strip().casefold(), list(folded), 1, 0.6)
    if near:
        return f"did you mean {quoted(folded[near[0]])}?"
    return f"use {listing(map(quoted, known))}, or {add}" if known else add
