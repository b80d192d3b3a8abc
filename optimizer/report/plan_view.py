"""A plan in the terminal: the night at a glance, its visits, progress, what was left out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.models.shots import GoalTotal, NightFacts, ShotList, Step
from optimizer.report.fitted import Fitted
from optimizer.report.going_on import begun_words, from_words, tonight_words
from optimizer.report.in_season_view import in_season_parts, season_line
from optimizer.report.odds_facts import expected_words, gamble_words
from optimizer.report.plan_lanes import plan_lanes
from optimizer.report.proof_words import proof_words, shortfall
from optimizer.report.relief_view import relief_parts
from optimizer.report.scarce_view import scarce_parts
from optimizer.report.set_words import SetProgress, outside_words, set_progress
from optimizer.report.slack_words import slack_words
from optimizer.report.tables import heading, indented, labelled, plain_table
from optimizer.report.unplanned_view import unplanned_parts
from optimizer.report.words import (
    AT_ZENITH,
    at_least_minutes,
    clock,
    count,
    dark_words,
    duration,
    name,
    percent,
    run_words,
    tied,
    zone_words,
)
from optimizer.views.visits import ShownVisit, visits_of

BAR_CELLS = 12
LEAST_SHOWN_WAIT_S = 30  # a shorter one would read as none
CAUTION = (
    "Before you rely on it: measure contact by hand and by day, set the mount's own limits too, let only one "
    "program manage the flip, and watch the first one. The maker's instructions and local rules come first."
)


def plan_view(shots: ShotList) -> RenderableType:
    """Everything that `darkfill plan` shows of a plan."""
    visits = visits_of(shots.steps)
    title = f"Night of {shots.night.evening} at {name(shots.request.site.name)}"
    title += from_words(shots.continues, shots.night.time_zone)
    parts: list[RenderableType] = [heading(title), *_glance(shots, visits)]
    if visits:
        parts += [Text(), heading("Visits"), _visit_table(shots, visits)]
        parts += [Text(), heading("The night in lanes"), plan_lanes(shots)]
    sets = set_progress(shots.request, shots.totals.targets)
    parts += [Text(), heading("Progress"), _progress_table(shots, sets)]
    if shots.continues is not None:
        parts.append(Text(begun_words(shots.continues, shots.night.time_zone), style="dim"))
    if sets and (outside := outside_words(shots.request)) is not None:
        parts.append(Text(outside, style="dim"))
    parts += [*in_season_parts(shots), *scarce_parts(shots)]
    if shots.unplanned:
        parts += [
            Text(),
            heading("Left out tonight, and what would change it"),
            *unplanned_parts(shots.unplanned),
        ]
        parts += relief_parts(shots.unplanned)
    if visits:
        parts += [Text(), Text(CAUTION, style="dim")]
    return Group(*parts)


def night_lines(night: NightFacts) -> Iterator[RenderableType]:
    """The night's edges and the Moon, in local time."""
    noon = dt.datetime.combine(dt.date.fromisoformat(night.evening), dt.time(12), tzinfo=dt.UTC)
    zone = zone_words(noon, noon + dt.timedelta(days=1), night.time_zone)
    yield Text(f"Times are local: {zone}.", style="dim")
    yield labelled("Sun", _sun(night))
    yield labelled("Moon", _moon(night))


