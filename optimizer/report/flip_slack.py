"""What `aim.slack_s` does around the meridian, in words: how late the worst case may be, what is planned."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rich.text import Text

from optimizer.report.flip_facts import FlipReport


def slack_of_worst(report: FlipReport) -> Iterator[Text]:
    """How late the worst case may be, beside what is asked for, where it fits."""
    spare_s = math.floor((report.spare_s or 0.0) + 1e-6)
    words = f"Slack: it may end {spare_s} s later" if spare_s else "Slack: it may end no second later"
    if spare_s < report.slack_s:
        yield Text(f"{words}, less than the {report.slack_s} s of aim.slack_s: the plan ends it sooner.")
        return
    asked = f"; {report.slack_s} s are asked for (aim.slack_s)" if report.slack_s else ""
    yield Text(f"{words}{asked}.")


def closes_sooner(report: FlipReport) -> Iterator[Text]:
    """What the plan does with the last exposure where slack is asked for."""
    if report.slack_s:
        yield Text(f"The plan closes that last shutter at least {report.slack_s} s sooner (aim.slack_s).")


def for_slack(report: FlipReport) -> str:
    """Why a plan closes the last shutter sooner than it must; empty where it does not."""
    return f", {report.slack_s} s sooner than they must close (aim.slack_s)" if report.slack_s else ""


def flip_apart(report: FlipReport) -> Iterator[Text]:
    """That flips are planned only after pier side west must be left, where there is no room for the slack."""
    rooms_s = [
        round((flip.first_side_until_utc - flip.flipped_side_from_utc).total_seconds())
        for flip in report.tonight
    ] or [math.floor(60 * (report.latest_track_min - report.flipped_from_min) + 1e-6)]
    room_s = min(rooms_s)
    if report.flip_by == "plan" and 0 <= room_s < report.slack_s:
        yield Text(
            f"There are only {room_s} s in which a flip may begin before pier side west must be left, less "
            f"than the {report.slack_s} s of aim.slack_s: the plan leaves pier side west so much sooner, "
            "tracking off, and flips once it had to be left."
        )
