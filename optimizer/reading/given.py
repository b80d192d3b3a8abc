"""What a caller in Python gives, checked before it is used: each refusal says what to give instead."""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Real
from pathlib import Path

from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.models.season_asked import SeasonAsked
from optimizer.models.shots import ShotList, Step
from optimizer.reading.load import LoadedRequest
from optimizer.words import safe

LONGEST_S = 86400.0  # as the request's own limits have it


def request_given(given: object, caller: str, *, targets_needed: bool = False) -> Request:
    """The request that was given, as it is or as `load` returned it; `caller` names the function.

    Raises TypeError where it is something else, InputError where targets are needed and it has none.
    """
    request = given.request if isinstance(given, LoadedRequest) else given
    if not isinstance(request, Request):
        raise TypeError(f"{caller} takes a request, not {_kind(given)}: {_way_to_request(given)}")
    if targets_needed:
        check_targets(request, caller)
    return request


def season_requests_given(given: object, caller: str) -> list[LoadedRequest]:
    """The requests of a season that were given, one or several, each within what is known of the sky.

    Each is as `load` returned it, or a bare request of which no file is known. Raises TypeError where one is
    something else, InputError where there is none, one has no targets, or its nights are too late.
    """
    several = list(given) if isinstance(given, list | tuple) else [given]
    if not several:
        raise refused(caller, "request", "", "there is none", "give a request, or one for each rig")
    return [_season_request(each, caller) for each in several]


def _season_request(given: object, caller: str) -> LoadedRequest:
    request = request_given(given, caller, targets_needed=True)
    asked = request.season or SeasonAsked()
    if (beyond := asked.beyond_tables(request.night.evening)) is not None:
        raise refused(caller, "season.nights", str(asked.nights), *beyond)
    return given if isinstance(given, LoadedRequest) else LoadedRequest(request, (), "")


def check_targets(request: Request, caller: str) -> None:
    """Raise InputError where a request has no targets; `caller` names the function that needs one."""
    if not request.targets:
        raise refused(caller, "targets", "", "needs at least one target", "add one to the request")


def list_given(given: object, caller: str, *, takes_steps: bool = False) -> ShotList:
    """The shot list that was given. Raises TypeError where it is something else.

    With `takes_steps` the error for bare steps says that the caller takes them together with a request.
    """
    if isinstance(given, ShotList):
        return given
    if not _are_steps(given):
        raise _no_list(given, caller)
    if takes_steps:
        name = caller.removesuffix("()")
        raise TypeError(f"bare steps do not say what they were made for: {name}(steps, request)")
    raise TypeError(f"{caller} takes a shot list, not bare steps: plan(request) makes a list")


def steps_given(given: object, caller: str) -> Sequence[Step]:
    """The steps of the list that was given, or the bare steps. Raises TypeError where it is neither."""
    if isinstance(given, ShotList):
        return given.steps
    if isinstance(given, Sequence) and _are_steps(given):
        return given
    raise _no_list(given, caller)


def path_given(given: object, caller: str, name: str) -> Path:
    """The path that was given for the argument of this name. Raises TypeError where it is something else."""
    if not isinstance(given, (str, Path)):
        raise TypeError(f"{caller}: {name} takes the path of a file or folder, not {_kind(given)}")
    return Path(given)


def seconds_given(value: object, caller: str, name: str) -> float:
    """The seconds that were given for the argument of this name.

    Raises TypeError where they are no number, InputError where they are not above 0 and at most 86400.
    """
    seconds = _number(value, caller, name)
    if not 0 < seconds <= LONGEST_S:
        remedy = "give seconds above 0, at most 86400"
        raise refused(caller, name, f"{seconds:g}", "is out of range", remedy)
    return seconds


def share_given(value: object, caller: str, name: str) -> float:
    """The share that was given, 0.01 being one percent.

    Raises TypeError where it is no number, InputError where it is not within 0 and 1.
    """
    share = _number(value, caller, name)
    if not 0 <= share <= 1:
        raise refused(caller, name, f"{share:g}", "is out of range", "give a share from 0 to 1")
    return share


def count_given(value: object, caller: str, name: str) -> int:
    """The count that was given. Raises TypeError where it is no whole number, InputError below 0."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError(f"{caller}: {name} takes a whole number, not {_kind(value)}")
    if value < 0:
        raise refused(caller, name, str(value), "is out of range", "give 0 or more")
    return value


def refused(caller: str, name: str, value: str, message: str, remedy: str) -> InputError:
    """Make the error, to be raised, for an argument of a function that cannot be used."""
    return InputError([InputProblem(caller, name, message, remedy, safe(value))])


def _number(value: object, caller: str, name: str) -> float:
    if isinstance(value, bool) or not isinstance(value, Real):
        shown = f"{_kind(value)} ({value!r})" if isinstance(value, str) else _kind(value)
        raise TypeError(f"{caller}: {name} takes a number, not {shown}: give one like 0.5 or 600")
    return float(value)


def _are_steps(given: object) -> bool:
    return (
        isinstance(given, Sequence)
        and not isinstance(given, (str, bytes))
        and all(isinstance(step, Step) for step in given)
    )


def _no_list(given: object, caller: str) -> TypeError:
    return TypeError(f"{caller} takes a shot list, not {_kind(given)}: {_way_to_list(given)}")


def _way_to_request(given: object) -> str:
    if isinstance(given, ShotList):
        return "a list keeps its own as shots.request"
    return "load(path) reads a request first"


def _way_to_list(given: object) -> str:
    if isinstance(given, (Request, LoadedRequest)):
        return "plan(request) makes one first"
    return "load_shots(path) reads a list first"


def _kind(given: object) -> str:
    if isinstance(given, (str, Path)):
        return "text" if isinstance(given, str) else "a path"
    return "None" if given is None else f"an object of the type {type(given).__name__}"
