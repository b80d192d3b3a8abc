"""Where a list begins that goes on with a night: does it begin there, and can the mount stand like that?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.audit.begun import Start
from optimizer.audit.clock import NIGHT_S
from optimizer.audit.rows import NO_SIDE, NO_TARGET, SIDE_NAMES
from optimizer.audit.rule import Rule, kind_words, span_words
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import hour_angle_s
from optimizer.audit.zone import excess
from optimizer.models.shots import Violation


class Begins(Rule):
    """A list that goes on with a night begins where `continues.begin` says, and that holds together.

    It is asked of such lists alone.
    """

    name = "begins"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """A first step at another instant, what cannot be so, and a mount that is left to itself."""
        start = scene.start
        if start is None:
            return
        for unit, message in (*self._unknown(scene, start), *self._impossible(scene, start)):
            yield scene.violation(self.name, None, 1, unit, message)
        yield from self._instants(scene, start)
        if not scene.rows:
            if start.tracks:
                yield scene.violation(
                    self.name,
                    None,
                    1,
                    "steps",
                    f"the list has no steps, so that the mount is left tracking {start.begin.target}",
                )
            return
        first = scene.rows[0]
        if first.start != start.second:
            yield scene.violation(
                self.name,
                first,
                abs(first.start - start.second),
                "s",
                f"{kind_words(first.kind)} begins the list at {scene.clock.text(first.start)}; it goes on "
                f"from {scene.clock.text(start.second)}",
            )
        yield from self._focus(scene, start)

    def _focus(self, scene: Scene, start: Start) -> Iterator[Violation]:
        """An exposure before the autofocus that was due already."""
        acts = (row for row in scene.rows if row.kind in ("focus", "expose"))
        act = next(acts, None)
        if start.begin.focus_due and act is not None and act.kind == "expose":
            yield scene.violation(
                self.name, act, 1, "runs", "sub without the autofocus that is due as the list begins"
            )

    def _instants(self, scene: Scene, start: Start) -> Iterator[Violation]:
        """Instants outside the night, and those that come after the beginning."""
        outside = max(-start.second, start.second - NIGHT_S)
        if outside > 1:
            yield scene.violation(self.name, None, outside, "s", f"it begins {outside} s outside the night")
        for second, what in (
            (start.focused, "the latest autofocus ended"),
            (start.stands_since, "the mount ceased to track"),
        ):
            if second is not None and second > start.second:
                after = second - start.second
                message = f"as the list begins {what} {after} s later, which nobody can know"
                yield scene.violation(self.name, None, after, "s", message)

    @staticmethod
    def _unknown(scene: Scene, start: Start) -> Iterator[tuple[str, str]]:
        """Names that the request does not know."""
        begin = start.begin
        if begin.target is not None and start.target == NO_TARGET:
            yield (
                "names",
                f"as the list begins the mount is on {begin.target!r}; the request has no such target",
            )
        if begin.filter is not None and all(each.name != begin.filter for each in scene.request.filters):
            yield (
                "names",
                f"as the list begins the filter is {begin.filter!r}; the request has no such filter",
            )

    @staticmethod
    def _impossible(scene: Scene, start: Start) -> Iterator[tuple[str, str]]:
        """What cannot be together."""
        begin = start.begin
        if not scene.german and start.side != NO_SIDE:
            yield "sides", f"the list begins on {SIDE_NAMES[start.side]}; a fork has none"
        elif scene.german and not start.parked and start.side == NO_SIDE:
            yield "sides", f"as the list begins the mount is on {begin.target}, but on no known pier side"
        if start.parked:
            told = {
                "pier_side": start.side != NO_SIDE and scene.german,
                "stands_since_utc": start.stands_since is not None,
                "acquired": begin.acquired,
                "undithered": begin.undithered > 0,
                "open_s": begin.open_s > 0,
            }
            given = [key for key, is_given in told.items() if is_given]
            if given:
                yield "facts", f"the mount is parked as the list begins, but {' and '.join(given)} is given"
        elif begin.acquired and start.stands_since is not None:
            yield "facts", f"{begin.target} is acquired as the list begins, but the mount stands still"


class BegunInZone(Rule):
    """A mount that tracks within the zone that is forbidden to its pier side as the list begins.

    The list cannot help that, so it is no breach: it must only leave at once, or `contact` is broken.
    """

    name = "begins"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """By how much the mount stands beyond the zone's edge."""
        start = scene.start
        if start is None or not scene.german or not start.tracks or start.target == NO_TARGET:
            return
        if start.side == NO_SIDE:
            return
        place = scene.book.places(np.array([start.target]), np.array([start.second]))
        by_itself = scene.request.mount.flip_by == "mount"
        until = scene.zone.reach_until if by_itself else scene.zone.first_until
        beyond = excess(
            scene.zone, np.array([start.side]), place.hour_angle_s, np.zeros(1), np.array([until])
        )
        forgiven = float(hour_angle_s(place.declination_deg)[0])
        for edge, where in (
            (beyond.contact, "past the limit of pier side west"),
            (beyond.flip_from, "before pier side east may be used"),
            (beyond.lower_culmination, "into the lower culmination"),
        ):
            over = float(edge[0])
            if over > forgiven:
                yield scene.violation(
                    self.name,
                    None,
                    over,
                    "s",
                    f"as the list begins the mount tracks {start.begin.target} {span_words(over)} of "
                    f"hour angle {where}: it must be moved at once",
                )
