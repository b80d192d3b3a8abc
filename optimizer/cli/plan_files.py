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

    def __init__(self, paths: list[Path]) -> None:
        """`paths`: of JSON and CSV, and of the page where one is wanted."""
        self.json, self.csv, *pages = paths
        self.page = pages[0] if pages else None
        self.written: list[Path] = []
        self.refused: OutputError | None = None

    def write(self, shots: ShotList) -> None:
        """Write JSON and CSV, both or neither. Raises OutputError."""
        from optimizer import save

        save(shots, self.json, replace=True)
        self.written += [self.json, self.csv]

    def draw(self, shots: ShotList) -> None:
        """Draw the page where one is wanted; hurried, leave it out and an older one not in its place."""
        from optimizer import chart
        from optimizer.export.atomic import write_atomically

        if self.page is None:
            return
        if _hurried(shots):
            if self.page not in self.written:
                say("stopped by Ctrl-C: the page was left out")
                self.set_aside([self.page])
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
        """Tell each file that was written."""
        for path in self.written:
            say(f"wrote {path}")

    def set_aside(self, paths: list[Path]) -> None:
        """Rename what an earlier run left there, so that nobody takes it for tonight's; say so."""
        from optimizer.export.atomic import set_aside

        try:
            for path, old in set_aside(paths).items():
                say(f"{path} is of an earlier run: renamed to {old.name}")
        except OSError as error:
            say(f"{paths[0]} is of an earlier run and could not be renamed: {error.strerror}")


def _hurried(shots: ShotList) -> bool:
    """Whether Ctrl-C came once more than the search needed to end."""
    return ctrl_c.presses() > (shots.proof.status == "stopped")
