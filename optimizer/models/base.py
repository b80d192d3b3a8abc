"""What every model shares: frozen, strict, unknown keys refused; and the way input errors are told."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field


class Frozen(BaseModel):
    """Immutable, strict base: no coercion, no unknown keys, no NaN or infinity."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        validate_by_name=True,
        validate_by_alias=True,
    )


@dataclass(frozen=True)
class InputProblem:
    """One thing wrong with an input file, and what would be right.

    `key` is the path as written in the file, lists counted from 0 (`targets[1].goals[0].filter`); `where`
    says the same in words (`1st goal of target "Cradle Nebula"`), so nobody has to count. `line` is
    1-based. `value` is as written, made safe for a terminal; `unit` in words; both may be empty.
    """

    file: str
    key: str
    message: str
    remedy: str
    value: str = ""
    unit: str = ""
    line: int | None = None
    where: str = ""

    def __str__(self) -> str:
        """One line for people: place, value with unit, what is wrong, what would be right."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        shown = self.key
        if self.value:
            shown += f" = {self.value}" if shown else self.value
        if self.unit:
            shown += f" [{self.unit}]"
        if self.where:
            shown += f" ({self.where})" if shown else self.where
        said = f"{self.message}; {self.remedy}" if self.remedy else self.message
        return f"{place}: {shown}: {said}" if shown else f"{place}: {said}"


class InputError(Exception):
    """The input cannot be used; carries every problem found, not the first alone."""

    def __init__(self, problems: Iterable[InputProblem]) -> None:
        """Keep the problems in the order given: they come in file order."""
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class KeyedError(ValueError):
    """A validator's complaint that names another key than its own.

    `keys` counts from the table that holds the field: `("ra",)`, `("skyline", 3, 0)`.
    """

    def __init__(self, keys: tuple[str | int, ...], text: str) -> None:
        """Keep the keys beside the text (what is wrong; the remedy)."""
        self.keys = keys
        super().__init__(text)


@dataclass(frozen=True)
class Unreadable:
    """Stands in a field for text that could not be turned into its value.

    The field refuses it with these words, and its neighbours are still checked.
    """

    keys: tuple[str | int, ...]
    text: str


UNIT_BY_SUFFIX = {
    "_deg_s": "degrees per second",
    "_deg": "degrees",
    "_min": "minutes",
    "_mag": "magnitudes",
    "_hpa": "hectopascals",
    "_c": "degrees Celsius",
    "_m": "metres",
    "_h": "hours",
    "_s": "seconds",
}


def unit_of(key: str) -> str:
    """Unit of a key, read from its name (`exposure_s` -> seconds); empty where it has none."""
    leaf = key.rsplit(".", 1)[-1]
    return next((unit for suffix, unit in UNIT_BY_SUFFIX.items() if leaf.endswith(suffix)), "")


def _as_tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _readable(value: Any) -> Any:
    if isinstance(value, Unreadable):
        raise KeyedError(value.keys, value.text)
    return value


def first_control(text: str, *, allowed: str = "") -> str | None:
    """The first character that could drive a terminal or break a line, but those allowed; None without one.

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


# TOML and JSON have lists, frozen models want tuples; nothing else is converted.
FromList = BeforeValidator(_as_tuple)
Readable = BeforeValidator(_readable)
Name = Annotated[str, Field(min_length=1, max_length=300), AfterValidator(_printable)]
Degrees = Annotated[float, Field(ge=-360, le=360)]
SecondsNotNegative = Annotated[float, Field(ge=0, le=86400)]
SecondsPositive = Annotated[float, Field(gt=0, le=86400)]
