"""A season's JSON file (`darkfill-season/1`), read and checked: damaged or changed by hand it is refused."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

from optimizer.diagnostics.cross_rules import cross_problems
from optimizer.diagnostics.document import Document, Source
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.models.season import RigOfSeason, SeasonFile, request_sha256
from optimizer.models.shots import SHOTS_SCHEMA
from optimizer.models.targets import GoalKey, goal_key
from optimizer.reading.checking import checked
from optimizer.reading.files import parse, read_text
from optimizer.words import KeyPath, quoted, safe

CONTENT = "the season"
LARGEST_BYTES = 200_000_000  # 400 nights of a thousand targets take less
MOST_COUNTED_S = 1e12  # weighted seconds of a goal on one night, more than any request can ask for
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
    season = checked(document, SeasonFile, request_at=("rigs", 0, "request"))
    checks = (_of_rigs, _of_nights, _of_goals, _of_plans, _of_projects, _of_visits, _of_steps)
    problems = [problem for check in checks for problem in check(season, document)]
    if problems:
        raise InputError(document.in_file_order(problems))
    return season


def _of_rigs(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that rigs differ in name, that each request is the one that was planned, and what others took."""
    names: set[str] = set()
    for number, rig in enumerate(season.rigs):
        at: KeyPath = ("rigs", number)
        if number:  # those of the first are checked even where fields elsewhere are wrong
            yield from cross_problems(document, (*at, "request"))
        if rig.name in names:
            yield document.problem((*at, "name"), "another rig has this name too", ANEW)
        names.add(rig.name)
        if request_sha256(rig.request) != rig.request_sha256:
            what = "the request in this file is not the one that the season was planned for"
            yield document.problem((*at, "request_sha256"), what, ANEW)
        goals = len(rig.request.goals())
        if rig.elsewhere and len(rig.elsewhere) != goals:
            what = f"these are not {goals} numbers, one for each goal of the request"
            yield document.problem((*at, "elsewhere"), what, ANEW)


def _of_nights(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    if not season.nights:
        yield document.problem(("nights",), "there is no night", ANEW)
    for index, night in enumerate(season.nights):
        try:
            dt.date.fromisoformat(night.evening)
        except ValueError:
            yield document.problem(("nights", index, "evening"), "there is no such day in the calendar", ANEW)
            return
    places = {rig.name: place for place, rig in enumerate(season.rigs)}
    for index, night in enumerate(season.nights):
        if night.rig not in places:
            at: KeyPath = ("nights", index, "rig")
            yield document.problem(at, "there is no rig of this name in this file", ANEW)
            return
    for name in places if season.nights else ():
        if not any(night.rig == name for night in season.nights):
            yield document.problem(("nights",), f"there is no night of the rig {quoted(name)}", ANEW)
    for index, (before, after) in enumerate(pairwise(season.nights), start=1):
        if (before.evening, places[before.rig]) >= (after.evening, places[after.rig]):
            one = before.rig == after.rig
            key, told = ("evening", "this evening") if one else ("rig", "the night of this rig")
            yield document.problem(("nights", index, key), f"{told} is not after the one before it", ANEW)
            return


def _of_goals(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that the season tells a value of each goal of each request, and of no other."""
    asked = {
        (rig.name, goal_key(target, goal)) for rig in season.rigs for target, goal in rig.request.goals()
    }
    told = [(value.rig, value.goal_key) for value in season.values]
    if set(told) != asked or len(told) != len(set(told)):
        whose = "the request" if len(season.rigs) == 1 else "each request"
        yield document.problem(
            ("values",), f"these are not one value for each goal of {whose} in this file", ANEW
        )


def _of_plans(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that no night's plan takes subs that its rig's request does not ask for."""
    lacking = {rig.name: _lacking(rig) for rig in season.rigs}
    own_s = {(value.rig, value.goal_key): value.own_s for value in season.values}
    for index, night in enumerate(season.nights):
        if night.rig not in lacking:
            return  # which is told already
        told: set[GoalKey] = set()
        for place, each in enumerate(night.plan):
            at: KeyPath = ("nights", index, "plan", place)
            key = each.goal_key
            left = lacking[night.rig].get(key)
            if left is None or key in told:
                what = "told twice" if key in told else "for no goal of the request in this file"
                yield document.problem((*at, "target"), f"these subs are {what}", ANEW)
                return
            told.add(key)
            if each.frames > left:
                what = f"these are more subs than the goal lacks, which are {left}"
                yield document.problem((*at, "frames"), what, ANEW)
                return
            counted_s = each.counted_s
            if counted_s is None:
                counted_s = each.frames * own_s.get((night.rig, key), 0.0)
            if counted_s > MOST_COUNTED_S:
                what = "no subs count for so much"
                yield document.problem((*at, "frames" if each.counted_s is None else "counted_s"), what, ANEW)
                return


def _of_projects(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that there is one project for each target of the requests, with the rigs that have it."""
    rigs: dict[str, list[str]] = {}
    for rig in season.rigs:
        for target in rig.request.targets:
            rigs.setdefault(target.name, []).append(rig.name)
    if sorted(project.target for project in season.projects) != sorted(rigs):
        whose = "the request" if len(season.rigs) == 1 else "the requests"
        what = f"these are not one project for each target of {whose} in this file"
        yield document.problem(("projects",), what, ANEW)
        return
    for index, project in enumerate(season.projects):
        if list(project.rigs) != rigs[project.target]:
            what = "these are not the rigs whose requests have this target"
            yield document.problem(("projects", index, "rigs"), what, ANEW)
            return


def _of_visits(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that each visit is to a target of which its night's plan has subs."""
    for index, night in enumerate(season.nights):
        planned = {each.target for each in night.plan}
        for place, visit in enumerate(night.visits):
            if visit.target not in planned:
                at: KeyPath = ("nights", index, "visits", place, "target")
                yield document.problem(at, "the plan of this night has no subs of this target", ANEW)
                return


def _of_steps(season: SeasonFile, document: Document) -> Iterator[InputProblem]:
    """Check that each step of the season that is about a rig names one of this file."""
    names = {rig.name for rig in season.rigs}
    for index, step in enumerate(season.steps):
        if (step.rig is None) != (step.change == "week_less") or step.rig not in {None, *names}:
            yield document.problem(("steps", index, "rig"), "this step is of no rig in this file", ANEW)
            return


def _lacking(rig: RigOfSeason) -> dict[GoalKey, int]:
    """Subs that each goal of a rig lacked as the season was planned, by whatever rig it has some in hand."""
    goals = rig.request.goals()
    elsewhere = rig.elsewhere if len(rig.elsewhere) == len(goals) else (0,) * len(goals)
    return {
        goal_key(target, goal): max(0, goal.frames - max(0, goal.done + more))
        for (target, goal), more in zip(goals, elsewhere, strict=True)
    }
