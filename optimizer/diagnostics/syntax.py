"""What a parser says about broken TOML or JSON, put in words that help."""

from __future__ import annotations

import json
import re
import tomllib

from optimizer.diagnostics.lines import lines_of
from optimizer.errors import InputProblem
from optimizer.words import key_text, safe

_PLACE = re.compile(
    r"^(?P<what>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$", re.S
)
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
_TOML_WORDS = (
    ("Unterminated string", "the text is not closed", "add the missing quote at its end"),
    ("Illegal character '\\n'", "the text is not closed on its line", "add the missing quote at its end"),
    ('Expected "\'"', "the text is not closed", "add the missing quote at its end"),
    (
        "Invalid statement",
        "this line is neither a key, a table nor a comment",
        "write key = value, or [table]; begin a comment with #",
    ),
    (
        "Invalid value",
        "this is nothing that may stand after =",
        "write a number, true, false, a date, a list, or text in double quotes",
    ),
    ("Unclosed array", "a list that began before this is not closed", "add the missing ] or comma"),
    ("Unclosed inline table", "a table in braces is not closed", "add the missing } or comma"),
    (
        "Unescaped '\\'",
        "a backslash in double quotes begins an escape",
        "write two, or put the text in single quotes",
    ),
    (
        "Invalid hex value",
        "a backslash in double quotes begins an escape",
        "write two, or put the text in single quotes",
    ),
    (
        "Expected ']'",
        "the header of a table is not closed",
        "write it like [site], or [[targets]] for one of a list",
    ),
    (
        "Expected ']]'",
        "the header of a table is not closed",
        "close it with as many brackets as it opens with",
    ),
    (
        "Invalid date",
        "there is no such date or time",
        "write a date like 2026-11-14, an instant like 2026-11-14T20:30:00Z",
    ),
    (
        "Invalid initial character",
        "a key is expected here",
        "write key = value, or [table]; begin a comment with #",
    ),
    ("Found invalid character", "there is a control character here", "remove it"),
    ("Illegal character", "there is a control character here", "remove it"),
)
_JSON_WORDS = (
    (
        "Expecting property name",
        "a key in double quotes is expected here",
        "remove the comma before it, or use double quotes",
    ),
    ("Illegal trailing comma", "there is a comma after the last item", "remove the comma"),
    ("Expecting ':'", "a colon is missing after the key", 'write "key": value'),
    ("Expecting ','", "a comma or a closing bracket is missing before this", "add it"),
    (
        "Expecting value",
        "a value is expected here",
        "write a number, true, false, null, a list, or text in double quotes",
    ),
    (
        "Extra data",
        "there is more after the end of the object",
        "remove it, or check for a bracket closed too early",
    ),
    ("Unterminated string", "the text is not closed", "add the missing double quote"),
    (
        "Invalid control character",
        "a line breaks inside quotes",
        "close the quotes, or write \\n (a tab: \\t)",
    ),
    ("Invalid \\", "a backslash begins an escape", "write two of them"),
)


def toml_problem(file: str, text: str, error: ValueError | RecursionError) -> list[InputProblem]:
    """What is wrong with text that `tomllib` refused: all doubled keys, of other faults the first."""
    match = _PLACE.match(str(error)) if isinstance(error, tomllib.TOMLDecodeError) else None
    if match is None:
        return [_too_much(file, text, error)]
    rows = text.replace("\r\n", "\n").split("\n")
    line = int(match["line"]) if match["line"] else len(rows) - (1 if len(rows) > 1 and not rows[-1] else 0)
    row, what = rows[min(line, len(rows)) - 1], match["what"]
    if re.match(r"Cannot (declare|mutate|overwrite)|Duplicate", what):
        doubled = lines_of(text, "toml").twice
        return [doubled_key(file, *entry) for entry in doubled] or [_doubled_table(file, rows, line)]
    pair = _PAIR.match(row)
    fragment = pair["value"] if pair else row[int(match["column"] or 1) - 1 :].strip()
    message, remedy = _toml_words(what, row, fragment)
    if pair:
        return [InputProblem(file, pair["key"], message, remedy, _shortened(fragment), line=line)]
    return [InputProblem(file, "", message, remedy, _as_written(row), line=line)]


def _toml_words(what: str, row: str, fragment: str) -> tuple[str, str]:
    if what.startswith(("Invalid value", "Expected newline", "Unclosed")):
        for pattern, message, remedy in _VALUE_SLIPS:
            if re.fullmatch(pattern, fragment):
                number = re.match(r"[+-]?\d+,\d+", fragment)
                return message, f"use a point: {number[0].replace(',', '.')}" if number else remedy
    if what.startswith("Expected '='"):
        return "a key is not followed by =", "write key = value" + (", not key: value" if ":" in row else "")
    for start, message, remedy in _TOML_WORDS:
        if what.startswith(start):
            return message, remedy
    if what.startswith("Expected newline"):
        return "there is more on the line than one value", f"write one key = value a line; {_QUOTE}"
    return "this is not valid TOML", f"the parser says: {safe(what)}"


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
    """The words for a key that is given twice in one table."""
    message = f"the key is given twice, first on line {first}"
    return InputProblem(file, key_text(path), message, "keep one of the two", line=line)


def json_problem(file: str, text: str, error: ValueError | RecursionError) -> InputProblem:
    """What is wrong with text that `json` refused."""
    if not isinstance(error, json.JSONDecodeError):
        return _too_much(file, text, error)
    row = error.doc.split("\n")[error.lineno - 1]
    message, remedy = "this is not valid JSON", f"the parser says: {safe(error.msg)}"
    for start, words, help_ in _JSON_WORDS:
        if error.msg.startswith(start):
            message, remedy = words, help_
            break
    if not error.doc[error.pos :].strip():
        message, remedy = "the file ends before its last bracket is closed", "make or copy it again"
    word = re.match(r"(?i)(true|false|null|none)\b", row[error.colno - 1 :])
    if word:
        small = {"none": "null"}.get(word[0].lower(), word[0].lower())
        message, remedy = f"JSON has no word {word[0]}", f"write {small}"
    return InputProblem(
        file, "", f"{message} (column {error.colno})", remedy, _as_written(row), line=error.lineno
    )


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
