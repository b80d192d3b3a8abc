"""Where a TOML text goes wrong first, and in which way: found by our own look at the text.

The parser's error says so only in words that change from one version of Python to the next. Here it is asked
nothing but whether it takes a text.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from dataclasses import dataclass
from functools import cache
from typing import Literal

TomlCause = Literal[
    "no statement",  # a line begins with what can begin neither key nor table nor comment
    "no key",
    "no equals",
    "no value",
    "no such date",
    "text not closed",
    "text not closed on its line",
    "escape",
    "control character",
    "list not closed",
    "braces not closed",
    "header not closed",
    "list header not closed",
    "more on the line",
    "exists already",  # well formed, but a key or table of that name is there
    "unknown",
]

_BLANK = re.compile(r"[ \t]*")
_BLANK_LINES = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_LINE_TEXT = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'')
_LONG_TEXT = re.compile(r'"{3}(?:\\.|[^\\])*?"{3,5}|\'{3}.*?\'{3,5}', re.DOTALL)
_SCALAR = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[\w.+\-:]*|[\w.+\-:]+")
_DATE_LIKE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NUMBER = re.compile(r"[+-]?(?:0|[1-9](?:_?[0-9])*)(?:\.[0-9](?:_?[0-9])*)?(?:[eE][+-]?[0-9](?:_?[0-9])*)?")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)


@dataclass(frozen=True)
class TomlFault:
    """The first fault of a text: its cause, and the index of the character at which it shows.

    `line` and `column` count from 1; at the end of the text `line` is the last that is not empty.
    """

    cause: TomlCause
    text: str
    position: int

    @property
    def line(self) -> int:
        """The line of the fault, counted from 1."""
        end = self.position >= len(self.text)
        return self.text.count("\n", 0, len(self.text.rstrip("\n")) if end else self.position) + 1

    @property
    def column(self) -> int:
        """The column of the fault in its line, counted from 1."""
        return self.position - (self.text.rfind("\n", 0, self.position) + 1) + 1


def toml_fault(text: str) -> TomlFault:
    """Find the first fault of a text that `tomllib` refused; a line end of two characters counts as one."""
    text = text.replace("\r\n", "\n")
    look = _Look(text)
    fault = look.over_all()
    if look.good and _refused(text[: look.good[-1][1]]):
        # these statements are well formed, so one of them meets a name that is there already
        first = bisect_left(look.good, True, key=lambda statement: _refused(text[: statement[1]]))
        begin, end = look.good[first]
        return TomlFault("unknown" if _refused(text[begin:end]) else "exists already", text, begin)
    return fault or TomlFault("unknown", text, len(text))


def _refused(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return True
    return False


@cache
def _lines_in_braces() -> bool:
    """Whether a table in braces may run over several lines: TOML 1.1 allows it, 1.0 does not."""
    return not _refused("a = {\n b = 1,\n}")


class _FoundError(Exception):
    """Carries the first fault out of the look."""

    def __init__(self, cause: TomlCause, position: int) -> None:
        self.cause, self.position = cause, position


class _Look:
    """One look over a text; `good` are begin and end of each well-formed statement before the first fault."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.good: list[tuple[int, int]] = []

    def over_all(self) -> TomlFault | None:
        """The first fault of form; None where each statement by itself is well formed."""
        here = 0
        try:
            while (here := self.past_blanks(here, lines=True)) < len(self.text):
                begin = here
                here = self.end_of_line(self.header(here) if self.text[here] == "[" else self.pair(here))
                self.good.append((begin, here))
        except _FoundError as found:
            return TomlFault(found.cause, self.text, found.position)
        return None

    def past_blanks(self, here: int, *, lines: bool = False) -> int:
        """The index behind blanks, and behind line ends and comments where `lines` may end."""
        match = (_BLANK_LINES if lines else _BLANK).match(self.text, here)
        end = match.end() if match else here
        bad = _CONTROL.search(self.text, here, end)
        if bad is not None:
            raise _FoundError("control character", bad.start())
        return end

    def at(self, marks: str, here: int) -> bool:
        return self.text.startswith(marks, here)

    def end_of_line(self, here: int) -> int:
        here = self.past_blanks(here)
        if self.at("#", here):
            return self.past_blanks(here, lines=True)
        if here < len(self.text) and not self.at("\n", here):
            raise _FoundError("more on the line", here)
        return here

    def header(self, here: int) -> int:
        closing = "]]" if self.at("[[", here) else "]"
        here = self.key(self.past_blanks(here + len(closing)))
        if not self.at(closing, here):
            raise _FoundError("header not closed" if closing == "]" else "list header not closed", here)
        return here + len(closing)

    def pair(self, here: int) -> int:
        if not (_BARE_KEY.match(self.text, here) or self.text[here] in "\"'"):
            raise _FoundError("no statement", here)
        return self.value(self.equals(self.key(here)))

    def key(self, here: int) -> int:
        """The index behind a dotted key and the blanks after it."""
        while True:
            if self.text[here : here + 1] in ("'", '"'):
                here = self.quoted(here, _LINE_TEXT)
            elif (bare := _BARE_KEY.match(self.text, here)) is not None:
                here = bare.end()
            else:
                raise _FoundError("no key", here)
            here = self.past_blanks(here)
            if not self.at(".", here):
                return here
            here = self.past_blanks(here + 1)

    def equals(self, here: int) -> int:
        if not self.at("=", here):
            raise _FoundError("no equals", here)
        return self.past_blanks(here + 1)

    def value(self, here: int) -> int:
        """The index behind a value; lists and tables within one another are kept on a stack of their own."""
        around: list[str] = []
        while True:
            if self.at("[", here):
                around.append("]")
                here = self.past_blanks(here + 1, lines=True)
                if not self.at("]", here):
                    continue
            elif self.at("{", here):
                around.append("}")
                here = self.past_blanks(here + 1, lines=_lines_in_braces())
                if not self.at("}", here):
                    here = self.equals(self.key(here))
                    continue
            else:
                here = self.scalar(here)
            following = self.following(here, around)
            if not around:
                return following
            here = following

    def following(self, here: int, around: list[str]) -> int:
        """Close what ends behind a value; the index of the next value, or behind the outermost one."""
        while around:
            is_list = around[-1] == "]"
            lines = is_list or _lines_in_braces()
            here = self.past_blanks(here, lines=lines)
            if self.at(",", here):
                here = self.past_blanks(here + 1, lines=lines)
                if not (lines and self.at(around[-1], here)):  # a comma after the last one
                    return here if is_list else self.equals(self.key(here))
            if not self.at(around[-1], here):
                raise _FoundError("list not closed" if is_list else "braces not closed", here)
            around.pop()
            here += 1
        return here

    def scalar(self, here: int) -> int:
        if self.text[here : here + 1] in ("'", '"'):
            long = self.at('"""', here) or self.at("'''", here)
            return self.quoted(here, _LONG_TEXT if long else _LINE_TEXT)
        match = _SCALAR.match(self.text, here)
        if match is None:
            raise _FoundError("no value", here)
        if not _refused(f"value = {match[0]}"):
            return match.end()
        if _DATE_LIKE.match(match[0]):
            raise _FoundError("no such date", here)
        number = _NUMBER.match(match[0])
        if number is None:
            raise _FoundError("no value", here)
        return here + number.end()  # what follows the number is the fault

    def quoted(self, here: int, pattern: re.Pattern[str]) -> int:
        match = pattern.match(self.text, here)
        if match is None:
            ends = pattern is _LONG_TEXT or self.text.find("\n", here) < 0
            raise _FoundError("text not closed" if ends else "text not closed on its line", here)
        if _refused(f"value = {match[0]}"):
            bad = _CONTROL.search(match[0])
            slip = next((found for found in _ESCAPE.finditer(match[0]) if self.unknown_escape(found)), None)
            if slip is not None and not (bad and bad.start() < slip.start()):
                raise _FoundError("escape", here + slip.start())
            if bad is None:  # a backslash before blanks that end no line
                raise _FoundError("escape" if "\\" in match[0] else "unknown", here)
            raise _FoundError("control character", here + bad.start())
        return match.end()

    @staticmethod
    def unknown_escape(slip: re.Match[str]) -> bool:
        digits = {"u": 4, "U": 8}.get(slip[1], 0)
        code = slip.string[slip.end() : slip.end() + digits]
        if not digits:
            return _refused(f'value = """{slip[0]}\n"""')
        return _refused(f'value = "{slip[0]}{code}"')
