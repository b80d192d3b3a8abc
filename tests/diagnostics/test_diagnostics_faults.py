"""The first fault of a broken text is found where it is, and none is found in a text that is good."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.diagnostics import toml_fault as look
from optimizer.diagnostics.json_fault import json_fault
from optimizer.diagnostics.syntax import json_problem, toml_problem
from optimizer.diagnostics.toml_fault import toml_fault

GOOD_TOML = """\
# [a comment] with "quotes
title = "a = [1, 2] # no comment \\" \\u00e9 \\\\"   # one
'quoted key' . "x.y" = +1.5e-3
long = \"\"\"
[not.a.header] \\
   x = "1" \"\"\"\"
raw = '''
[[nor.this]] C:\\dir
'''
dates = [2026-11-14, 2026-11-14 20:30:00.5Z, 2026-11-14T20:30:00+01:00, 20:30:00]
numbers = [ 0x1F, 0b1, 1_000, -0, inf, -nan, # one
  true, false,
]
braces = { a.b = 1, c = [ {d = 'x'} ] , e = {} }
[ "sp aced" . two ]
x = []
[[targets]] # again
[[targets]]
name = "two"
"""
GOOD_JSON = '{"a": [1, -2.5e+3, {"b": "\\u00e9 \\" \\\\"}, [], {}, NaN, -Infinity],\n "c": null, "d": true}\n'
PIECES = st.text(alphabet="[]{}=.,:\"'#\n\\ \t0aé“_-+\x00\r\x1bT", max_size=4)


def slipped(text: str, places: list[int], piece: str, gone: int) -> str:
    for place in places:
        text = text[: place % len(text)] + piece + text[place % len(text) + gone :]
    return text


@settings(max_examples=400, deadline=None)
@given(places=st.lists(st.integers(0, 5000), max_size=2), piece=PIECES, gone=st.integers(0, 40))
def test_every_slip_in_toml_is_found_and_has_words(places: list[int], piece: str, gone: int) -> None:
    text = slipped(GOOD_TOML, places, piece, gone)
    try:
        tomllib.loads(text)
        taken = True
    except tomllib.TOMLDecodeError:
        taken = False
    (problem, *_) = toml_problem("f", text, tomllib.TOMLDecodeError("?"))
    assert ("not valid TOML" in problem.message) == taken  # every slip has words of its own
    assert problem.remedy
    assert problem.line is not None
    assert 1 <= problem.line <= text.count("\n") + 1


@settings(max_examples=400, deadline=None)
@given(places=st.lists(st.integers(0, 500), max_size=2), piece=PIECES, gone=st.integers(0, 40))
def test_a_fault_is_found_in_json_where_the_parser_refuses_it_alone(
    places: list[int], piece: str, gone: int
) -> None:
    text = slipped(GOOD_JSON, places, piece, gone)
    try:
        json.loads(text)
        taken = True
    except json.JSONDecodeError:
        taken = False
    assert (json_fault(text) is None) == taken


@pytest.mark.parametrize(
    ("text", "cause", "line", "column"),
    [
        ('a = 1\nb = """open\nc = 2\n', "text not closed", 2, 5),  # not on the last line, where it shows
        ("a = 1\nb = 'it''s\nc = 2\n", "more on the line", 2, 9),
        ("a = 'open\nb = 2\n", "text not closed on its line", 1, 5),
        ('a = "\\ud800"\n', "escape", 1, 6),
        ('a = """\n\\q"""\n', "escape", 2, 1),
        ('a = "b\x07"\n', "control character", 1, 7),
        ("# \x07\n", "control character", 1, 3),
        ("a = 1\na = 2\n# \x07\n", "exists already", 2, 1),
        ("a = 1 # \x07\n", "control character", 1, 9),
        ("a = [1,\n # \x07\n]", "control character", 2, 4),
        ("a = [\n  [0, 12],\n  [90 25],\n]\n", "list not closed", 3, 7),
        ("a = {b = 1, c = 2\n", "braces not closed", 1, 18),
        ("a = {b 1}\n", "no equals", 1, 8),
        ("a.b. = 1\n", "no key", 1, 6),
        ("[a\n", "header not closed", 1, 3),
        ("[[a]\n", "list header not closed", 1, 4),
        ("= 1\n", "no statement", 1, 1),
        ("a = 2026-02-30\n", "no such date", 1, 5),
        ("a = 1\r\nb = é\r\n", "no value", 2, 5),
        ("[a]\nx = 1\n[b]\n[a]\ny = 2\nz = \n", "exists already", 4, 1),  # comes before the fault of form
        ("a = 1\n[a.b]\n", "exists already", 2, 1),
    ],
)
def test_fault_in_toml(text: str, cause: str, line: int, column: int) -> None:
    fault = toml_fault(text)
    assert (fault.cause, fault.line, fault.column) == (cause, line, column)


def test_line_breaks_in_braces_are_no_fault_where_the_parser_takes_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """TOML 1.1, which later versions of Python read, allows them and a comma after the last key."""
    text = "a = {\n b = 1, # one\n c = 2,\n}\nd = é\n"
    monkeypatch.setattr(look, "_lines_in_braces", lambda: True)
    fault = look._Look(text).over_all()
    assert fault is not None
    assert (fault.cause, fault.line, fault.column) == ("no value", 5, 5)
    monkeypatch.setattr(look, "_lines_in_braces", lambda: False)
    fault = look._Look(text).over_all()
    assert fault is not None
    assert (fault.cause, fault.line) == ("no key", 1)


def test_what_a_text_that_never_closes_swallows_is_not_blamed() -> None:
    text = 'name = """Cradle\nframes = 90\n'
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    assert [str(problem) for problem in toml_problem("f", text, caught.value)] == [
        'f:1: name = """Cradle: the text is not closed; add the missing quote at its end'
    ]


@pytest.mark.parametrize(
    ("text", "cause", "position"),
    [
        ('{"a": 1 "b": 2}', "no comma", 8),
        ('{"a": 1,}', "no key", 8),
        ("[1,]", "no value", 3),
        ('{"a" 1}', "no colon", 5),
        ('{"a": 1}}', "more after the end", 8),
        ('{"a": "open}', "text not closed", 6),
        ('{"a": "op\nen"}', "line break", 9),
        ('{"a": "C:\\dir"}', "escape", 9),
        ('{"a": 01}', "no comma", 7),
        ('{"a": .5}', "no value", 6),
        ('{"a": {', "no key", 7),
    ],
)
def test_fault_in_json(text: str, cause: str, position: int) -> None:
    fault = json_fault(text)
    assert fault is not None
    assert (fault.cause, fault.position) == (cause, position)


@pytest.mark.parametrize("kind", ["toml", "json"])
def test_a_fault_that_nobody_knows_yet_is_told_with_its_line_and_column(kind: str) -> None:
    """A parser may refuse what this look takes: then the words are plain, and true."""
    if kind == "toml":
        (problem,) = toml_problem("f", "a = 1\nb = 2\n", tomllib.TOMLDecodeError("?"))
        assert "this is not valid TOML" in problem.message
    else:
        problem = json_problem("f", '{"a":\n 1}', json.JSONDecodeError("?", '{"a":\n 1}', 7))
        assert str(problem).startswith("f:2: `1}`: this is not valid JSON (column 2); compare this line")
