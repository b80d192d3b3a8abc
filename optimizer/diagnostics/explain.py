"""pydantic's findings as problems: where they are in the file, and in our own words."""

from __future__ import annotations

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from optimizer.diagnostics.document import Document
from optimizer.diagnostics.goal_places import lacking
from optimizer.diagnostics.nodes import TEXT_TWINS, Nodes, choices
from optimizer.diagnostics.phrases import Case, phrase
from optimizer.diagnostics.unknown_keys import nearest
from optimizer.errors import InputProblem
from optimizer.models.base import Frozen, KeyedError
from optimizer.models.short_forms import DEFAULTS
from optimizer.words import KeyPath, key_text

_TWINS = {twin for twins in TEXT_TWINS.values() for twin in twins}


def explain(
    error: ValidationError, document: Document, model: type[Frozen], root: KeyPath = ()
) -> list[InputProblem]:
    """Turn every finding of pydantic into a problem with file, line, key, value, unit and remedy.

    `root` is the path of the part of the document in which a misplaced key may have been meant.
    """
    nodes = Nodes(model)
    problems: list[InputProblem] = []
    details = error.errors(include_url=False)
    # a key that is there under a slightly wrong name is not told to be missing as well
    unknown = [detail["loc"] for detail in details if detail["type"] == "extra_forbidden"]
    renamed = {
        (*path[:-1], nearest(nodes, path, document.typed_value(path), _root_of(path, root)))
        for path in unknown
    }
    seen: set[KeyPath] = set()
    told = {problem.key for problem in document.problems}
    placeless = _without_place(details, document)
    for detail in details:
        loc = _in_model(detail["loc"], nodes)
        path = _as_written(loc, detail, document)
        if (
            detail["type"] == "missing" and path[:-1] in placeless and path[-1] in ("ra_deg", "dec_deg")
        ) or _is_of_pair(loc, detail, document):
            loc = path = path[:-1]
        filled_in, path = path, document.written(path)
        missing = detail["type"] == "missing"
        if path in seen or (missing and path in renamed):
            continue
        if path != filled_in and key_text(path) in told:  # of a set or a filter, by itself
            continue
        if path[-1:] == ("goals",) and missing and document.typed_value((*path[:-1], "set")) is not None:
            continue  # what is wrong with the set is told
        seen.add(path)
        if path in placeless:
            remedy = 'give ra_deg and dec_deg, ra and dec as text, or object = "NGC 1333"'
            problems.append(document.problem(path, "this target has no place in the sky", remedy))
            continue
        # the schema knows `ra_deg` where the file says `ra`; an unknown key is in no schema at all
        node = nodes.at(loc) or nodes.at(path)
        case = Case(
            path,
            node,
            document.source(path).kind,
            document.typed_value(path),
            detail,
            nodes,
            _root_of(path, root),
        )
        words = phrase(case)
        if missing and path[-1] in DEFAULTS and filled_in[-3:-2] == ("goals",):
            words = lacking(document, nodes, filled_in, words[1]) or words
        unit = "" if detail["type"] == "extra_forbidden" else None  # nobody knows the unit of an unknown key
        if words[0]:
            problems.append(document.problem(path, *words, unit=unit))
    return problems


def _root_of(path: KeyPath, root: KeyPath) -> KeyPath:
    """Where to look for the right place of a misplaced key: in the request if it stands there."""
    return root if path[: len(root)] == root else ()


def _is_of_pair(loc: KeyPath, detail: ErrorDetails, document: Document) -> bool:
    """Whether a finding is better told of the list around: half a pair, or a list without any pairs."""
    if not loc or not isinstance(loc[-1], int):
        return False
    if detail["type"] == "missing":
        return True
    around = document.typed_value(loc[:-1])
    return detail["type"] == "tuple_type" and not any(isinstance(part, list | tuple) for part in around or ())


def _without_place(details: list[ErrorDetails], document: Document) -> set[KeyPath]:
    """Targets that lack both coordinates: told once, not twice."""
    missing = {detail["loc"] for detail in details if detail["type"] == "missing"}
    return {path[:-1] for path in missing if path[-1] == "ra_deg" and (*path[:-1], "dec_deg") in missing}


def _in_model(loc: KeyPath, nodes: Nodes) -> KeyPath:
    """The location without pydantic's names for the branches of a union, which no file has."""
    for length in range(1, len(loc)):
        if len(choices(nodes.at(loc[:length]))) > 1:
            return loc[:length]
    return loc


def _as_written(path: KeyPath, detail: ErrorDetails, document: Document) -> KeyPath:
    """The key as the person wrote it: `ra` where the field is `ra_deg`."""
    cause = detail.get("ctx", {}).get("error")
    if isinstance(cause, KeyedError):
        # the complaint of a whole table, or of one key in it
        return (*(path if isinstance(detail["input"], dict) else path[:-1]), *cause.keys)
    leaf = path[-1] if path else ""
    if isinstance(leaf, str) and leaf.endswith("_deg") and not document.has(path):
        twin = (*path[:-1], leaf.removesuffix("_deg"))
        return twin if twin[-1] in _TWINS and document.has(twin) else path
    return path
