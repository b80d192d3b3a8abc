"""The base of every model (frozen, strict, unknown keys refused), and how a validator names a key."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field


class Frozen(BaseModel):
    """The base of all models: immutable, nothing coerced, no unknown keys, neither NaN nor infinity."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        validate_by_name=True,
        validate_by_alias=True,
    )


class KeyedError(ValueError):
    """Raised by a validator that complains of another key than its own.

    `keys` counts from the table that holds the field: `("ra",)`, `("skyline", 3, 0)`.
    """

    def __init__(self, keys: tuple[str | int, ...], text: str) -> None:
        """Keep the keys beside the text, which says what is wrong, a semicolon, and the remedy."""
        self.keys = keys
        super().__init__(text)


@dataclass(frozen=True)
class Unreadable:
    """Stands in a field for text that could not be turned into its value.

    The field refuses it with these words, and its neighbours are still checked.
    """

    keys: tuple[str | int, ...]
    text: str


def as_json_data(model: Frozen) -> dict[str, Any]:
    """Turn a model into plain data for a JSON writer: keys as in the files, instants as text."""
    return model.model_dump(mode="json", by_alias=True)


def _as_tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _readable(value: Any) -> Any:
    if isinstance(value, Unreadable):
        raise KeyedError(value.keys, value.text)
    return value


def first_control(text: str, *, allowed: str = "") -> str | None:
    """Find the first character, none of `allowed`, that could drive a terminal or break a line; else None.

    Right-to-left marks and other invisible formatting are not counted: names in some scripts need them.
    """
    return next(
        (char for char in text if char not in allowed and unicodedata.category(char) in ("Cc", "Zl", "Zp")),
        None,
    )


def _printable(text: str) -> str:
    if not text.strip():
        raise ValueError("the text is blank; give at least one visible character")
    char = first_control(text)
    if char is not None:
        raise ValueError(
            f"the text holds the control character U+{ord(char):04X}; "
            "remove it (no line breaks, tabs or escapes)"
        )
    return text


def _printable_or_empty(text: str) -> str:
    return _printable(text) if text else text


# TOML and JSON have lists, frozen models want tuples; nothing else is converted.
FromList = BeforeValidator(_as_tuple)
Readable = BeforeValidator(_readable)
# A name, or nothing.
MaybeName = Annotated[str, Field(max_length=300), AfterValidator(_printable_or_empty)]
Name = Annotated[str, Field(min_length=1, max_length=300), AfterValidator(_printable)]
Degrees = Annotated[float, Field(ge=-360, le=360)]
SecondsNotNegative = Annotated[float, Field(ge=0, le=86400)]
SecondsPositive = Annotated[float, Field(gt=0, le=86400)]
