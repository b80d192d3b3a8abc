"""What is told of goals left out, with all that it can be checked against."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from optimizer.models.request import Request
from optimizer.models.shots import Unplanned
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from optimizer.timeline.unplanned import explain_unplanned
from tests.support.timeline_nights import CRADLE, goal


class Told(NamedTuple):
    request: Request
    sky: NightSky
    windows: SkyWindows
    problem: Problem
    entries: tuple[Unplanned, ...]

    @property
    def only(self) -> Unplanned:
        (entry,) = self.entries
        return entry

    def number(self, pattern: str) -> float:
        """The number that the pattern's group finds in the one sentence."""
        found = re.search(pattern, self.only.sentence)
        assert found, self.only.sentence
        return float(found[1])


def told(request: Request) -> Told:
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    problem = build_problem(request, windows)
    plan = solve(problem).plan
    return Told(request, sky, windows, problem, explain_unplanned(request, sky, windows, problem, plan))


def cradle(*goals: dict[str, Any], **keys: Any) -> dict[str, Any]:
    return {**CRADLE, "goals": list(goals) or [goal(frames=3)], **keys}
