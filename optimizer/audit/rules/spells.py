"""Clear and blocked spans of the night, as the request gives them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimizer.audit.clock import NIGHT_S
from optimizer.audit.rule import Breach, SpanRule, doing
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans
from optimizer.models.site import Span


def joined(scene: Scene, spans: Sequence[Span]) -> list[tuple[int, int]]:
    """The spans in seconds after the night's origin, sorted; those that touch or overlap become one."""
    spells: list[tuple[int, int]] = []
    for start, end in sorted((scene.clock.seconds(start), scene.clock.seconds(end)) for start, end in spans):
        if spells and start <= spells[-1][1]:
            spells[-1] = (spells[-1][0], max(end, spells[-1][1]))
        else:
            spells.append((start, end))
    return spells


def free_spells(scene: Scene) -> list[tuple[int, int]]:
    """Spans of the night that are clear and not blocked; the whole night where the request gives none."""
    free = joined(scene, scene.request.night.clear) if scene.request.night.clear else [(0, NIGHT_S)]
    for start, end in joined(scene, scene.request.night.blocked):
        free = [
            part
            for first, last in free
            for part in ((first, min(last, start)), (max(first, end), last))
            if part[1] > part[0]
        ]
    return free


class Clear(SpanRule):
    """Work happens inside the `clear` spans, where any are given; spans that touch count as one."""

    name = "clear"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Work outside the clear spans, with the seconds of it that are outside."""
        if not scene.request.night.clear:
            return
        clear = joined(scene, scene.request.night.clear)
        for index, span in enumerate(view.spans):
            first, last = span.start, int(view.end[index])
            if any(start <= first and last <= end for start, end in clear):
                continue
            inside = sum(max(0, min(last, end) - max(first, start)) for start, end in clear)
            yield Breach(
                index, last - first - inside, "s", f"{doing(span)}: {last - first - inside} s are not clear"
            )


class Blocked(SpanRule):
    """No work happens inside the `blocked` spans."""

    name = "blocked"

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Spans that overlap a blocked one, with the seconds they share."""
        blocked = joined(scene, scene.request.night.blocked)
        for index, span in enumerate(view.spans):
            first, last = span.start, int(view.end[index])
            shared = sum(max(0, min(last, end) - max(first, start)) for start, end in blocked)
            if shared:
                yield Breach(index, shared, "s", f"{doing(span)}: {shared} s of it are blocked")
