"""The words of a moment of the plan, in one place: the terminal's view and the page say the same.

The page's script writes them again in its own language (`templates/page.js`), and a test holds both together.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.follow.moment import Moment, place_in_run
from optimizer.models.shots import Step
from optimizer.report.picture.step_words import KIND_WORDS
from optimizer.report.words import clock, name

IN_SECONDS_S = 600  # below it seconds matter
LONGEST = 40  # letters of a name


@dataclass(frozen=True)
class MomentWords:
    """A moment in sentences without a full stop; `flip` is None for a mount that never flips."""

    now: str
    next: str
    flip: str | None
    slack: str


def moment_words(steps: Sequence[Step], moment: Moment, zone: str) -> MomentWords:
    """Put a moment of these steps into words, times local in the zone of that name."""
    return MomentWords(
        _now(steps, moment, zone), _next(steps, moment, zone), _flip(steps, moment, zone), _slack(moment)
    )


def span_words(seconds: int) -> str:
    """A span of whole seconds; from ten minutes on it is cut to the minute, so it never says too much."""
    minutes, rest = divmod(seconds, 60)
    if seconds < 60:
        return f"{seconds} s"
    if seconds < IN_SECONDS_S:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


def doing_words(steps: Sequence[Step], step: Step) -> str:
    """What a step does: `sub 7 of 12, Ha 300 s, Heart`, `slew, Heart`, `filter change, Ha, Heart`, `park`."""
    parts = [KIND_WORDS[step.kind]]
    if step.kind == "expose":
        number, of = place_in_run(steps, step)
        parts = [f"sub {number} of {of}", f"{name(step.filter or '-', LONGEST)} {step.exposure_s or 0:g} s"]
    elif step.kind == "filter" and step.filter:
        parts.append(name(step.filter, LONGEST))
    if step.target:
        parts.append(name(step.target, LONGEST))
    return ", ".join(parts)


def _at(instant: dt.datetime, zone: str) -> str:
    return clock(instant, zone, seconds=True)


def _due(moment: Moment, instant: dt.datetime, zone: str) -> str:
    """When something is to be, and in how long."""
    return f"at {_at(instant, zone)}, in {span_words(moment.seconds_until(instant))}"


def _now(steps: Sequence[Step], moment: Moment, zone: str) -> str:
    if moment.begins_utc is None or moment.ends_utc is None:
        return "the list has no steps"
    if moment.phase == "before":
        return f"the list begins {_due(moment, moment.begins_utc, zone)}"
    if moment.phase == "after":
        ago = span_words(-moment.seconds_until(moment.ends_utc))
        return f"the list ended at {_at(moment.ends_utc, zone)}, {ago} ago"
    if moment.running is None:
        return "nothing: the list has a gap here"
    left = span_words(moment.seconds_until(moment.running.end_utc))
    return f"{doing_words(steps, moment.running)}; until {_at(moment.running.end_utc, zone)}, {left} left"


def _next(steps: Sequence[Step], moment: Moment, zone: str) -> str:
    if moment.next is None:
        return "nothing more" if moment.phase in ("after", "empty") else "nothing: the list ends with this"
    return f"{doing_words(steps, moment.next)}; {_due(moment, moment.next.start_utc, zone)}"


def _flip(steps: Sequence[Step], moment: Moment, zone: str) -> str | None:
    if moment.flip_by == "nobody":
        return None
    if moment.flip is None:
        if any(step.kind == "flip" for step in steps):
            running = moment.running is not None and moment.running.kind == "flip"
            return "under way, the last one of this list" if running else "none left in this list"
        return "none in this list"
    due = _due(moment, moment.flip.start_utc, zone)
    if moment.flip_by == "mount":
        return f"the mount makes it by itself, {due}"
    latest = moment.flip.latest_start_utc
    return due if latest is None else f"{due}; no later than {_at(latest, zone)}"


def _slack(moment: Moment) -> str:
    if moment.phase in ("after", "empty"):
        return "none needed"
    if moment.slack_s is None:
        return "no later step can be too late"
    if moment.slack_s <= 0:
        return "none: a later step must not be late at all"
    return f"{span_words(moment.slack_s)}: so late the list may run without breaking or losing anything"
