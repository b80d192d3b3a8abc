"""How a list goes that runs late, as text."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.pace.late_by import LateBy, LateLeave
from optimizer.report.slack_words import slack_seconds
from optimizer.report.tables import heading
from optimizer.report.words import clock, count, name
from optimizer.typed.inferred import Typed
from optimizer.words import listing, safe


def more_view(typed: Typed | None, late: LateBy | None, zone: str) -> RenderableType:
    """How a plan typed by hand was read and what was inferred, and how a list goes that runs late.

    Times are by the clock of that zone. There is nothing to print where neither was asked.
    """
    parts: list[RenderableType] = []
    if typed is not None:
        parts += [Text(), *(Text(safe(each)) for each in typed.sentences(zone))]
    if late is not None:
        parts += [Text(), heading("If it runs late"), *(Text(each) for each in late_sentences(late, zone))]
    return Group(*parts)


def late_warning(late: LateBy | None) -> str:
    """One line for the head of an answer if a list that runs so late would not be safe, else empty."""
    if late is None or not late.in_danger:
        return ""
    return f"Not safe if it runs {_exactly(late.late_s)} late: below."


def late_sentences(late: LateBy, zone: str) -> tuple[str, ...]:
    """A sentence for each thing that there is to say of a list that runs late."""
    lead = f"{_exactly(late.late_s)} late from {clock(late.from_utc, zone)} on"
    said = []
    if late.in_danger:
        said.append(f"{lead}, {listing((_move(each, zone) for each in late.in_danger), 'and')}.")
    if late.subs_lost:
        of_what = (f"{each.subs} of {name(each.target)} in {name(each.filter)}" for each in late.lost)
        skipped = f"{late.subs_lost} of {count(late.subs, 'sub')}"
        said.append(f"{lead}, {skipped} come too late and must be skipped: {listing(of_what, 'and')}.")
    if not said:
        said.append(f"{lead}, the list loses no sub and no flip comes too late.")
    if late.most_late_s is None:
        said.append("Nothing in it can come too late.")
    else:
        said.append(f"Up to {slack_seconds(late.most_late_s)} late there, nothing is broken or lost by that.")
    return tuple(said)


def _exactly(seconds: int) -> str:
    """Seconds as whole minutes where they are that, else as they are."""
    return f"{seconds} s" if seconds % 60 else f"{seconds // 60} min"


def _move(each: LateLeave, zone: str) -> str:
    what = (
        f"the flip of {name(each.target)}" if each.kind == "flip" else f"the park after {name(each.target)}"
    )
    begins, latest = (clock(when, zone, seconds=True) for when in (each.begins_utc, each.latest_utc))
    beyond = _exactly(each.beyond_s)
    return f"{what} would begin at {begins}, {beyond} after its last safe start ({latest})"
