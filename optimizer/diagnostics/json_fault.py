"""Where a JSON text goes wrong first, and in which way: found by our own look at the text.

The words of the parser's error change from one version of Python to the next, and so does, after a comma too
many, the place that it names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

JsonCause = Literal[
    "no key",
    "no colon",
    "no value",
    "no comma",
    "more after the end",
    "text not closed",
    "line break",
    "escape",
]

_BLANK = re.compile(r"[ \t\r\n]*")
_SCALAR = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?|true|false|null|NaN|-?Infinity")
_TEXT = re.compile(r'"(?:\\u[0-9A-Fa-f]{4}|\\["\\/bfnrt]|[^"\\\x00-\x1f])*')


@dataclass(frozen=True)
class JsonFault:
    """The first fault of a text: its cause, and the index of the character at which it shows."""

    cause: JsonCause
    position: int


class _FoundError(Exception):
    def __init__(self, cause: JsonCause, position: int) -> None:
        self.fault = JsonFault(cause, position)


def json_fault(text: str) -> JsonFault | None:
    """Find the first fault of a text that `json` refused; None where this look finds none."""
    try:
        end = _past_blanks(text, _value(text, _past_blanks(text, 0)))
    except _FoundError as found:
        return found.fault
    return JsonFault("more after the end", end) if end < len(text) else None


def _past_blanks(text: str, here: int) -> int:
    match = _BLANK.match(text, here)
    return match.end() if match else here


def _value(text: str, here: int) -> int:
    """The index behind a value; what it stands in is kept on a stack of its own, however deep that is."""
    around: list[str] = []
    while True:
        opening = text[here : here + 1]
        if opening in ("{", "["):
            around.append("}" if opening == "{" else "]")
            here = _past_blanks(text, here + 1)
            if not text.startswith(around[-1], here):
                here = _key(text, here) if opening == "{" else here
                continue
        elif opening == '"':
            here = _text(text, here)
        elif (match := _SCALAR.match(text, here)) is not None:
            here = match.end()
        else:
            raise _FoundError("no value", here)
        here = _following(text, here, around)
        if not around:
            return here


def _following(text: str, here: int, around: list[str]) -> int:
    """Close what ends behind a value; the index of the next value, or behind the outermost one."""
    while around:
        here = _past_blanks(text, here)
        if text.startswith(around[-1], here):
            around.pop()
            here += 1
        elif text.startswith(",", here):
            here = _past_blanks(text, here + 1)
            return _key(text, here) if around[-1] == "}" else here
        else:
            raise _FoundError("no comma", here)
    return here


def _key(text: str, here: int) -> int:
    """The index of the value behind a key."""
    if not text.startswith('"', here):
        raise _FoundError("no key", here)
    here = _past_blanks(text, _text(text, here))
    if not text.startswith(":", here):
        raise _FoundError("no colon", here)
    return _past_blanks(text, here + 1)


def _text(text: str, here: int) -> int:
    match = _TEXT.match(text, here)
    end = match.end() if match else here
    if text.startswith('"', end):
        return end + 1
    if text[end:] in ("", "\\"):
        raise _FoundError("text not closed", here)
    raise _FoundError("escape" if text[end] == "\\" else "line break", end)
