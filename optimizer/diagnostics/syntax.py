"""Broken TOML or JSON in words that help: what is wrong, on which line, and what would be right."""

from __future__ import annotations

import json
import re
import tomllib

from optimizer.diagnostics.json_fault import JsonCause, json_fault
from optimizer.diagnostics.lines import lines_of
from optimizer.diagnostics.toml_fault import TomlCause, TomlFault, toml_fault
from optimizer.errors import InputProblem
from optimizer.words import key_text, safe

_PAIR = re.compile(r"^\s*(?P<key>[A-Za-z0-9_.\-]+)\s*=\s*(?P<value>.*?)\s*$")
_HEADER = re.compile(r"^\s*\[(?P<double>\[)?\s*(?P<name>[^\[\]]+?)\s*\]")
_QUOTE = 'text stands in double quotes: name = "Cradle Nebula"'

# What a person may have typed as a value, and the words for it; the first that fits is used.
_VALUE_SLIPS = (
    (r"(?i)(true|false)\s*(#.*)?", "true and false are written small", "write true or false"),
    (
        r"(?i)(yes|no|on|off)\b.*",
        "TOML has no such word",
        "write true or false, or put text in double quotes",
    ),
    (r"(?i)(none|null|nil)\b.*", "TOML has no empty value", "leave the key out"),
    (r"[“”„‘’«»].*", "these are typographic quotes", 'use the plain double quote: "'),
    (r"[+-]?\d+,\d.*", "a comma does not mark decimals", "use a point: 38.92"),
    (
        r"[+-]?\d+\s*[hd°:].*",
        "this looks like an angle or a time without quotes",
        'put it in double quotes: "03h29m11s"',
    ),
    (r"[+-]?0\d.*", "a number may not begin with a 0", "drop the leading 0"),
    (r"[+-]?\.\d.*", "a number may not begin with a point", "write 0 before it: 0.5"),
    (r"[+-]?\d+\.(\D.*)?", "a number may not end with a point", "write a 0 after it: 5.0"),
    (
        r"[+-]?\d[\d.]*\s*[^\W\d_].*",
        "a number stands alone, without its unit",
        "drop what follows the number",
    ),
    (r"(#.*)?", "there is no value after the =", "write one, or leave the key out"),
    (r"[^\W\d_].*", "this is neither a number nor text in quotes", _QUOTE),
)
_NOT_CLOSED = "add the missing quote at its end"
_ESCAPE = ("a backslash in double quotes begins an escape", "write two, or put the text in single quotes")
_TOML_WORDS: dict[TomlCause, tuple[str, str]] = {
    "no statement": (
        "this line is neither a key, a table nor a comment",
        "write key = value, or [table]; begin a comment with #",
    ),
    "no key": ("a key is expected here", "write key = value, or [table]; begin a comment with #"),
    "no equals": ("a key is not followed by =", "write key = value"),
    "no value": (
        "this is nothing that may stand after =",
        "write a number, true, false, a date, a list, or text in double quotes",
    ),
    "no such date": (
        "there is no such date or time",
        "write a date like 2026-11-14, an instant like 2026-11-14T20:30:00Z",
    ),
    "text not closed": ("the text is not closed", _NOT_CLOSED),
    "text not closed on its line": ("the text is not closed on its line", _NOT_CLOSED),
    "escape": _ESCAPE,
    "control character": ("there is a control character here", "remove it"),
    "list not closed": ("a list that began before this is not closed", "add the missing ] or comma"),
    "braces not closed": ("a table in braces is not closed", "add the missing } or comma"),
    "header not closed": (
        "the header of a table is not closed",
        "write it like [site], or [[targets]] for one of a list",
    ),
    "list header not closed": (
        "the header of a table is not closed",
        "close it with as many brackets as it opens with",
    ),
    "more on the line": (
        "there is more on the line than one value",
        f"write one key = value a line; {_QUOTE}",
    ),
}
# Where one of these is found, what was typed as the value may say more.
_OF_VALUES: tuple[TomlCause, ...] = (
    "no value",
    "no such date",
    "more on the line",
    "list not closed",
    "braces not closed",
)
_JSON_WORDS: dict[JsonCause, tuple[str, str]] = {
    "no key": (
        "a key in double quotes is expected here",
        "remove the comma before it, or use double quotes",
    ),
    "no colon": ("a colon is missing after the key", 'write "key": value'),
    "no comma": ("a comma or a closing bracket is missing before this", "add it"),
    "no value": (
        "a value is expected here",
        "write a number, true, false, null, a list, or text in double quotes",
    ),
    "more after the end": (
        "there is more after the end of the object",
        "remove it, or check for a bracket closed too early",
    ),
    "text not closed": ("the text is not closed", "add the missing double quote"),
    "line break": ("a line breaks inside quotes", "close the quotes, or write \\n (a tab: \\t)"),
    "escape": ("a backslash begins an escape", "write two of them"),
}
_COMPARE = "compare this line and the one before with an example that works"


