"""The files of a season: STEM.season.json, its table, its calendar and its page, all or none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from optimizer.errors import InputProblem, OutputError
from optimizer.export.atomic import write_beside_older
from optimizer.export.csv_file import table_text
from optimizer.models.base import Frozen, as_json_data
from optimizer.models.season import SeasonFile, Share
from optimizer.models.site import Date
from optimizer.words import safe

ENDINGS = ("json", "csv", "ics", "html")


class SeasonRow(Frozen):
    """One row of a season's table: subs of one goal on one night, or a night on which nothing is planned."""

    evening: Date
    rig: str
    odds: Share
    dark_s: int
    moonless_dark_s: int
    moon_illuminated: Share
    target: str | None = None
    filter: str | None = None
    exposure_s: float | None = None
    gain: int | None = None
    offset: int | None = None
    binning: int | None = None
    frames: int = 0


COLUMNS = tuple(SeasonRow.model_fields)


def season_paths(folder: Path, request: Path) -> dict[str, Path]:
    """The path of each file of a request's season, by its ending: json, csv, ics and html."""
    return {ending: folder / f"{request.stem}.season.{ending}" for ending in ENDINGS}


def saved_paths(place: Path, season: SeasonFile) -> dict[str, Path]:
    """The path of each file of a season: in a folder by the first evening, or beside a JSON file's name.

    Raises OutputError where the name is neither that of a folder nor of a JSON file, or the folder cannot be
    made.
    """
    if place.is_dir() or not place.suffix:
        stem = place / f"{season.nights[0].evening}.season.json"
    elif place.suffix.lower() == ".json":
        stem = place
    else:
        what = f"cannot be written: the ending {safe(place.suffix)} is not known"
        remedy = "name a folder, or a file that ends in .json"
        raise OutputError([InputProblem(safe(str(place)), "", what, remedy)])
    try:
        stem.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"cannot be written: the folder cannot be made ({error.strerror})"
        raise OutputError([InputProblem(safe(str(place)), "", what, "name another folder")]) from error
    return {ending: stem.with_suffix(f".{ending}") for ending in ENDINGS}


def season_json(season: SeasonFile) -> str:
    """Write a season as JSON text, indented, with a line end after it."""
    return json.dumps(as_json_data(season), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def season_csv(season: SeasonFile) -> str:
    """Write a header and a row for each night and goal that it takes, in the order of the file."""
    return table_text(COLUMNS, _rows(season))


def _rows(season: SeasonFile) -> Iterator[SeasonRow]:
    for night in season.nights:
        sky = SeasonRow(
            evening=night.evening,
            rig=night.rig,
            odds=night.odds,
            dark_s=round(night.dark_s),
            moonless_dark_s=round(night.moonless_dark_s),
            moon_illuminated=round(night.moon_illuminated, 3),
        )
        if not night.plan:
            yield sky
        for goal in night.plan:
            yield sky.model_copy(update=goal.model_dump(include=set(COLUMNS)))


def save_new_season(season: SeasonFile, paths: dict[str, Path], page: bytes | None) -> dict[Path, Path]:
    """Write a season's files, all or none; what has these names, or the page's, becomes NAME.old.

    `paths` as `season_paths` gives them; without `page` no page is written. Returns the new path of each file
    that was there. Raises OutputError as `write_beside_older` does.
    """
    from optimizer.export.season_calendar import season_calendar

    contents = {
        paths["json"]: season_json(season).encode(),
        paths["csv"]: season_csv(season).encode(),
        paths["ics"]: season_calendar(season, paths["json"].name).encode(),
    }
    if page is not None:
        contents[paths["html"]] = page
    return write_beside_older(contents, [paths["html"]])
