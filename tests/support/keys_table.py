"""The table of all keys of a request, from the models themselves; run as a program it prints it."""

from __future__ import annotations

import types
import typing
from typing import Any

import annotated_types
from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from optimizer.models.request import Request
from optimizer.models.rig import Camera, Focus, Mount
from optimizer.models.season_asked import SeasonAsked
from optimizer.models.short_forms import GoalSet, TypedFilter, TypedTarget
from optimizer.models.site import Night, Site
from optimizer.models.targets import Aim, Goal
from optimizer.words import unit_of

TABLES: tuple[tuple[str, type[BaseModel]], ...] = (
    ("night", Night),
    ("site", Site),
    ("mount", Mount),
    ("camera", Camera),
    ("focus", Focus),
    ("filters", TypedFilter),
    ("targets", TypedTarget),
    ("targets.goals", Goal),
    ("sets.NAME", GoalSet),
    ("aim", Aim),
    ("season", SeasonAsked),
)


def keys_table() -> str:
    """Markdown: one row a key, with unit, limits, default and meaning."""
    lines = ["| key | unit | values | default | meaning |", "|---|---|---|---|---|"]
    tables = {place.split(".")[0] for place, _ in TABLES} | {"schema_"}
    fields = [
        (f"{place}.{name}", name, field)
        for place, model in TABLES
        for name, field in model.model_fields.items()
        if (place, name) != ("targets", "goals")  # which has rows of its own
    ]
    fields += [(name, name, field) for name, field in Request.model_fields.items() if name not in tables]
    for key, name, field in fields:
        default = "required" if field.default is PydanticUndefined else _default(field.default)
        meaning = field.description or ""
        lines.append(f"| `{key}` | {unit_of(name)} | {_values(field)} | {default} | {meaning} |")
    return "\n".join(lines)


def _default(value: Any) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return str(value).lower()
    if value == ():
        return "[]"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _values(field: FieldInfo) -> str:
    low, high, words = "", "", []
    for kind, entry in _leaves(field.annotation, field.metadata):
        if isinstance(entry, annotated_types.Ge):
            low = f"{_default(entry.ge)} <="
        elif isinstance(entry, annotated_types.Gt):
            low = f"{_default(entry.gt)} <"
        elif isinstance(entry, annotated_types.Le):
            high = f"<= {_default(entry.le)}"
        elif isinstance(entry, annotated_types.Lt):
            high = f"< {_default(entry.lt)}"
        elif kind == "literal":
            words.append(f"`{entry}`")
    limits = f"{low} … {high}".strip() if low or high else ""
    return ", ".join([*words, *([limits] if limits else [])])


def _leaves(annotation: Any, metadata: typing.Iterable[Any] = ()) -> typing.Iterator[tuple[str, Any]]:
    for entry in metadata:
        yield "limit", entry
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        inner, *rest = typing.get_args(annotation)
        for entry in rest:
            yield from _limits(entry)
        yield from _leaves(inner)
    elif origin is typing.Literal:
        for value in typing.get_args(annotation):
            yield "literal", value
    elif origin in (typing.Union, types.UnionType):
        for part in typing.get_args(annotation):
            yield from _leaves(part)


def _limits(entry: Any) -> typing.Iterator[tuple[str, Any]]:
    if isinstance(entry, FieldInfo):
        for inner in entry.metadata:
            yield "limit", inner
    else:
        yield "limit", entry


if __name__ == "__main__":
    print(keys_table())
