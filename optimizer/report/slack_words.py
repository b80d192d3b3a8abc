"""How late a list may run, in words."""

from __future__ import annotations

from optimizer.audit.rule import kind_words
from optimizer.models.shots import ShotList, Step
from optimizer.report.words import clock, duration, name

IN_SECONDS_S = 600  # below it seconds matter


def slack_seconds(seconds: int) -> str:
    """Slack in seconds, or rounded down to minutes where it is long."""
    return f"{seconds} s" if seconds < IN_SECONDS_S else duration(60 * (seconds // 60))


def where_words(step: Step, zone: str) -> str:
    """The step that has the least slack: `before the flip of M 33 at 02:11`."""
    on = f" of {name(step.target)}" if step.target else ""
    return f"before the {kind_words(step.kind)}{on} at {clock(step.start_utc, zone)}"


def slack_words(shots: ShotList) -> str | None:
    """The least slack of a list, and where; None where no step can be too late."""
    seconds, number = shots.totals.least_slack_s, shots.totals.least_slack_step
    if seconds is None or number is None or not 0 < number <= len(shots.steps):
        return None
    where = where_words(shots.steps[number - 1], shots.night.time_zone)
    return f"least {slack_seconds(seconds)}, {where}"