def _glance(shots: ShotList, visits: list[ShownVisit]) -> Iterator[RenderableType]:
    yield from night_lines(shots.night)
    totals = shots.totals
    open_words = duration(totals.open_shutter_s)
    dark = dark_words(totals.dark_s, goes_on=shots.continues is not None)
    if totals.dark_s:
        share = percent(totals.share)
        yield labelled("Open", f"{open_words} of open shutter in {dark} ({share})", style="bold")
        if totals.depth_s is not None:
            yield labelled("Depth", f"as good as {duration(totals.depth_s)} {AT_ZENITH}")
        if totals.expected_s is not None:
            yield labelled("Odds", expected_words(totals.open_shutter_s, totals.expected_s))
        if (gamble := gamble_words(shots.request, shots.steps)) is not None:
            yield labelled("Risk", gamble)
    else:
        why = (
            "clear and blocked spans leave nothing of the night"
            if shots.request.night.clear or shots.request.night.blocked
            else "it is never dark enough tonight for any filter asked for"
        )
        yield labelled("Open", f"nothing: {why}", style="bold")
    if not visits:
        return
    yield labelled("Proof", proof_words(shots))
    yield from season_line(shots)
    if (short := shortfall(shots)) is not None:
        yield labelled("Short", short)
    if shots.request.mount.flips:
        yield labelled("Flip", _flips(shots, visits))
        if slewed := _other_side_by_slew(shots, visits):
            yield labelled("Pier", f"by slew the pier side changes at {slewed}")
    if (slack := slack_words(shots)) is not None:
        yield labelled("Slack", slack)
    broken = len(shots.audit_report.violations)
    verdict = "none broken" if not broken else f"{broken} times broken"
    yield labelled(
        "Audit", f"{len(shots.audit_report.rules)} rules checked again by separate code: {verdict}"
    )


def _sun(night: NightFacts) -> str:
    zone = night.time_zone
    pairs = (
        ("18", night.astronomical_dusk_utc, night.astronomical_dawn_utc),
        ("12", night.nautical_dusk_utc, night.nautical_dawn_utc),
        ("6", night.civil_dusk_utc, night.civil_dawn_utc),
    )
    words = [f"sets {clock(night.sunset_utc, zone)}"] if night.sunset_utc else []
    deepest = next((pair for pair in pairs if pair[1] or pair[2]), None)
    if deepest is None:
        words.append("no twilight edge tonight")
    else:
        if deepest[0] != "18":
            words.append("never 18° below the horizon")
        words.append(f"{deepest[0]}° below {clock(deepest[1], zone)} to {clock(deepest[2], zone)}")
    if night.sunrise_utc:
        words.append(f"rises {clock(night.sunrise_utc, zone)}")
    return ", ".join(words)


def _moon(night: NightFacts) -> str:
    zone = night.time_zone
    events = sorted(
        (instant, word)
        for instant, word in ((night.moonrise_utc, "rises"), (night.moonset_utc, "sets"))
        if instant is not None
    )
    times = ", ".join(f"{word} {clock(instant, zone)}" for instant, word in events)
    return f"{percent(night.moon_illuminated)} lit, {times or 'neither rises nor sets tonight'}"


def _flips(shots: ShotList, visits: list[ShownVisit]) -> str:
    """When each flip begins and by when it must, and what is left to contact."""
    flips = [visit.steps[0] for visit in visits if visit.by_flip]
    text = count(len(flips), "flip")
    text += f" at {', '.join(_flip(shots, flip) for flip in flips)}" if flips else ""
    if shots.request.mount.contact_min is None:
        return f"{text}; contact was never measured"
    margin = shots.audit_report.least_margin_min
    if margin is None:
        return text
    if margin < 0 and shots.continues is not None:  # no list goes there, but one may have to begin there
        return f"{text}; {at_least_minutes(margin).lstrip('−')} past contact as this list begins"
    return f"{text}; never nearer to contact than {at_least_minutes(margin)}"


def _other_side_by_slew(shots: ShotList, visits: list[ShownVisit]) -> str:
    """Local times of slews to the other pier side, for whoever guards the cables."""
    zone = shots.night.time_zone
    return ", ".join(
        clock(after.steps[0].start_utc, zone)
        for before, after in pairwise(visits)
        if before.side != after.side and not after.by_flip
    )


def _flip(shots: ShotList, flip: Step) -> str:
    """When the flip begins, with its latest start, or by when the mount must stand still before it."""
    zone, before = shots.night.time_zone, shots.steps[flip.step - 2]
    begins = clock(flip.start_utc, zone)
    stand_by = before.latest_start_utc if before.kind == "wait" and not before.tracking else None
    if stand_by is not None and flip.latest_start_utc is not None and flip.latest_start_utc > stand_by:
        return f"{begins} (stand still, tracking off, by {clock(stand_by, zone)})"
    return f"{begins} (latest {clock(flip.latest_start_utc, zone)})"


