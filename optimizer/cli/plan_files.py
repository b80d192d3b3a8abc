"""The files that `darkfill plan` leaves: the list first, then the page, and what is told of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from optimizer import ctrl_c
from optimizer.cli.failures import say

if TYPE_CHECKING:
    from optimizer.errors import OutputError
    from optimizer.models.shots import ShotList


class PlanFiles:
    """JSON, CSV and, where it is wanted, the page of one plan. Ctrl-C must be counted here, not thrown."""

    def __init__(self, folder: Path, name: str, *, with_page: bool) -> None:
        """Take the names from the request and the evening; `with_page` says that the page is wanted.

        Raises OutputError where one of the files could not be written.
        """
        from optimizer.export.atomic import check_writable
        from optimizer.export.shot_files import page_path, shot_paths

        self.json, self.csv = shot_paths(folder, name)
        self.page, self.with_page = page_path(self.json), with_page
        check_writable([self.json, self.csv, *([self.page] if with_page else [])])
        self.written: list[Path] = []
        self.older: dict[Path, Path] = {}
        self.refused: OutputError | None = None

    def write(self, shots: ShotList) -> None:
        """Write JSON and CSV, both or neither; older files are renamed. Raises OutputError."""
        from optimizer.export.shot_files import save_new_plan

        self.older = save_new_plan(shots, self.json)
        self.written += [self.json, self.csv]

    def draw(self, shots: ShotList) -> None:
        """Draw the page where one is wanted; hurried, leave it out."""
        from optimizer import chart
        from optimizer.export.atomic import write_atomically

        if not self.with_page:
            return
        if _hurried(shots):
            if self.page not in self.written:
                say("stopped by Ctrl-C: the page was left out")
            return
        write_atomically(self.page, chart(shots).encode())
        if self.page not in self.written:
            self.written.append(self.page)

    def write_again(self, shots: ShotList) -> None:
        """Write what has learnt more since: the same steps. Raises OutputError."""
        from optimizer import save

        save(shots, self.json, replace=True)
        self.draw(shots)

    def tell(self) -> None:
        """Tell what was renamed and each file that was written."""
        from optimizer.words import listing

        if self.older:
            names = listing((old.name for old in self.older.values()), "and")
            say(f"renamed older files of the same evening: {names}")
        for path in self.written:
            say(f"wrote {path}")

    def set_aside(self) -> None:
        """Rename what an earlier run left for this evening, so that nobody takes it for tonight's; say so."""
        from optimizer.export.atomic import set_aside

        try:
            self.older = set_aside([self.json, self.csv, self.page])
        except OSError as error:
            say(f"{self.json} is of an earlier run and could not be renamed: {error.strerror}")
        self.tell()


def _hurried(shots: ShotList) -> bool:
    """Whether Ctrl-C came once more than the search needed to end."""
    return ctrl_c.presses() > (shots.proof.status == "stopped")
