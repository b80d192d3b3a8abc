"""What every model shares: frozen, strict, unknown keys refused; and the way input errors are told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field


class Frozen(BaseModel):
    """Immutable, strict base: no coercion, no unknown keys, no NaN or infinity."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, populate_by_name=True
    )


@dataclass(frozen=True)
class InputProblem:
    """One thing wrong with an input file, and what would be right.

    `key` is the path as written in the file (`targets[1].goals[0].filter`), `line` is 1-based.
    """

    file: str
    key: str
    message: str
    remedy: str
    value: str = ""
    unit: str = ""
    line: int | None = None

    def __str__(self) -> str:
        """One line for people: place, value with unit, what is wrong, what would be right."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        shown = self.key
        if self.value:
            shown += f" = {self.value}"
        if self.unit:
            shown += f" [{self.unit}]"
        return f"{place}: {shown}: {self.message}; {self.remedy}" if shown else (
            f"{place}: {self.message}; {self.remedy}"
        )


class InputError(Exception):
    """The input cannot be used; carries every problem found, not the first alone."""

    def __init__(self, problems: Iterable[InputProblem]) -> None:
        """Keep the problems, sorted by nothing: they come in file order."""
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


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


# TOML and JSON have lists, frozen models want tuples; nothing else is converted.
FromList = BeforeValidator(_as_tuple)
Name = Annotated[str, Field(min_length=1, max_length=300)]
Degrees = Annotated[float, Field(ge=-360, le=360)]
SecondsNotNegative = Annotated[float, Field(ge=0, le=86400)]
SecondsPositive = Annotated[float, Field(gt=0, le=86400)]
