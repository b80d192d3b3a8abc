"""Where the keys of a TOML or JSON text stand: key path -> line.

Read only when there is something to tell, and only from text that a real parser has looked at: nothing is
refused here. Of text that the parser did refuse, the lines up to the fault are right.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field

from optimizer.words import KeyPath

DEEPEST = 12  # parts of a path that are kept; no model is that deep, a hostile file may be


@dataclass
class Lines:
    """The lines, counted from 1, on which the keys of a text stand.

    `first` is where each key, table or list element begins; `twice` are the keys given more than once, each
    with its later and its first line.
    """

    first: dict[KeyPath, int] = field(default_factory=dict)
    twice: list[tuple[KeyPath, int, int]] = field(default_factory=list)
    _doubled: set[KeyPath] = field(default_factory=set)

    def at(self, path: KeyPath) -> int | None:
        """The line of a path, or of the nearest table around it that is written down; None without one."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.first:
                return self.first[path[:length]]
        return None

    def note(self, path: KeyPath, line: int) -> None:
        """Note a key that is written out; a second time it counts as doubled."""
        if path in self.first and len(path) <= DEEPEST:
            told = any(path[:length] in self._doubled for length in range(1, len(path)))
            if not told:  # what stands in a doubled table is doubled with it
                self.twice.append((path, line, self.first[path]))
            self._doubled.add(path)
        self.first.setdefault(path[:DEEPEST], line)


@dataclass(frozen=True)
class _Token:
    kind: str
    text: str
    line: int


_TOML = re.compile(
    r"""(?P<space>[ \t\r]+|\#[^\n]*)|(?P<newline>\n)|
    (?P<text>\"{3}(?:\\.|[^\\])*?\"{3,5}|'{3}.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*')|
    (?P<mark>[\[\]{},=.])|(?P<bare>[^\s\[\]{},=.\#"']+|.)""",
    re.VERBOSE | re.DOTALL,
)
_JSON = re.compile(
    r"""(?P<space>[ \t\r\n]+)|(?P<text>"(?:\\.|[^"\\])*")|(?P<mark>[\[\]{},:])|(?P<bare>[^\s\[\]{},:"]+|.)""",
    re.VERBOSE | re.DOTALL,
)


def _tokens(pattern: re.Pattern[str], text: str) -> Iterator[_Token]:
    line = 1
    for match in pattern.finditer(text):
        if match.lastgroup != "space":
            yield _Token(match.lastgroup or "", match.group(), line)
        line += match.group().count("\n")
    while True:
        yield _Token("end", "", line)


class _Reader:
    """Looks at one token at a time; the last one, the end, comes again and again."""

    def __init__(self, tokens: Iterator[_Token]) -> None:
        self.tokens, self.lines = tokens, Lines()
        self.here = next(tokens)

    def take(self) -> _Token:
        token, self.here = self.here, next(self.tokens)
        return token

    def at_mark(self, marks: str) -> bool:
        return self.here.kind == "mark" and self.here.text in marks

    def skip_newlines(self) -> None:
        while self.here.kind == "newline":
            self.take()


class _Toml(_Reader):
    """Statements one after another: table headers and `key = value`."""

    def read(self) -> Lines:
        prefix: KeyPath = ()
        self.counts: dict[KeyPath, int] = {}
        while True:
            self.skip_newlines()
            if self.here.kind == "end":
                return self.lines
            if self.at_mark("["):
                prefix = self.header()
            else:
                self.pair(prefix, until="")
            while self.here.kind not in ("newline", "end"):  # nothing is left on the line of a valid text
                self.take()

    def header(self) -> KeyPath:
        line = self.take().line
        is_list = self.at_mark("[")
        if is_list:
            self.take()
        path = self.in_lists(self.key()[:DEEPEST], line)
        if not is_list:
            self.lines.first[path] = line  # a table opened by a longer header before gets its own line now
            return path
        index = self.counts.get(path, 0)
        self.counts[path] = index + 1
        self.lines.first.setdefault(path, line)
        self.lines.first[(*path, index)] = line
        return (*path, index)

    def in_lists(self, keys: KeyPath, line: int) -> KeyPath:
        """The header's keys with the place in each list of tables on the way: the latest one."""
        path: KeyPath = ()
        for key in keys[:-1]:
            path = (*path, key)
            self.lines.first.setdefault(path, line)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return (*path, *keys[-1:])

    def key(self) -> KeyPath:
        parts: list[str] = []
        while self.here.kind in ("bare", "text"):
            token = self.take()
            parts.append(_unquoted_toml(token.text) if token.kind == "text" else token.text)
            if not self.at_mark("."):
                break
            self.take()
        return tuple(parts)

    def pair(self, prefix: KeyPath, until: str) -> None:
        line, keys = self.here.line, self.key()
        for length in range(1, min(len(keys), DEEPEST)):
            self.lines.first.setdefault((*prefix, *keys[:length])[:DEEPEST], line)
        path = (*prefix, *keys)
        if keys:
            self.lines.note(path, line)
        if self.at_mark("="):
            self.take()
            self.value(path)
        elif not keys and not (until and self.at_mark(until)):
            self.take()

    def value(self, path: KeyPath) -> None:
        if self.at_mark("["):
            self.take()
            self.items(path)
        elif self.at_mark("{"):
            self.take()
            while not self.at_mark("}") and self.here.kind != "end":
                self.skip_newlines()
                if self.at_mark(","):
                    self.take()
                elif not self.at_mark("}"):
                    self.pair(path, until="}")
            self.take()
        else:  # a scalar, in which dots and blanks may stand: 2026-11-14 20:30:00.5Z
            while self.here.kind not in ("newline", "end") and not self.at_mark(",]}"):
                self.take()

    def items(self, path: KeyPath) -> None:
        index = 0
        while True:
            self.skip_newlines()
            if self.at_mark(","):
                self.take()
            elif self.at_mark("]}") or self.here.kind == "end":
                self.take()
                return
            else:
                self.lines.note((*path, index), self.here.line)
                self.value((*path, index))
                index += 1


class _Json(_Reader):
    """One value, and those in it."""

    def read(self) -> Lines:
        self.value(())
        return self.lines

    def value(self, path: KeyPath) -> None:
        opening = self.take()
        if opening.kind != "mark" or opening.text not in "[{":
            return
        index = 0
        while not self.at_mark("]}") and self.here.kind != "end":
            if self.at_mark(","):
                self.take()
                continue
            line, key = self.here.line, index
            if opening.text == "{":
                token = self.take()
                part: str | int = json.loads(token.text, strict=False) if token.kind == "text" else token.text
                if self.at_mark(":"):
                    self.take()
            else:
                part = key
                index += 1
            self.lines.note((*path, part), line)
            self.value((*path, part))
        self.take()


def _unquoted_toml(token: str) -> str:
    try:
        return str(tomllib.loads(f"key = {token}")["key"])
    except ValueError:
        return token


def lines_of(text: str, kind: str) -> Lines:
    """Find the line of every key in a text whose `kind` is "toml" or "json"; odd text raises nothing."""
    reader = _Toml(_tokens(_TOML, text)) if kind == "toml" else _Json(_tokens(_JSON, text))
    try:
        return reader.read()
    except (RecursionError, ValueError):  # nested a thousand deep, or an escape that is none
        return reader.lines
