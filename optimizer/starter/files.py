"""The starter's files as text: every key of a request, made from its schema, so that none can go stale."""

from __future__ import annotations

import datetime as dt
import json
import textwrap
from collections.abc import Iterator

from optimizer.diagnostics.nodes import choices, wanted
from optimizer.schemas.generator import Node, unit_words
from optimizer.schemas.request import request_schema
from optimizer.schemas.texts import file_name, schema_text
from optimizer.starter import values
from optimizer.starter.values import LIKE, SET
from optimizer.words import listing, number

REQUEST, SITE, RIG = "request.toml", "site.toml", "rig.toml"
WIDTH = 110
_REMARKS_AT = 34  # column of a remark behind a key
_SHOWN = ("text in double quotes", "a list in brackets", "true or false")
_OWN_TABLES = ("night", "site", "mount", "camera", "focus", "aim", "filters", "targets", "sets", "season")
_ROWS = {
    "filters": "TypedFilter",
    "targets": "TypedTarget",
    "targets.goals": "TypedGoal",
    "sets.galaxy": "GoalSet",
}


def starter_files(evening: dt.date) -> dict[str, bytes]:
    """Make the texts of a starter by file name; `evening` is the date that its request has."""
    keys = _Keys(request_schema(), evening)
    head = values.FIRST_LINE.format(schema=file_name("request")) + "\n"
    request = [
        head, values.REQUEST_HEAD, values.HOW_TO_READ, "\n", keys.of(""),
        values.NIGHT_HEAD, "[night]\n", keys.of("night"),
        "\n[[targets]]\n", keys.of("targets"),
        "\n[[targets.goals]]\n", keys.of("targets.goals"),
        values.MORE_TARGETS, values.SET_HEAD, "[sets.galaxy]\n", keys.of("sets.galaxy"),
        "\n[aim]\n", keys.of("aim"),
        values.SEASON_HEAD, "[season]\n", keys.of("season"),
    ]  # fmt: skip
    site = [head, values.SITE_HEAD, values.HOW_TO_READ, "\n[site]\n", keys.of("site")]
    rig = [
        head, values.RIG_HEAD, values.HOW_TO_READ, values.MOUNT_HEAD, "[mount]\n", keys.of("mount"),
        "\n[camera]\n", keys.of("camera"), "\n[focus]\n", keys.of("focus"),
        "\n[[filters]]\n", keys.of("filters"), values.SECOND_FILTER,
    ]  # fmt: skip
    texts = {REQUEST: request, SITE: site, RIG: rig}
    made = {name: "".join(parts).encode() for name, parts in texts.items()}
    return {**made, file_name("request"): schema_text("request").encode()}


class _Keys:
    """The lines of the keys of each table."""

    def __init__(self, schema: Node, evening: dt.date) -> None:
        self.schema = schema
        self.set = {**SET, "night": {"evening": evening.isoformat()}}

    def of(self, table: str) -> str:
        """The lines of a table's keys: those that are set first."""
        given = self.set.get(table, {})
        keys = self._node(table)["properties"]
        order = sorted(keys, key=lambda key: key not in given)  # stable: else as the models have them
        own = [key for key in order if not self._elsewhere(table, key, keys)]
        return "".join(f"{line}\n" for key in own for line in self._lines(table, key, keys))

    def _node(self, table: str) -> Node:
        if not table:
            return self.schema
        part = _ROWS.get(table)
        node: Node = self.schema["$defs"][part or self._name(self.schema["properties"][table])]
        return node

    def _name(self, node: Node) -> str:
        return str(choices(node)[0]["$ref"]).rsplit("/", 1)[-1]  # a table that may be left out has a null

    def _elsewhere(self, table: str, key: str, keys: dict[str, Node]) -> bool:
        """Whether a key has a table of its own, or is told with the one whose place it takes."""
        own = (not table and key in _OWN_TABLES) or (table, key) == ("targets", "goals")
        return own or f"{key}_deg" in keys

    def _lines(self, table: str, key: str, keys: dict[str, Node]) -> Iterator[str]:
        given, like = self.set.get(table, {}).get(key), LIKE.get(table, {}).get(key)
        default = keys[key].get("default")
        value = given or like or _toml(default)
        parts = [_what(keys[key], key), str(keys[key]["description"])]
        if given or like:
            none = "no default" if default is None else f"default {_toml(default)}"
            parts.insert(1, values.NEEDED.get((table, key), none))
        twin = key.removesuffix("_deg")
        if twin != key and twin in keys:
            parts.append(f'or as text, in its place: {twin} = "{keys[twin]["examples"][0]}"')
        remark = "; ".join(filter(None, parts))
        line = f"{'' if given else '#'}{key} = {value}"
        whole = f"{line:<{_REMARKS_AT}}# {remark}"
        if "\n" not in line and len(whole) <= WIDTH:
            yield whole
            return
        yield from textwrap.wrap(remark, WIDTH, initial_indent="# ", subsequent_indent="# ")
        yield line


def _toml(value: object) -> str:
    """A default as TOML has it: that of text and lists is as JSON has it."""
    return number(value) if isinstance(value, float) else json.dumps(value)


def _what(node: Node, key: str) -> str:
    """What a key takes, with its unit and limits; empty where its value shows that."""
    words = [wanted(choice, key) for choice in choices(node)]
    told = listing(dict.fromkeys(each for each in words if each not in _SHOWN))
    unit = unit_words(key)
    return (
        unit + told.removeprefix("a number").removeprefix(f" of {unit}")
        if told.startswith("a n") and unit
        else told
    )
