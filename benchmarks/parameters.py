"""Parameters of the search as a command line gives them: `constraint_model=false,few_runs=100`."""

from __future__ import annotations

import argparse
from dataclasses import fields

from optimizer.packing.parameters import DEFAULT, SearchParameters

Number = bool | int | float
Changed = dict[str, Number]
SWITCHES = tuple(
    field.name for field in fields(SearchParameters) if isinstance(getattr(DEFAULT, field.name), bool)
)


def changed_parameters(text: str) -> Changed:
    """Read fields of `SearchParameters` with their new values, parted by commas.

    Raises argparse.ArgumentTypeError where a field is unknown, or a value is not of its kind. Fields that
    hold more than one number cannot be given.
    """
    known = {field.name: getattr(DEFAULT, field.name) for field in fields(SearchParameters)}
    known = {name: usual for name, usual in known.items() if isinstance(usual, bool | int | float)}
    found: Changed = {}
    for part in text.split(","):
        name, _, value = (each.strip() for each in part.partition("="))
        if name not in known:
            raise argparse.ArgumentTypeError(f"{name!r} is no parameter; there are {', '.join(known)}")
        found[name] = _like(known[name], name, value)
    return found


def _like(usual: Number, name: str, value: str) -> Number:
    if isinstance(usual, bool):
        if value not in ("true", "false"):
            raise argparse.ArgumentTypeError(f"{name} is true or false, not {value!r}")
        return value == "true"
    try:
        return type(usual)(value)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{name} is a number such as {usual:g}, not {value!r}") from error
