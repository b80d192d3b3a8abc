"""Every key of a TOML or JSON text is found on the line where it stands."""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimizer.diagnostics.lines import lines_of
from optimizer.words import KeyPath
from tests.support.request_strategies import requests

ODD_TOML = '''\
# a comment with [brackets] and "quotes
title = "a = [1, 2] # no comment"   # one
'quoted key' . "x.y" = 1
long = """
[not.a.header]
x = 1 \\""""
raw = \'\'\'
[[nor.this]]
\'\'\'
when = 2026-11-14 20:30:00.5Z
list = [ # opens
  [0, 12], # first
  [90,
   25],
  "a,b]", { deep = [1,
  2], other.dotted = 3 },
]
dotted.a.b = 1

[site] # header
name = 'it''s'
[ "sp aced" . two ]
x = -1.5e3
[[targets]]
name = "one"
  [[targets.goals]]
  n = 1
  [[targets.goals]]
  n = 2
[[targets]]
goals = [{n = 1}, {n = 2}]
[targets.extra.more]
y = 1
[a.b.c]
z = 1
[a]
w = 1
'''.replace("'it''s'", "'its'")


def paths_of(data: Any, path: KeyPath = ()) -> set[KeyPath]:
    found = {path} if path else set()
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in items:
        found |= paths_of(value, (*path, key))
    return found


def test_odd_toml_has_a_line_for_every_key_the_parser_sees() -> None:
    assert set(lines_of(ODD_TOML, "toml").first) == paths_of(tomllib.loads(ODD_TOML))


@pytest.mark.parametrize(
    ("path", "row"),
    [
        (("title",), 'title = "a = [1, 2] # no comment"   # one'),
        (("quoted key", "x.y"), "'quoted key' . \"x.y\" = 1"),
        (("long",), 'long = """'),
        (("when",), "when = 2026-11-14 20:30:00.5Z"),
        (("list", 0), "  [0, 12], # first"),
        (("list", 1, 1), "   25],"),
        (("list", 3, "deep", 1), "  2], other.dotted = 3 },"),
        (("dotted", "a"), "dotted.a.b = 1"),
        (("site",), "[site] # header"),
        (("targets", 0, "goals", 1), "  [[targets.goals]]"),
        (("targets", 0, "goals", 1, "n"), "  n = 2"),
        (("targets", 1, "goals", 1, "n"), "goals = [{n = 1}, {n = 2}]"),
        (("targets", 1, "extra", "more", "y"), "y = 1"),
        (("a", "b"), "[a.b.c]"),
        (("a",), "[a]"),
        (("targets", 1, "nothing"), "[[targets]]"),  # a missing key is told at its table
    ],
)
def test_odd_toml_lines(path: KeyPath, row: str) -> None:
    line = lines_of(ODD_TOML, "toml").at(path)
    assert line is not None
    assert ODD_TOML.split("\n")[line - 1] == row


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=requests())
def test_toml_written_by_another_program_has_a_line_for_every_key(data: dict[str, Any]) -> None:
    assert set(lines_of(tomlkit.dumps(data), "toml").first) == paths_of(data)


JSON_VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text()),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(), inner, max_size=4)),
    max_leaves=20,
)


@settings(max_examples=200, deadline=None)
@given(data=st.dictionaries(st.text(), JSON_VALUES, max_size=4), indent=st.sampled_from([None, 0, 2]))
def test_json_has_a_line_for_every_key(data: dict[str, Any], indent: int | None) -> None:
    lines = lines_of(json.dumps(data, indent=indent), "json")
    assert set(lines.first) == {path[:12] for path in paths_of(data)}
    assert lines.twice == []


def test_json_lines_count_from_the_top() -> None:
    text = '{\n "a": [\n  1,\n  {"b": 2,\n   "c": []}\n ]\n}'
    assert lines_of(text, "json").first == {
        ("a",): 2,
        ("a", 0): 3,
        ("a", 1): 4,
        ("a", 1, "b"): 4,
        ("a", 1, "c"): 5,
    }


@settings(max_examples=300, deadline=None)
@given(text=st.text(alphabet="[]{}=.,:\"'#\n\\ ab1-", max_size=60), kind=st.sampled_from(["toml", "json"]))
def test_text_that_no_parser_takes_does_not_stop_the_search(text: str, kind: str) -> None:
    """It is looked at after the parser has refused it, to find keys given twice."""
    last = text.count("\n") + 1
    assert all(1 <= line <= last for line in lines_of(text, kind).first.values())


@pytest.mark.parametrize("text", ["a = " + "[" * 20_000, "a." * 20_000 + "b = 1", "a = {b = " * 5_000])
def test_hostile_nesting_does_not_stop_the_search(text: str) -> None:
    assert ("a",) in lines_of(text, "toml").first
