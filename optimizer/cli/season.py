"""`darkfill season REQUEST...`: many nights of one rig or several planned together, written and shown."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from optimizer import ctrl_c
from optimizer.cli.arguments import IncludeOutside, RequestsArgument
from optimizer.cli.failures import ExitCode, say
from optimizer.cli.output import print_json
from optimizer.cli.season_files import SeasonFiles
from optimizer.words import count, listing

if TYPE_CHECKING:
    from optimizer.errors import InputProblem
    from optimizer.models.request import Request
    from optimizer.models.season import SeasonFile
    from optimizer.reading.load import LoadedRequest

FIRST_OPTION = "--first"
TIME_LIMIT_S = 180.0
EXAMPLE = (
    "Example: darkfill season plans/long-season/projects.toml --page   plans the nights that the request's "
    "[season] names, shows what tonight is for and when each project may be finished, and writes "
    "projects.season.json, .csv, .ics (a calendar) and .html beside the request. darkfill plan then plans a "
    "night in view of it. Ctrl-C keeps the best season found so far. Several requests are several rigs that "
    "share their projects: darkfill season long.toml wide.toml"
)


def command(
    requests: RequestsArgument,
    first: Annotated[
        str | None,
        typer.Option(
            FIRST_OPTION,
            metavar="DATE|tonight",
            help="Begin with this evening (YYYY-MM-DD), not the request's; tonight: the night that runs or "
            "comes next.",
        ),
    ] = None,
    nights: Annotated[
        int | None, typer.Option("--nights", metavar="N", help="So many nights, the first one included.")
    ] = None,
    clear_odds: Annotated[
        float | None,
        typer.Option("--clear-odds", metavar="X", help="Share of nights that are clear, 0 to 1, all alike."),
    ] = None,
    gap: Annotated[
        float, typer.Option("--gap", metavar="X", help="Stop when proven this near the best, as 0.01.")
    ] = 0.01,
    rounds: Annotated[
        int | None, typer.Option("--rounds", metavar="N", help="Stop after so many rounds of replanning.")
    ] = None,
    time_limit: Annotated[
        float | None,
        typer.Option(
            "--time-limit",
            metavar="S",
            help=f"Stop after so many seconds; default: {TIME_LIMIT_S:g}, or none where --rounds is given.",
        ),
    ] = None,
    engine: Annotated[
        str,
        typer.Option(
            "--engine",
            metavar="processes|threads|dask|tcp://HOST:PORT",
            help="Work on nights in processes or threads, on a cluster of Dask here, or on one that runs.",
        ),
    ] = "processes",
    workers: Annotated[
        int,
        typer.Option(
            "--workers",
            metavar="N",
            help="How many of them; 0: one for each core, or all that a running cluster has.",
        ),
    ] = 0,
    cache: Annotated[
        Path | None,
        typer.Option(
            "--cache",
            metavar="DIR",
            help="Folder for what is known of nights; default: DARKFILL_CACHE, or your cache folder.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Folder for the files, made if missing; default: beside the (first) request.",
        ),
    ] = None,
    include_outside: IncludeOutside = False,
    page: Annotated[
        bool, typer.Option("--page", help="Draw the season as well: STEM.season.html beside the others.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the season as JSON to stdout, nothing else.")
    ] = False,
) -> ExitCode:
    """Plan a season: what is tonight for, when is each project finished, what cannot be, how surely?"""
    from optimizer.cli.loading import announce, writable_folder
    from optimizer.cli.progress import SeasonLine
    from optimizer.report.season_view import season_view
    from optimizer.report.tables import show
    from optimizer.season.agreeing import rigs_given

    limit_s = _limits(gap, rounds, time_limit, workers, engine)
    loaded = _loaded(requests, first, nights, clear_odds, include_outside=include_outside)
    agreed = rigs_given(loaded, "season")
    files = SeasonFiles(writable_folder(requests[0], out), requests[0], with_page=page)
    announce(*loaded, but=agreed.answered)
    for doubt in agreed.lines:
        say(f"warning: {doubt}")
    amiss: list[str] = []
    try:
        with SeasonLine() as line:
            season = _planned(
                loaded,
                engine=engine,
                workers=workers,
                cache=cache,
                gap=gap,
                rounds=rounds,
                time_limit_s=limit_s,
                tell=line.tell,
                say=lambda sentence: None if sentence in agreed.lines else amiss.append(sentence),
            )
    finally:
        for sentence in amiss:
            say(sentence)
    ctrl_c.keep()
    if not any(night.plan for night in season.nights):
        if not any(night.odds for night in season.nights):
            say("none of these nights has any odds of clear sky; no season was written")
        else:
            sure = season.proof.bound == 0
            what = "nothing can be scheduled" if sure else "no plan was found, though one may exist,"
            say(f"{what} in any of these nights; no season was written")
        files.set_aside()
        return ExitCode.NOTHING_TO_SCHEDULE
    try:
        files.write(season)
    finally:  # a disk that refuses the files loses nobody the answer
        if as_json:
            print_json(season)
        else:
            show(season_view(season))
            sys.stdout.flush()
    return _audited(season)


def _audited(season: SeasonFile) -> ExitCode:
    """Done, unless plans of some nights were left out because they broke rules; then say so."""
    broken = [night.evening for night in season.nights if night.broken_rules]
    if not broken:
        return ExitCode.DONE
    nights = count(len(broken), "night")
    rules = listing(dict.fromkeys(rule for night in season.nights for rule in night.broken_rules), "and")
    say(f"the plans of {nights} failed their audit ({rules}) and were left out; this is a defect of darkfill")
    return ExitCode.VIOLATIONS


def _planned(requests: list[LoadedRequest], **options: Any) -> SeasonFile:
    from optimizer import season

    return season(requests, **options).file


def _limits(
    gap: float, rounds: int | None, time_limit: float | None, workers: int, engine: str
) -> float | None:
    """The time limit that holds. Raises InputError where an option is out of its range."""
    from optimizer.cli.loading import positive_seconds, refused
    from optimizer.season.engines.kinds import NAMES, is_engine

    if not 0 <= gap < 1:
        raise refused("--gap", f"{gap:g}", "is out of range", "give a share from 0 to below 1, like 0.01")
    if rounds is not None and rounds < 0:
        raise refused("--rounds", str(rounds), "is out of range", "give 0 or more")
    if workers < 0:
        raise refused("--workers", str(workers), "is out of range", "give 0 (one for each core) or more")
    if not is_engine(engine):
        raise refused("--engine", engine, "is no engine", f"give {NAMES}")
    positive_seconds("--time-limit", time_limit)
    return TIME_LIMIT_S if time_limit is None and rounds is None else time_limit


def _loaded(
    requests: list[Path],
    first: str | None,
    nights: int | None,
    clear_odds: float | None,
    *,
    include_outside: bool,
) -> list[LoadedRequest]:
    """The requests with the season that the options ask for; of a later one without a season, without.

    Raises InputError with the problems of all of them, or where an option is out of its range.
    """
    from optimizer.cli.loading import load
    from optimizer.errors import InputError

    loaded: list[LoadedRequest] = []
    problems: list[InputProblem] = []
    evening = first
    for path in requests:
        try:
            own = load(path, evening=evening, evening_from=FIRST_OPTION, include_outside=include_outside)
        except InputError as error:
            problems += error.problems
            continue
        if first is not None:  # tonight is that of the first rig
            evening = own.request.night.evening.isoformat()
        if not loaded or own.request.season is not None:
            own = replace(own, request=_season_asked(own.request, first, nights, clear_odds))
        loaded.append(own)
    if problems:
        raise InputError(dict.fromkeys(problems))  # of a file that several include once
    return loaded


def _season_asked(
    request: Request, first: str | None, nights: int | None, clear_odds: float | None
) -> Request:
    """The request with the season that the options ask for. Raises InputError where one is out of range."""
    from optimizer.cli.loading import refused
    from optimizer.models.season_asked import MOST_NIGHTS, SeasonAsked

    if nights is not None and not 1 <= nights <= MOST_NIGHTS:
        raise refused("--nights", str(nights), "is out of range", f"give 1 to {MOST_NIGHTS}")
    if clear_odds is not None and not 0 <= clear_odds <= 1:
        remedy = "give a share from 0 to 1, like 0.4"
        raise refused("--clear-odds", f"{clear_odds:g}", "is out of range", remedy)
    changes: dict[str, object] = {}
    if first is not None:
        changes["first"] = None  # the evening with which the request was loaded
    if nights is not None:
        changes["nights"] = nights
    if clear_odds is not None:
        changes |= {"clear_odds": clear_odds, "clear_odds_by_evening": ()}
    asked = (request.season or SeasonAsked()).model_copy(update=changes)
    if (beyond := asked.beyond_tables(request.night.evening)) is not None:
        raise refused("--nights", str(asked.nights), *beyond)
    return request.model_copy(update={"season": asked})
