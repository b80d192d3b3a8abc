"""Lists and instants at which a page follows the clock, and what a page then says."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from optimizer.models.shots import ShotList, Step
from optimizer.report.moment_words import MomentWords

TELL = """() => {
  dispatchEvent(new Event("pageshow"));
  const said = {};
  for (const node of document.querySelectorAll("#follow dd"))
    if (node.checkVisibility()) said[node.dataset.key] = node.textContent.replaceAll("\\u00a0", " ");
  return said;
}"""


def moved(shots: ShotList, days: int, seconds: int = 0) -> ShotList:
    """The list on another evening, to the second, for pages that say when what is; the sky is not asked."""
    by = dt.timedelta(days=days, seconds=seconds)

    def later(instant: dt.datetime | None) -> dt.datetime | None:
        return None if instant is None else instant + by

    steps = tuple(
        step.model_copy(
            update={key: later(getattr(step, key)) for key in ("start_utc", "end_utc", "latest_start_utc")}
        )
        for step in shots.steps
    )
    night = shots.request.night
    night = night.model_copy(update={"evening": night.evening + dt.timedelta(days=days)})
    return shots.model_copy(
        update={"steps": steps, "request": shots.request.model_copy(update={"night": night})}
    )


def flipped_by(shots: ShotList, flip_by: str) -> ShotList:
    """The list for a mount whose flips somebody else makes."""
    mount = shots.request.mount.model_copy(update={"flip_by": flip_by})
    return shots.model_copy(update={"request": shots.request.model_copy(update={"mount": mount})})


def instants(shots: ShotList, number: int, seed: int = 29) -> list[dt.datetime]:
    """Instants from two hours before a list to two hours after it; both sides of edges that matter come first."""
    second = dt.timedelta(seconds=1)
    steps = shots.steps
    kinds: dict[str, Step] = {step.kind: step for step in reversed(steps)}
    edges = [steps[0].start_utc, steps[-1].end_utc, *(step.start_utc for step in kinds.values())]
    found = [edge + by for edge in edges for by in (-second, 0 * second, second)]
    rng = random.Random(seed)
    first, last = steps[0].start_utc.timestamp() - 7200, steps[-1].end_utc.timestamp() + 7200
    found += [dt.datetime.fromtimestamp(rng.uniform(first, last), dt.UTC) for _ in range(number)]
    return found[:number]


@dataclass(frozen=True)
class Clocked:
    """A page under a clock of its own; `requests` and `complaints` are its, as they come."""

    page: Any
    requests: list[str]
    complaints: list[str]

    def at(self, instant: dt.datetime) -> dict[str, str]:
        """What the panel says once the page is looked at again at an instant."""
        self.page.clock.set_system_time(instant)
        return dict(self.page.evaluate(TELL))

    def hide(self, hidden: bool) -> None:
        """Put the page out of sight, or back; no clock of it is asked to go on."""
        self.page.evaluate(
            "hidden => { Object.defineProperty(document, 'hidden', {value: hidden, configurable: true});"
            " document.dispatchEvent(new Event('visibilitychange')); }",
            hidden,
        )


OpenAt = Callable[..., Clocked]


def shown_words(words: MomentWords, phase: str) -> dict[str, str]:
    """The words that a page shows of a moment: once a list is over, only that."""
    found = {"now": words.now, "next": words.next, "slack": words.slack}
    if words.flip is not None:
        found["flip"] = words.flip
    return {"now": words.now} if phase == "after" else found