def _visit_table(shots: ShotList, visits: Sequence[ShownVisit]) -> Fitted:
    zone = shots.night.time_zone
    table = plain_table("from", "to", "target", "pier side", "by", "subs", "open", "alt", right=("open",))
    stacked: list[RenderableType] = []
    previous: ShownVisit | None = None
    for visit in visits:
        first, last = visit.exposures[0], visit.exposures[-1]
        if previous is not None:
            idle_s = (visit.steps[0].start_utc - previous.steps[-1].end_utc).total_seconds()
            if idle_s >= LEAST_SHOWN_WAIT_S:
                since, until = previous.steps[-1].end_utc, visit.steps[0].start_utc
                words = Text(f"wait {duration(idle_s)}", style="dim")
                table.add_row(clock(since, zone), clock(until, zone), words)
                stacked.append(Text.assemble(f"{clock(since, zone)} to {clock(until, zone)}  ", words))
        since, until = visit.steps[0].start_utc, visit.steps[-1].end_utc
        by = Text("FLIP", style="bold") if visit.by_flip else Text("slew" if visit.by_slew else "stays")
        runs = ", ".join(run_words(*run) for run in visit.runs())
        altitudes = f"{first.altitude_deg:.0f}° → {last.altitude_deg:.0f}°"
        table.add_row(
            clock(since, zone),
            clock(until, zone),
            Text(name(visit.target)),
            visit.side or "-",
            by,
            Text(runs),
            duration(visit.open_s),
            altitudes,
        )
        side = f"pier side {visit.side}, " if visit.side else ""
        stacked += [
            Text(f"{clock(since, zone)} to {clock(until, zone)}  {name(visit.target)}"),
            indented(
                Text.assemble(
                    f"{side}by " if visit.arrives else side,
                    by,
                    f", {tied(altitudes)}, {tied(duration(visit.open_s))} open",
                )
            ),
            indented(Text(runs)),
        ]
        previous = visit
    return Fitted(table, ("subs",), ("target",), lambda: stacked)


def _progress_table(shots: ShotList, sets: Mapping[str, SetProgress]) -> Fitted:
    """A row for each goal; below the name of a target stands how far its filter set is."""
    tonight = tonight_words(shots.continues)
    table = plain_table(
        "target", "filter", "exposure", "in hand", tonight, "left", "of", "",
        right=("exposure", "in hand", tonight, "left", "of"),
    )  # fmt: skip
    shown_target, rows = "", 0
    stacked: list[RenderableType] = []
    for goal in shots.totals.goals:
        progress = sets.get(goal.target)
        rows = rows + 1 if goal.target == shown_target else 1
        below = Text(progress.words if progress and rows == 2 else "", style="dim")
        table.add_row(
            Text(name(goal.target)) if rows == 1 else below,
            Text(name(goal.filter, 12)),
            f"{goal.exposure_s:g} s",
            str(goal.frames_done),
            Text(str(goal.frames_planned), style="bold" if goal.frames_planned else "dim"),
            str(goal.frames_left),
            str(goal.frames_wanted),
            _bar(goal),
        )
        if goal.target != shown_target:
            stacked.append(Text(name(goal.target)))
            if progress:
                stacked.append(indented(Text(progress.words)))
        stacked.append(
            indented(
                Text(
                    f"{name(goal.filter, 12)} {goal.exposure_s:g} s: {goal.frames_done} in hand, "
                    f"{goal.frames_planned} {tonight}, {goal.frames_left} left of {goal.frames_wanted}"
                )
            )
        )
        shown_target = goal.target
    return Fitted(table, (), ("target",), lambda: stacked)


def _bar(goal: GoalTotal) -> str:
    """A bar of the subs in hand (solid), of tonight (shaded) and still to come (light)."""
    done = min(1.0, goal.frames_done / goal.frames_wanted)
    after = min(1.0, (goal.frames_done + goal.frames_planned) / goal.frames_wanted)
    solid = round(BAR_CELLS * done)
    shaded = round(BAR_CELLS * after) - solid
    return "█" * solid + "▒" * shaded + "░" * (BAR_CELLS - solid - shaded)
