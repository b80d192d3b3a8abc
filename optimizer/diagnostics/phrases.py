"""One phrase for each kind of finding: what is wrong with a value, and what would be right."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic_core import ErrorDetails

from optimizer.diagnostics.nodes import TEXT_TWINS, Node, Nodes, choices, wanted
from optimizer.diagnostics.unknown_keys import header, meant
from optimizer.models.angles import COMMA
from optimizer.words import KeyPath, listing, number, quoted, said, shown, unit_of

Words = tuple[str, str]  # what is wrong, and the remedy

# A line to type for each key that must be given.
_EXAMPLES = {
    "evening": "evening = 2026-11-14",
    "latitude_deg": "latitude_deg = 38.92",
    "longitude_deg": "longitude_deg = -3.11",
    "floor_deg": "floor_deg = 25",
    "name": 'name = "..."',
    "filter": 'filter = "L"',
    "exposure_s": "exposure_s = 120",
    "frames": "frames = 60",
    "ra_deg": 'ra_deg = 52.297 or ra = "03h29m11s"',
    "dec_deg": 'dec_deg = 31.31 or dec = "+31d18m36s"',
}


@dataclass(frozen=True)
class Case:
    """One finding: where it is, how the schema describes the key, and what stands there."""

    path: KeyPath
    node: Node
    kind: str  # of the file: toml, json or csv
    given: Any
    error: ErrorDetails
    nodes: Nodes
    root: KeyPath

    @property
    def leaf(self) -> str:
        """The field's name: the last word on the path, with its unit (`ra_deg` where `ra` is written)."""
        name = next((part for part in reversed(self.path) if isinstance(part, str)), "")
        return f"{name}_deg" if any(name in twins for twins in TEXT_TWINS.values()) else name

    @property
    def wanted(self) -> str:
        """A remedy that says what the key may hold, and what it means."""
        description = self.node.get("description", "")
        text = f"give {wanted(self.node, self.leaf, self.kind)}"
        return f"{text} ({description})" if description else text


def phrase(case: Case) -> Words:
    """Say of one finding what is wrong and what would be right."""
    if len(choices(case.node)) > 1 and case.error["type"] != "value_error":
        return _union(case)
    for pattern, words in _BY_TYPE:
        if re.fullmatch(pattern, case.error["type"]):
            return words(case)
    return case.error["msg"][:1].lower() + case.error["msg"][1:], case.wanted


def _missing(case: Case) -> Words:
    if "prefixItems" in case.node:
        return "one of the two is missing", f"give {_pair(case.path)}"
    leaf = str(case.path[-1])
    if case.kind == "csv" and leaf == "goals":
        return "the target has no goal", "write a filter beside it, or the name of a set"
    if case.node.get("type") == "array":
        where = header((*case.path, 0), case.kind)
        return "missing", f"add at least one {where} block" if case.kind == "toml" else f"add a list {where}"
    if case.node.get("type") == "object":
        where, keys = header(case.path, case.kind), listing(case.node.get("required", ()), "and")
        return "missing", f"add {where}" + (f" with at least {keys}" if keys else "")
    example = _EXAMPLES.get(leaf) if case.kind == "toml" else None
    if leaf == "schema":
        text = case.node.get("const", "")
        return (
            "missing",
            f'begin with schema = "{text}"' if case.kind == "toml" else f'add "schema": "{text}"',
        )
    unit = unit_of(leaf)
    description = case.node.get("description", "")
    aside = f" ({', '.join(part for part in (unit, description) if part)})" if unit or description else ""
    return "missing", f"add {example}{aside}" if example else f"add it: {wanted(case.node, leaf, case.kind)}"


def _pair(path: KeyPath) -> str:
    if "skyline" in path:
        return "[azimuth, altitude] in degrees"
    if "clear_odds_by_evening" in path:
        return "[evening, share], like [2026-11-14, 0.6]"
    if "clear_odds" in path:
        return '[instant, percent], like ["2026-11-14T20:30:00Z", 70]'
    return '[start, end], like ["2026-11-14T20:30:00Z", "2026-11-15T01:00:00Z"]'