def toml_problem(file: str, text: str, error: ValueError | RecursionError) -> list[InputProblem]:
    """Say what is wrong with text that `tomllib` refused: all doubled keys, of other faults the first.

    `error` is asked for its type alone; its words differ between versions of Python.
    """
    if not isinstance(error, tomllib.TOMLDecodeError):
        return [_too_much(file, text, error)]
    fault = toml_fault(text)
    rows, line = fault.text.split("\n"), fault.line
    if fault.cause in ("exists already", "unknown"):
        doubled = lines_of(text, "toml").twice
        if doubled:
            return [doubled_key(file, *entry) for entry in doubled]
    if fault.cause == "exists already":
        return [_doubled_table(file, rows, line)]
    row = rows[line - 1]
    pair = _PAIR.match(row)
    at_end = fault.position >= len(fault.text)
    fragment = pair["value"] if pair else row[0 if at_end else fault.column - 1 :].strip()
    message, remedy = _toml_words(fault, row, fragment)
    if pair:
        return [InputProblem(file, pair["key"], message, remedy, _shortened(fragment), line=line)]
    return [InputProblem(file, "", message, remedy, _as_written(row), line=line)]


def _toml_words(fault: TomlFault, row: str, fragment: str) -> tuple[str, str]:
    if fault.cause in _OF_VALUES:
        for pattern, message, remedy in _VALUE_SLIPS:
            if re.fullmatch(pattern, fragment):
                number = re.match(r"[+-]?\d+,\d+", fragment)
                return message, f"use a point: {number[0].replace(',', '.')}" if number else remedy
    if fault.cause == "no equals" and ":" in row:
        return "a key is not followed by =", "write key = value, not key: value"
    return _TOML_WORDS.get(fault.cause, (f"this is not valid TOML (column {fault.column})", _COMPARE))


def _doubled_table(file: str, rows: list[str], line: int) -> InputProblem:
    """A table that is opened twice, or as one table here and as a list of them there."""
    row = rows[line - 1]
    message, remedy = "this key or table exists already in another form", "give each of them once"
    here = _HEADER.match(row)
    for number, other in enumerate(rows[: line - 1], start=1):
        there = _HEADER.match(other)
        if not here or not there or here["name"] != there["name"]:
            continue
        name = safe(here["name"])
        if here["double"] and not there["double"]:
            message, remedy = (
                f"[{name}] on line {number} is one table, not a list",
                f"write [[{name}]] there too",
            )
        elif there["double"]:
            message, remedy = f"[[{name}]] on line {number} is a list of tables", f"write [[{name}]] here too"
        else:
            message, remedy = f"the table is opened on line {number} already", "join the two"
        break
    return InputProblem(file, "", message, remedy, _as_written(row), line=line)


def doubled_key(file: str, path: tuple[str | int, ...], line: int, first: int) -> InputProblem:
    """Say that a key is given twice in one table; both lines count from 1."""
    message = f"the key is given twice, first on line {first}"
    return InputProblem(file, key_text(path), message, "keep one of the two", line=line)


def json_problem(file: str, text: str, error: ValueError | RecursionError) -> InputProblem:
    """Say what is wrong first with text that `json` refused; of `error` no words are used."""
    if not isinstance(error, json.JSONDecodeError):
        return _too_much(file, text, error)
    fault = json_fault(text)
    here = error.pos if fault is None else fault.position
    begin = text.rfind("\n", 0, here) + 1
    row, column = text[begin:].split("\n", 1)[0], here - begin + 1
    message, remedy = ("this is not valid JSON", _COMPARE) if fault is None else _JSON_WORDS[fault.cause]
    if not text[here:].strip():
        message, remedy = "the file ends before its last bracket is closed", "make or copy it again"
    word = re.match(r"(?i)(true|false|null|none)\b", row[column - 1 :])
    if word:
        small = {"none": "null"}.get(word[0].lower(), word[0].lower())
        message, remedy = f"JSON has no word {word[0]}", f"write {small}"
    message += f" (column {column})"
    return InputProblem(file, "", message, remedy, _as_written(row), line=text.count("\n", 0, here) + 1)


def _too_much(file: str, text: str, error: ValueError | RecursionError) -> InputProblem:
    if isinstance(error, RecursionError):
        return InputProblem(file, "", "lists or tables are nested too deep", "check for stray brackets")
    digits = re.search(r"\d{1000}", text)
    line = text.count("\n", 0, digits.start()) + 1 if digits else None
    return InputProblem(file, "", "a number has thousands of digits", "shorten it", line=line)


def _shortened(text: str) -> str:
    return safe(text if len(text) <= 60 else text[:57] + "...")


def _as_written(row: str) -> str:
    """A whole line, set off from the words around it."""
    row = row.strip()
    return f"`{_shortened(row)}`" if row else ""
