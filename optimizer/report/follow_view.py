"""A night at an instant in the terminal: what now, what next, when the flip, how late, what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import PurePath

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.text import Text

from optimizer.follow.moment import Moment
from optimizer.follow.pasting import pasted_lines
from optimizer.models.shots import ShotList
from optimizer.report.follow_facts import Followed
from optimizer.report.follow_words import CHECK, image_lines, late_words
from optimizer.report.going_on import from_words
from optimizer.report.moment_words import doing_words, moment_words, span_words
from optimizer.report.tables import labelled
from optimizer.report.words import clock, name, zone_words
from optimizer.words import safe

IN_BRIEF = ("Late", "Cost", "Now", "Flip")  # lines by the images that a low window keeps as well


class Command:
    """A command to be pasted, folded as its shell needs it."""

    def __init__(self, words: Sequence[str]) -> None:
        """Take the words of the command."""
        self.words = words

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the lines."""
        for line in pasted_lines(self.words, options.max_width):
            yield Text(line, style="bold", no_wrap=True, overflow="ignore")


def follow_view(shots: ShotList, moment: Moment, told: Followed, *, brief: bool = False) -> RenderableType:
    """Everything that `darkfill follow` shows for one instant; `brief`: what matters, for a low window."""
    plan, images = _by_the_plan(shots, moment, brief=brief), _by_the_images(shots, told, brief=brief)
    # what went wrong comes before a plan that does not know of it
    told_first = (images, plan) if told.warns else (plan, images)
    parts = [*_head(shots, told), *(part for block in told_first for part in block), *_do(told)]
    shown = (part for part in parts if not brief or not isinstance(part, Text) or part.style != "dim")
    return Group(*(part for part in shown if not brief or not isinstance(part, Text) or part.plain))


def log_line(shots: ShotList, moment: Moment, told: Followed) -> str:
    """One line for a log in which nothing else has changed."""
    zone = told.time_zone
    at = clock(told.now_utc, zone, seconds=True)
    running = "" if moment.running is None else f"{doing_words(shots.steps, moment.running)}"
    parts = [running or moment_words(shots.steps, moment, zone).now]
    if moment.flip is not None:
        parts.append(f"flip in {span_words(moment.seconds_until(moment.flip.start_utc))}")
    if told.images is not None:
        parts.append(late_words(told.images))
    return f"{at} by the plan {'; '.join(parts)}"


def _head(shots: ShotList, told: Followed) -> Iterator[RenderableType]:
    zone, night = told.time_zone, shots.night
    at = clock(told.now_utc, zone, seconds=True)
    title = f"{at}, night of {night.evening} at {name(shots.request.site.name)}"
    yield Text(title + from_words(shots.continues, zone), style="bold")
    file = safe(PurePath(told.shots).name)
    yield Text(f"Times are local: {_zone_words(told)}. List: {file}.", style="dim")
    if told.goes_on_with is not None:
        yield Text(f"This newer list goes on with {safe(PurePath(told.goes_on_with).name)}.")
    if told.trouble is not None:
        why = f"not readable just now: {safe(told.trouble)}; this is as it was last seen"
        yield labelled("List", why, "bold")
    if told.passed_over:
        more = f" and {len(told.passed_over) - 1} more" if len(told.passed_over) > 1 else ""
        yield Text(f"Passed over, not readable: {safe(told.passed_over[0])}{more}.", style="dim")
    if told.page_trouble is not None:
        yield labelled("Page", f"served as it was before: {safe(told.page_trouble)}", "bold")


def _zone_words(told: Followed) -> str:
    """The zone; where the clocks change between now and the list's begin or end, which time it is now."""
    now, zone = told.now_utc, told.time_zone
    known = [each for each in (told.plan.begins_utc, told.plan.ends_utc) if each is not None]
    words = zone_words(min([now, *known]), max([now, *known]), zone)
    present = zone_words(now, now, zone)
    return words if words == present else f"{words}; now it is {present.rpartition(' ')[2]}"


def _by_the_plan(shots: ShotList, moment: Moment, *, brief: bool) -> Iterator[RenderableType]:
    words = moment_words(shots.steps, moment, shots.night.time_zone)
    yield Text()
    yield Text("By the plan", style="bold underline")
    yield labelled("Now", words.now, "bold")
    yield labelled("Next", words.next)
    if words.flip is not None:
        yield labelled("Flip", words.flip)
    if not brief:
        yield labelled("Slack", words.slack)


def _by_the_images(shots: ShotList, told: Followed, *, brief: bool) -> Iterator[RenderableType]:
    if told.images is None:
        return
    yield Text()
    yield Text(f"By the images in {name(told.images.folder, 60)}", style="bold underline")
    lines = image_lines(shots, told)
    for line in (each for each in lines if each.matters or each.label in IN_BRIEF or not brief):
        yield labelled(line.label, line.words, "bold" if line.matters else "")


def _do(told: Followed) -> Iterator[RenderableType]:
    """What can be done: the command that plans the rest anew."""
    if told.replan is None:
        return
    yield Text()
    if told.images is None:
        yield Text("If the night goes another way, this plans its rest anew:", style="dim")
    elif told.calls_for_replan:
        yield Text(f"This plans the rest anew. {CHECK}")
    else:
        return
    yield Command(told.replan)
