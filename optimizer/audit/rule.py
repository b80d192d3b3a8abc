"""What every rule offers, and what a rule offers that a span of time breaks by itself."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans, WorkSpan
from optimizer.audit.types import Floats
from optimizer.models.shots import Violation


class Rule(ABC):
    """One rule of the law (or one column's promise), with a stable snake_case name."""

    name: ClassVar[str]

    @abstractmethod
    def check(self, scene: Scene) -> Iterator[Violation]:
        """Every breach of the rule in the list; never raises, whatever the list holds."""


@dataclass(frozen=True)
class Breach:
    """A span (by index in its view) that breaks a rule, and by how much."""

    span: int
    amount: float
    unit: str
    message: str


class SpanRule(Rule):
    """A rule that a span of time breaks by itself, so that it can be asked of moved steps too.

    `while_tracking`: it is asked too of the time by which a sub lasts longer than the request says.
    """

    while_tracking: ClassVar[bool] = False

    @abstractmethod
    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Every span of the view that breaks the rule."""

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Every breach in the list as it stands."""
        stretched: dict[int, Breach] = {}
        if self.while_tracking:
            for breach in self.breaches(scene, scene.stretched_view):
                stretched[scene.stretched_view.spans[breach.span].row.place] = breach
        for breach in self.breaches(scene, scene.view):
            row = scene.view.spans[breach.span].row
            if row.place not in stretched:  # else what comes after the shutter closed is worse
                yield scene.violation(self.name, row, breach.amount, breach.unit, breach.message)
        for place, breach in stretched.items():
            yield scene.violation(self.name, scene.rows[place], breach.amount, breach.unit, breach.message)


def worst_samples(
    view: SampledSpans, excess: Floats, forgiven: float
) -> Iterator[tuple[int, WorkSpan, int, float]]:
    """The spans beyond what is forgiven, each with its index, worst sample and excess there."""
    greatest, where = view.worst(excess)
    for index in np.flatnonzero(greatest > forgiven).tolist():
        yield index, view.spans[index], int(where[index]), float(greatest[index])


KIND_WORDS = {
    "centre": "plate solve",
    "expose": "sub",
    "filter": "filter change",
    "focus": "autofocus",
    "rotate": "rotator turn",
    "settle": "settling",
}


def kind_words(kind: str) -> str:
    """A kind of step as the trade calls it: `centre` is a `plate solve`; others have their own name."""
    return KIND_WORDS.get(kind, kind)


def doing(span: WorkSpan) -> str:
    """What the telescope does in the span, in words for messages: `sub of Pelican`, `flip of Pelican`."""
    step = span.row.step
    on = f" of {step.target}" if step.target else ""
    return f"{kind_words(step.kind)}{on}"


def span_words(seconds: float) -> str:
    """A span of hour angle in minutes and seconds, for messages: `1 min 4.0 s`, `12.5 s`."""
    minutes, rest = divmod(round(seconds, 1), 60)
    return f"{minutes:.0f} min {rest:.1f} s" if minutes else f"{rest:.1f} s"


def meridian_words(hour_angle_s: float) -> str:
    """An hour angle of so many seconds, for messages: `5 min 20.0 s past the meridian`."""
    if round(hour_angle_s, 1) == 0:
        return "at the meridian"
    return f"{span_words(abs(hour_angle_s))} {'past' if hour_angle_s > 0 else 'before'} the meridian"


def angle_words(degrees: float, decimals: int | None = None) -> str:
    """An angle for messages, with so many decimals or as few as it has: `−11.600°`, `25°`."""
    return (f"{degrees:g}°" if decimals is None else f"{degrees:.{decimals}f}°").replace("-", "−")
