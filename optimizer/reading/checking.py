"""From data to a model, or to every problem in it at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, get_args

from pydantic import ValidationError

from optimizer.diagnostics.cross_rules import cross_problems
from optimizer.diagnostics.document import Document
from optimizer.diagnostics.explain import explain
from optimizer.errors import InputError, InputProblem
from optimizer.models.base import Frozen
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.models.short_forms import as_typed
from optimizer.words import KeyPath

Model = TypeVar("Model", bound=Frozen)


def plan_first(file: str) -> tuple[str, str]:
    """What is wrong where a shot list is wanted and a request is given, and the command that helps."""
    name = f'"{file}"' if " " in file else file
    return (
        "this is a request, not a shot list",
        f"plan it first: darkfill plan {name}, then name the shot list that it writes",
    )


_OTHER_KIND: dict[str, Callable[[str], tuple[str, str]]] = {
    REQUEST_SCHEMA: plan_first,
    "darkfill-shots/1": lambda _: ("this is a shot list, not a request", "name the request it was made from"),
}


def checked(document: Document, model: type[Model], *, request_at: KeyPath = ()) -> Model:
    """Make a model from a document; raises InputError with all problems, in file order.

    `request_at` is the path of the request in it: its rules across objects are checked even where fields
    elsewhere are wrong.
    """
    schema = document.data.get("schema")
    if isinstance(schema, str) and schema not in get_args(model.model_fields["schema_"].annotation):
        words = _OTHER_KIND.get(schema)
        if words:  # everything else would be wrong as well
            raise InputError([document.problem(("schema",), *words(document.source(()).file))])
    problems = list(document.problems)
    made: Model | None = None
    try:
        data = _without_field_name(document, problems)
        made = model.model_validate(data, context=document.catalogue)
    except ValidationError as error:
        told = explain(error, document, as_typed(model), root=request_at)
        # what is missing may well stand in the file that could not be read
        problems += [
            problem for problem in told if not (document.incomplete and problem.message == "missing")
        ]
    problems += cross_problems(document, request_at)
    if problems or made is None:
        raise InputError(document.in_file_order(dict.fromkeys(problems)))  # of a set once, not by target
    return made


def _without_field_name(document: Document, problems: list[InputProblem]) -> dict[str, Any]:
    """The data with `schema_` told and renamed: Python's name for the field works in code, not in files."""
    if "schema_" not in document.data:
        return document.data
    problems.append(document.problem(("schema_",), "this key is not known here", "did you mean schema?"))
    data = {key: value for key, value in document.data.items() if key != "schema_"}
    return {"schema": document.data["schema_"], **data}