def _pairs(path: KeyPath) -> str:
    if "skyline" in path:
        return "[[0, 12], [90, 25], ...]"
    if "clear_odds_by_evening" in path:
        return "[[2026-11-14, 0.6], [2026-11-15, 0.3], ...]"
    if "clear_odds" in path:
        return '[["2026-11-14T20:30:00Z", 70], ["2026-11-15T01:00:00Z", 40], ...]'
    return '[["2026-11-14T20:30:00Z", "2026-11-15T01:00:00Z"], ...]'


def _unknown(case: Case) -> Words:
    return "this key is not known here", meant(case.nodes, case.path, case.kind, case.root, case.given)


def _table_type(case: Case) -> Words:
    tables_by_name = isinstance(case.node.get("additionalProperties"), dict)
    opened = header((*case.path, "NAME") if tables_by_name else case.path, case.kind)
    if isinstance(case.given, list):
        if case.kind == "toml":
            return "this is a list, not one table", f"write {opened} with single brackets, once"
        return "this is a list, not one object", "put it in braces: { ... }"
    if case.given is None:
        return "null is not an object", "put one in braces: { ... }" + _or_leave_out(case)
    return (
        ("this is not a table", f"open it with {opened} on a line of its own, its keys below")
        if case.kind == "toml"
        else ("this is not an object", "put it in braces: { ... }")
    )


def _list_type(case: Case) -> Words:
    if isinstance(case.given, dict) and case.kind == "toml" and "$ref" in case.node.get("items", {}):
        opened = header((*case.path, 0), case.kind)
        return "this is one table, not a list of tables", f"write {opened} with double brackets"
    if "prefixItems" in case.node:
        return "this is not a pair", f"give {_pair(case.path)}"
    if case.leaf in ("clear_odds", "clear_odds_by_evening") and isinstance(case.given, str):
        return (
            "this is text, not a list of pairs",
            f"for the name of a file write clear_odds_file = {shown(case.given)}",
        )
    if "prefixItems" in case.nodes.resolved(case.node.get("items", {})):
        return (
            "this is not a list of pairs",
            f"bracket each, and all of them: {_pairs(case.path)}",
        )
    return "this is not a list", "put it in brackets: [ ... ]"


def _too_long(case: Case) -> Words:
    if "prefixItems" in case.node:
        return f"there are {len(case.given)} items where two are wanted", f"give {_pair(case.path)}"
    if isinstance(case.given, str):
        return (
            f"the text has {len(case.given)} characters",
            f"shorten it to {case.node.get('maxLength', 300)} at most",
        )
    return "the list is too long", "shorten it"


def _too_short(case: Case) -> Words:
    if isinstance(case.given, str):
        return "the text is empty", "give at least one visible character"
    return "the list is empty", "give at least one " + (
        f"{header((*case.path, 0), case.kind)} block" if case.kind == "toml" else "item"
    )


def _number_type(case: Case) -> Words:
    given = case.given
    if isinstance(given, str):
        return _text_for_number(case, given)
    if isinstance(given, bool):
        return f"{shown(given)} is not a number", case.wanted
    if given is None:
        return "null is not a number", case.wanted + _or_leave_out(case)
    if isinstance(given, float) and math.isfinite(given):  # a whole number is wanted
        if given == int(given) and abs(given) < 1e15:
            return "this must be written as a whole number", f"drop the decimals: {number(given)}"
        return "this must be a whole number, it is not rounded for you", case.wanted
    if isinstance(given, int | float):
        return _out_of_range(case) if isinstance(given, int) else _not_finite(case)
    if isinstance(given, list) and len(given) == 1 and isinstance(given[0], int | float):
        return "this is a list, not a number", f"drop the brackets: {shown(given[0])}"
    return "this is not a number", case.wanted


def _text_for_number(case: Case, given: str) -> Words:
    if re.fullmatch(r"\s*[+-]?\d+(\.\d+)?\s*", given):
        return "this is text, not a number", f"drop the quotes: {given.strip()}"
    if re.fullmatch(r"\s*[+-]?[0-9]+,[0-9]+\s*", given):
        what, pointed = f"this is text, not a number, and {COMMA}", given.strip().replace(",", ".")
        whole = all(option.get("type") == "integer" for option in choices(case.node))
        return what, case.wanted if whole else f"write {pointed}, with a point and without quotes"
    twin = case.leaf.removesuffix("_deg")
    if twin != case.leaf and any(twin in twins for twins in TEXT_TWINS.values()):
        return "this is text, not a number", f"for sexagesimal text write {twin} instead of {case.leaf}"
    return "this is text, not a number", case.wanted


