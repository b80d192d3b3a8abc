"""The models' JSON schema, walked by key path: what a key may hold, in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from optimizer.models.base import Frozen
from optimizer.words import KeyPath, listing, number, unit_of

Node = dict[str, Any]

# Keys that the models take besides their fields: sexagesimal text.
TEXT_TWINS = {"Site": ("latitude", "longitude"), "Target": ("ra", "dec")}
# And those that name a file, which is read in their place.
_FILES = ("catalogue", "targets_csv")
_ODDS = ("clear_odds_file",)
FILE_TWINS = {"Night": _ODDS, "SeasonAsked": _ODDS, "Request": _FILES, "RigRequest": _FILES}


@lru_cache(maxsize=8)
def schema_of(model: type[Frozen]) -> Node:
    """The JSON schema of a model, which is made once and kept."""
    return model.model_json_schema(by_alias=True)


@dataclass(frozen=True)
class Nodes:
    """The JSON schema of one model, which is asked by key path."""

    model: type[Frozen]

    def at(self, path: KeyPath) -> Node:
        """The node of the schema that describes a key; empty where the model knows no such key."""
        node = schema_of(self.model)
        for part in path:
            node = self._step(self.resolved(node), part)
        return self.resolved(node)

    def resolved(self, node: Node) -> Node:
        """Follow the reference of a node; its own words (default, description) are kept."""
        if "$ref" not in node:
            return node
        name = node["$ref"].rsplit("/", 1)[-1]
        return {**schema_of(self.model)["$defs"][name], **{key: node[key] for key in node if key != "$ref"}}

    def _step(self, node: Node, part: str | int) -> Node:
        for choice in (node, *(self.resolved(option) for option in node.get("anyOf", ()))):
            if isinstance(part, str) and part in choice.get("properties", {}):
                return dict(choice["properties"][part])
            if isinstance(part, str) and isinstance(choice.get("additionalProperties"), dict):
                return dict(choice["additionalProperties"])
            if isinstance(part, int):
                fixed = choice.get("prefixItems", [])
                items = fixed[part] if part < len(fixed) else choice.get("items")
                if isinstance(items, dict):
                    return dict(items)
        return {}

    def _table(self, node: Node) -> Node:
        """The node itself, or that of the table which may be left out."""
        options = choices(node)
        return self.resolved(options[0]) if "anyOf" in node and len(options) == 1 else node

    def keys(self, path: KeyPath) -> list[str]:
        """The keys that may stand in the table at the path, twins included; `schema` for `schema_`."""
        node = self._table(self.at(path))
        title = node.get("title", "")
        return [*node.get("properties", ()), *TEXT_TWINS.get(title, ()), *FILE_TWINS.get(title, ())]

    def tables(
        self, node: Node | None = None, path: KeyPath = (), depth: int = 0
    ) -> dict[KeyPath, list[str]]:
        """The keys of every table of the model by its path, in which a list of tables has index 0."""
        node = self._table(self.resolved(schema_of(self.model) if node is None else node))
        found: dict[KeyPath, list[str]] = {}
        if "properties" in node:
            found[path] = self.keys(path)
            for key, child in node["properties"].items():
                if depth < 4:
                    found |= self.tables(child, (*path, key), depth + 1)
        elif isinstance(node.get("items"), dict):
            found |= self.tables(node["items"], (*path, 0), depth)
        return found


def choices(node: Node) -> list[Node]:
    """The alternatives of a node without null; the node itself where there is but one."""
    return [option for option in node.get("anyOf", [node]) if option.get("type") != "null"]


def wanted(node: Node, leaf: str = "", kind: str = "toml") -> str:
    """Say what a key may hold: `a number from 0 to 360`, `"german" or "fork"`, `true or false`."""
    return listing(_wanted(option, leaf, kind) for option in choices(node))


def _wanted(node: Node, leaf: str, kind: str) -> str:
    if "const" in node:
        return f'"{node["const"]}"'
    if "enum" in node:
        return listing((f'"{word}"' for word in node["enum"]), most=20)
    match node.get("type"), node.get("format"):
        case "integer" | "number" as number_type, _:
            unit = unit_of(leaf)
            what = "a whole number" if number_type == "integer" else "a number"
            return what + (f" of {unit}" if unit else "") + span(node)
        case "boolean", _:
            return "true or false"
        case "string", "date":
            return "a date like 2026-11-14"
        case "string", "date-time":
            return "an instant like 2026-11-14T20:30:00Z"
        case "string", _:
            return "text in double quotes"
        case "array", _:
            pair = node.get("prefixItems", [])
            return f"a list of {len(pair)}" if pair else "a list in brackets"
        case _:
            return "a table" if kind == "toml" else "an object in braces"


def span(node: Node) -> str:
    """Say the range of a number, with a blank before it; empty where it has none."""
    low, above = node.get("minimum"), node.get("exclusiveMinimum")
    high, below = node.get("maximum"), node.get("exclusiveMaximum")
    if low is not None and high is not None:
        return f" from {number(low)} to {number(high)}"
    parts = [
        f"{word} {number(bound)}"
        for word, bound in (("at least", low), ("above", above), ("at most", high), ("below", below))
        if bound is not None
    ]
    return f", {' and '.join(parts)}" if parts else ""
