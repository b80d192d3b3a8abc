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
    """A rule that a span of time breaks by itself, so that it can be asked of moved steps too."""

    @abstractmethod
    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Every span of the view that breaks the rule."""

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Every breach in the list as it stands."""
        for breach in self.breaches(scene, scene.view):
            row = scene.view.spans[breach.span].row
            yield scene.violation(self.name, row, breach.amount, breach.unit, breach.message)


def worst_samples(
    view: SampledSpans, excess: Floats, forgiven: float
) -> Iterator[tuple[int, WorkSpan, int, float]]:
    """The spans beyond what is forgiven, each with its index, worst sample and excess there."""
    greatest, where = view.worst(excess)
    for index in np.flatnonzero(greatest > forgiven).tolist():
        yield index, view.spans[index], int(where[index]), float(greatest[index])


KIND_WORDS = {"centre": "plate solve", "focus": "autofocus", "expose": "sub", "filter": "filter change"}


def doing(span: WorkSpan) -> str:
    """What the telescope does in the span, in words for messages: `sub of Pelican`, `flip of Pelican`."""
    step = span.row.step
    on = f" of {step.target}" if step.target else ""
    return f"{KIND_WORDS.get(step.kind, step.kind)}{on}"