def _or_leave_out(case: Case) -> str:
    return ", or leave the key out" if "default" in case.node else ""


def _text_type(case: Case) -> Words:
    if case.given is None:
        return "null is not text", case.wanted + _or_leave_out(case)
    if isinstance(case.given, list | dict):
        return "this is not text", case.wanted
    return "this is not text", f"put it in double quotes: {quoted(shown(case.given))}"


def _bool_type(case: Case) -> Words:
    if isinstance(case.given, str) and case.given.lower() in ("true", "false"):
        return "this is text", f"drop the quotes: {case.given.lower()}"
    return "this is neither true nor false", case.wanted


def _out_of_range(case: Case) -> Words:
    given, node = case.error["input"], choices(case.node)[-1]
    low = node.get("minimum", node.get("exclusiveMinimum"))
    message = "too small" if low is not None and given <= low else "too large"
    if isinstance(case.given, str) and isinstance(given, int | float):  # sexagesimal text
        return f"this is {number(given)} degrees, {message}", case.wanted
    return message, case.wanted


def _not_finite(case: Case) -> Words:
    return "this is not a finite number", case.wanted


def _choice(case: Case) -> Words:
    if case.leaf == "schema":
        return "this is not the format read here", f'write schema = "{case.node.get("const", "")}"'
    if not isinstance(case.given, str):
        return "this is none of the choices", case.wanted
    numbers = any(option.get("type") == "number" for option in choices(case.node))
    if numbers and re.fullmatch(r"\s*[+-]?[0-9]+([.,][0-9]+)?\s*", case.given):
        return _text_for_number(case, case.given)
    known = [word for option in choices(case.node) for word in option.get("enum", ())]
    near = difflib.get_close_matches(case.given.strip().lower(), known, 1, 0.6)
    if near:
        return "this word is not known here", f'did you mean "{near[0]}"? To choose from: {_choices(case)}'
    return "this word is not known here", case.wanted


def _choices(case: Case) -> str:
    return wanted(case.node, case.leaf, case.kind)


def _union(case: Case) -> Words:
    """A key that takes a word or a number: pydantic tells why it is neither, people want to hear it once."""
    given = case.given
    if isinstance(given, bool) or not isinstance(given, int | float):
        return _choice(case)
    if isinstance(given, float) and not math.isfinite(given):  # integers may be too long for the question
        return _not_finite(case)
    numbers = next((option for option in choices(case.node) if option.get("type") == "number"), {})
    return "too small" if given < numbers.get("minimum", -math.inf) else "too large", case.wanted


def _date_type(case: Case) -> Words:
    return "this is not a date", "write it like " + ("2026-11-14" if case.kind == "toml" else '"2026-11-14"')


def _own_words(case: Case) -> Words:
    message, remedy = said(str(case.error.get("ctx", {}).get("error", case.error["msg"])))
    return message, remedy or case.wanted


def _not_unicode(case: Case) -> Words:
    return (
        "the text holds half a character (a lone surrogate)",
        "remove the \\ud... escape, or write both halves",
    )


_BY_TYPE: tuple[tuple[str, Callable[[Case], Words]], ...] = (
    ("missing", _missing),
    ("extra_forbidden", _unknown),
    ("model_type|model_attributes_type|dict_type", _table_type),
    ("tuple_type|list_type", _list_type),
    ("too_long|string_too_long", _too_long),
    ("too_short|string_too_short", _too_short),
    ("float_type|int_type|int_from_float|int_parsing_size", _number_type),
    ("string_type", _text_type),
    ("bool_type", _bool_type),
    ("finite_number", _not_finite),
    ("(greater|less)_than(_equal)?", _out_of_range),
    ("literal_error", _choice),
    ("date_type", _date_type),
    ("value_error", _own_words),
    ("string_unicode", _not_unicode),
    ("string_pattern_mismatch", _date_type),  # no other text has a pattern
)
