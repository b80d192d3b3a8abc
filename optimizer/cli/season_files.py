"""The files that `darkfill season` leaves, and what is told of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.cli.failures import say

if TYPE_CHECKING:
    from optimizer.models.season import SeasonFile


class SeasonFiles:
    """JSON, CSV, calendar and, where it is wanted, the page of one season."""

    def __init__(self, folder: Path, request: Path, *, with_page: bool) -> None:
        """Take the names from the request. Raises OutputError where one of the files could not be written."""
        from optimizer.export.atomic import check_writable
        from optimizer.export.season_files import season_paths

        self.paths, self.with_page = season_paths(folder, request), with_page
        check_writable([path for ending, path in self.paths.items() if with_page or ending != "html"])

    def write(self, season: SeasonFile) -> None:
        """Write all files or none, older ones renamed, and tell it. Raises OutputError."""
        from optimizer.export.season_files import save_new_season

        page = None
        if self.with_page:
            from optimizer.report.season_page.page import season_page

            page = season_page(season).encode()
        older = save_new_season(season, self.paths, page)
        self._tell_older(older)
        for ending, path in self.paths.items():
            if page is not None or ending != "html":
                say(f"wrote {path}")

    def set_aside(self) -> None:
        """Rename what an earlier run left, so that nobody takes it for this season's; say so."""
        from optimizer.export.atomic import set_aside

        try:
            self._tell_older(set_aside(list(self.paths.values())))
        except OSError as error:
            say(f"{self.paths['json']} is of an earlier run and could not be renamed: {error.strerror}")

    @staticmethod
    def _tell_older(older: dict[Path, Path]) -> None:
        from optimizer.words import listing

        if older:
            say(f"renamed older files of this season: {listing((old.name for old in older.values()), 'and')}")
