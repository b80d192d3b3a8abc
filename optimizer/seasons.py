"""A season as Python has it: planned or read from its file, saved, and asked what to shoot tonight."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.models.season import (
    FrameValue,
    MonthWorth,
    Project,
    RigOfSeason,
    SeasonFile,
    SeasonNight,
    SeasonPolicy,
    SeasonProof,
)

if TYPE_CHECKING:
    from optimizer.models.request import Request
    from optimizer.models.shots import ShotList
    from optimizer.reading.load import LoadedRequest
    from optimizer.season.tonight import InView


class Season:
    """Many nights of one rig or several, planned together under odds of clear sky, with a proof.

    Args:
        file: All that is known of the season, as its file STEM.season.json has it. `season(request)` plans
            one, `Season.load(path)` reads one.

    Attributes:
        file: As given; what follows is taken from it.
        rigs: One entry for each rig: its name, and its request as it was planned, with what was in hand then.
        request: The request of the first rig.
        nights: One entry for each night of each rig: its odds, its sky, its audited plan if it is clear.
        projects: One entry for each target: what is left, which nights can serve it, when it is finished.
        values: What one sub of each goal is worth in view of the season, in weighted seconds.
        months: By how much, at most, one more clear night of each month raises the bound: weighted seconds.
        proof: Value and bound of all plans together in weighted seconds, by odds.
        policy: What is to be expected by simulated weathers; None where none were simulated.

    Example:
        >>> from optimizer import Season
        >>> found = Season.load("nights/projects.season.json")
        >>> found.tonight().season.targets[0].sentence.split(";")[0]
        'On, 2 h 12 min of open shutter'
    """

    def __init__(self, file: SeasonFile) -> None:
        """Keep what is known of a season. Raises TypeError where something else is given."""
        if not isinstance(file, SeasonFile):
            raise TypeError("Season() takes what a season's file holds: Season.load(path) reads one")
        self.file = file

    @classmethod
    def load(cls, path: str | Path) -> Season:
        """Read a season from its JSON file.

        Raises InputError where the file is none, is damaged, or does not hold together; TypeError where
        something else than a path is given.
        """
        from optimizer.reading.given import path_given
        from optimizer.reading.season_file import read_season

        return cls(read_season(path_given(path, "Season.load()", "path")))

    @property
    def rigs(self) -> tuple[RigOfSeason, ...]:
        """The rigs, in the order in which they were given."""
        return self.file.rigs

    @property
    def request(self) -> Request:
        """The request of the first rig."""
        return self.file.request

    @property
    def nights(self) -> tuple[SeasonNight, ...]:
        """The nights in the order of their evenings, and of the rigs on each."""
        return self.file.nights

    @property
    def projects(self) -> tuple[Project, ...]:
        """The targets, in the order of the requests."""
        return self.file.projects

    @property
    def values(self) -> tuple[FrameValue, ...]:
        """What one sub of each goal is worth tonight, shot by each rig that has it."""
        return self.file.values

    @property
    def months(self) -> tuple[MonthWorth, ...]:
        """By how much one more clear night of each month raises the bound, at most."""
        return self.file.months

    @property
    def proof(self) -> SeasonProof:
        """How near the plans are to the best."""
        return self.file.proof

    @property
    def policy(self) -> SeasonPolicy | None:
        """What is to be expected; None where no weather was simulated."""
        return self.file.policy

    def __repr__(self) -> str:
        """The span, the targets and the proof; not all nights."""
        nights, proof = self.nights, self.proof
        return (
            f"Season({nights[0].evening} to {nights[-1].evening}, {len(self.projects)} targets, "
            f"value_s={proof.value}, gap={proof.gap:.4f})"
        )

    def save(self, place: str | Path, *, page: bool = False) -> tuple[Path, ...]:
        """Write the season as JSON, CSV and calendar, all files whole or none changed.

        Args:
            place: A folder, made where it is missing: the files are EVENING.season.json and so on, EVENING
                being that of the first night. Or the name of the JSON file, ending in .json: the others get
                the same name with endings of their own.
            page: Draw the season as well: a page for any browser, ending in .html.

        Returns:
            The files written. What had these names before is kept as NAME.old (then NAME.old.2, and so on).

        Raises:
            optimizer.errors.OutputError: A file cannot be written; nothing was changed then.
            TypeError: Something else than a path is given.
        """
        from optimizer.export.season_files import save_new_season, saved_paths
        from optimizer.reading.given import path_given

        paths = saved_paths(path_given(place, "save()", "place"), self.file)
        drawn = None
        if page:
            from optimizer.report.season_page.page import season_page

            drawn = season_page(self.file).encode()
        save_new_season(self.file, paths, drawn)
        return tuple(path for ending, path in paths.items() if page or ending != "html")

    def tonight(
        self,
        request: Request | LoadedRequest | None = None,
        *,
        rig: str | None = None,
        time_limit_s: float | None = None,
        tell: Callable[[float, float, float], None] | None = None,
    ) -> ShotList:
        """Plan a night in view of this season, as `plan` does, and audit it.

        Args:
            request: The request as it is now, or what `load` returned: what is in hand and the evening are
                taken from it, all else must be as it was when the season was planned. None: the season's own
                request on the first of its nights.
            rig: The name of the rig whose night it is, of several; None: that of the request, or where there
                is none, the first.
            time_limit_s: Seconds for sky, windows and search, in place of `aim.time_limit_s`; above 0, at
                most 86400.
            tell: Called at each better plan or bound with the seconds of search, the value and the bound
                (weighted seconds), perhaps from another thread.

        Returns:
            The list. Its `season` tells what the night gives the season and, for each target, why it is on or
            off tonight; its `proof` is of tonight alone, by what subs are worth in view of the season.

        Raises:
            InputError: The season is another request's, the evening is none of its nights, or the time limit
                is out of range.
            KeyboardInterrupt: Ctrl-C came before there was a plan.
            TypeError: Something else than a request was given, or a time limit that is no number.
            ValueError: The season has no rig of that name, or the request is another rig's.
        """
        from optimizer.night import Night
        from optimizer.reading.given import seconds_given

        view, _ = self._in_view(request, "tonight()", rig)
        asked = view.as_planned
        if time_limit_s is not None:
            asked = asked.with_aim(time_limit_s=seconds_given(time_limit_s, "tonight()", "time_limit_s"))
        shots = Night(asked, view=view).plan(tell)
        if shots.proof.status == "stopped" and not shots.steps:
            raise KeyboardInterrupt
        return shots

    def doubts(self, request: Request | LoadedRequest, *, rig: str | None = None) -> tuple[str, ...]:
        """Say what makes this season's values old for a request as it is now: one line each, mostly none.

        `rig` is as for `tonight`. Raises InputError where the season is another request's or the evening is
        none of its nights, TypeError where something else than a request is given, ValueError where the
        season has no rig of that name or the request is another rig's.
        """
        return self._in_view(request, "doubts()", rig)[1]

    def _in_view(
        self, request: Request | LoadedRequest | None, caller: str, rig: str | None
    ) -> tuple[InView, tuple[str, ...]]:
        from optimizer.reading.given import request_given
        from optimizer.reading.load import LoadedRequest
        from optimizer.season.matching import in_view

        names = [each.name for each in self.rigs]
        if rig is not None and rig not in names:
            raise ValueError(f"{caller}: this season has no rig {rig!r}; its rigs: {', '.join(names)}")
        name = rig or (request.rig if isinstance(request, LoadedRequest) else "")
        if request is None:
            return in_view(self.file, self.file.first_request(name), rig=name or names[0])
        asked = request_given(request, caller)
        if rig is not None and asked.rig not in ("", rig):
            raise ValueError(f"{caller}: the request is of the rig {asked.rig!r}, not of {rig!r}")
        return in_view(self.file, asked, rig=name)
