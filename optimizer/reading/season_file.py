"""A season's JSON file (`darkfill-season/1`), read and checked: damaged or changed by hand it is refused."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

from optimizer.diagnostics.document import Document, Source
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.models.season import SeasonFile, request_sha256
from optimizer.models.shots import SHOTS_SCHEMA
from optimizer.models.targets import goal_key
from optimizer.reading.checking import checked
from optimizer.reading.files import parse, read_text
from optimizer.words import KeyPath, safe

CONTENT = "the season"
LARGEST_BYTES = 200_000_000  # 400 nights of a thousand targets take less
ANEW = "plan the season anew with darkfill season REQUEST"


def read_season(path: Path) -> SeasonFile:
    """Read a season from its JSON file.

    Raises InputError with every problem where it cannot be used: it is something else, damaged, or what it
    says of its request, goals and nights does not hold together.
    """
    text = read_text(path, str(path), content=CONTENT, largest_bytes=LARGEST_BYTES)
    data = parse(text, str(path), "json", content=CONTENT)
    return _season(data, Source(safe(str(path)), "json", text))


def season_from_data(data: dict[str, Any], name: str) -> SeasonFile:
    """Make a season from plain data, as `json` reads it; `name` stands for the file in messages.

    Raises InputError with every problem; none of them has a line.
    """
    return _season(data, Source(safe(name), "json"))


def _season(data: dict[str, Any], source: Source) -> SeasonFile:
    document = Document(data, {(): source})
    other = {
        REQUEST_SCHEMA: (
            "this is a request, not a season",
            "name the file that darkfill season wrote for it",
        ),
        SHOTS_SCHEMA: ("this is a shot list, not a season", "name the file that darkfill season wrote"),
    }.get(str(data.get("schema")))
    if other is not None:
        raise InputError([document.problem(("schema",), *other)])
    season = checked(document, SeasonFile, request_at=("request",))
    problems = [*_of_request(season, document), *_of_nights(season, document), *_of_goals(season, document)]
    if problems:
        raise InputError(document.in_file_order(problems))
    return season


def _of_request(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    if request_sha256(season.request) != season.request_sha256:
        what = "the request in this file is not the one that the season was planned for"
        yield document.problem(("request_sha256",), what, ANEW)


def _of_nights(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    if not season.nights:
        yield document.problem(("nights",), "there is no night", ANEW)
    for index, night in enumerate(season.nights):
        try:
            dt.date.fromisoformat(night.evening)
        except ValueError:
            yield document.problem(("nights", index, "evening"), "there is no such day in the calendar", ANEW)
            return
    for index, (before, after) in enumerate(pairwise(season.nights), start=1):
        if (before.rig, before.evening) == (after.rig, after.evening) or (
            before.rig == after.rig and after.evening < before.evening
        ):
            at: KeyPath = ("nights", index, "evening")
            yield document.problem(at, "this evening is not after the one before it", ANEW)
            return


def _of_goals(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that the season tells a value of each goal of its request, and of no other."""
    asked = {goal_key(target, goal) for target, goal in season.request.goals()}
    told = [value.goal_key for value in season.values]
    if set(told) != asked or len(told) != len(set(told)):
        what = "these are not one value for each goal of the request in this file"
        yield document.problem(("values",), what, ANEW)
