"""The schema of one model: titles and units from the names of keys, lists counted as lists."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode
from pydantic_core import CoreSchema

from optimizer.models.base import Frozen
from optimizer.words import UNIT_BY_SUFFIX, unit_of

Node = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
UNIT = "x-unit"
_NUMBERS = ("number", "integer")


class Described(GenerateJsonSchema):
    """Pydantic's schema with `$schema`, and with `x-unit` at every number whose name has a unit."""

    def generate(self, schema: CoreSchema, mode: JsonSchemaMode = "validation") -> Node:
        """Make the schema; the keys come in the order of the models."""
        made = super().generate(schema, mode)
        for node in nodes_of(made):
            _count_items(node)
            if "$ref" in node:
                node.pop("default", None)  # all keys of a table over again
            for key, child in node.get("properties", {}).items():
                add_unit(child, key)
        return {"$schema": DIALECT, **made}

    def get_title_from_name(self, name: str) -> str:
        """Write a key for people: `exposure_s` as `Exposure in seconds`."""
        return title_of(name)


def schema_of(model: type[Frozen]) -> Node:
    """Make the schema of a model, by the keys that stand in files."""
    return model.model_json_schema(by_alias=True, schema_generator=Described)


def unit_words(key: str) -> str:
    """The unit in the name of a key; of `hours` and `seconds_wanted` it is the first word."""
    first = key.split("_")[0]
    return unit_of(key) or (first if first in ("hours", "seconds") else "")


def title_of(key: str) -> str:
    """Write a key for people, with its unit: `slew_deg_s` as `Slew in degrees per second`."""
    suffix = next((each for each in UNIT_BY_SUFFIX if key.endswith(each)), "")
    words = key.removesuffix(suffix).removesuffix("_utc").replace("_", " ")
    text = words[:1].upper() + words[1:]
    if key.endswith("_utc"):
        return f"{text}, UTC"
    return f"{text} in {UNIT_BY_SUFFIX[suffix]}" if suffix else text


def with_titles(made: Node) -> None:
    """Give every key that is described a title, where it has none of its own or of what it refers to."""
    for node in nodes_of(made):
        for key, child in node.get("properties", {}).items():
            if "description" in child and "$ref" not in child:
                child.setdefault("title", title_of(key))


def add_unit(node: Node, key: str) -> None:
    """Say the unit of a key where its node is a number, or holds numbers."""
    unit, held = unit_words(key), node.get("additionalProperties")
    for choice in (node, *node.get("anyOf", ()), held if isinstance(held, dict) else {}):
        if unit and choice.get("type") in _NUMBERS:
            choice[UNIT] = unit


def nodes_of(node: Any) -> Iterator[Node]:
    """Every schema within a schema, itself first."""
    if isinstance(node, list):
        for part in node:
            yield from nodes_of(part)
    if not isinstance(node, dict):
        return
    yield node
    for key, value in node.items():
        if key in ("properties", "$defs"):
            for child in value.values():
                yield from nodes_of(child)
        elif key not in ("default", "enum", "const", "examples"):
            yield from nodes_of(value)


def _count_items(node: Node) -> None:
    """Pydantic counts what a list must hold as if it were text, where something is read before the list."""
    for text, items in (("minLength", "minItems"), ("maxLength", "maxItems")):
        if node.get("type") == "array" and text in node:
            node[items] = node.pop(text)
