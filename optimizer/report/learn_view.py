"""What was learned of the rig, what to change, what it brings, where a night parted; in the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.report.fitted import Fitted
from optimizer.report.learn_facts import ActFacts, LearnReport, OutcomeFacts, TonightFacts
from optimizer.report.learn_words import (
    NOT_KNOWN,
    act_words,
    beside_plan,
    change_lines,
    place_words,
    seconds_text,
    seen_words,
    tonight_lines,
)
from optimizer.report.parted_facts import PartedFacts
from optimizer.report.parted_words import grown_rows, spell_lines, without_lines
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.tally_facts import FileReason
from optimizer.report.words import count, duration, name
from optimizer.words import listing, number

MOST_FILES = 5  # that are named for each reason; --json names all


def learn_view(report: LearnReport) -> RenderableType:
    """Everything that `darkfill learn` shows."""
    acts = _told(report)
    parts: list[RenderableType] = [
        heading(f"What the rig really takes, by {seen_words(report.subs, report.evenings)}"),
        _act_table(acts),
        *_unused(report),
        Text(),
        heading("How they were told apart"),
        *_how(acts),
        Text(),
        heading("What to change"),
        *_changes(report),
    ]
    if report.tonight is not None:
        parts += [Text(), heading(f"The night of {report.tonight.evening}"), *_tonight(report.tonight)]
    elif report.changes:
        nothing = "On the night of {} neither plan has a sub: what the changes bring it cannot be told."
        parts += [Text(), Text(nothing.format(report.evening))]
    if report.parted is not None:
        title = f"The night of {report.parted.evening} beside its list"
        parts += [Text(), heading(title), *_parted(report.parted)]
    return Group(*parts)


def _told(report: LearnReport) -> list[ActFacts]:
    """The acts that are shown: all of them, and of single filters, where there are several, and of sums those
    that are known.
    """
    filters = sum(act.filter is not None for act in report.acts)
    acts = [act for act in report.acts if act.filter is None or (filters > 1 and act.unknown is None)]
    return [*acts, *(each for each in report.sums if each.unknown is None)]


def _act_table(acts: Sequence[ActFacts]) -> RenderableType:
    columns = ("act", "planned", "median", "nine tenths of all", "seen", "beside the plan")
    table = plain_table(*columns, right=columns[1:5])
    stacked: list[RenderableType] = []
    for act in acts:
        words, known = act_words(act), act.unknown is None
        span = f"{seconds_text(act.low_s)} to {seconds_text(act.high_s)}" if known else "-"
        beside = beside_plan(act)
        table.add_row(
            Text(words),
            seconds_text(act.planned_s),
            Text(seconds_text(act.median_s) if known else "-", style="bold"),
            span,
            str(act.count),
            Text(beside),
        )
        planned = "" if act.planned_s is None else f"planned {seconds_text(act.planned_s)}, "
        line = f"median {seconds_text(act.median_s)} ({span}), {beside}" if known else NOT_KNOWN
        seen = "seen once" if act.count == 1 else f"seen {act.count} times"
        stacked += [Text(f"{words}: {planned}{line}"), indented(Text(seen, style="dim"))]
    return Fitted(table, ("act", "beside the plan"), (), lambda: stacked)


def _unused(report: LearnReport) -> Iterator[RenderableType]:
    """Gaps that were set aside, and files that say nothing."""
    if report.set_aside:
        gaps = sum(each.count for each in report.set_aside)
        yield Text(f"Set aside, of {count(report.pairs, 'gap')} between subs: {gaps}")
        yield from (indented(Text(f"{each.count}: {each.reason}")) for each in report.set_aside)
    if report.calibration:
        yield Text(f"Of {count(report.files, 'file')} {report.calibration} are calibration frames.")
    yield from _files("Of no goal of the request", report.unmatched)
    yield from _files("Damaged", report.damaged)


def _files(title: str, found: Sequence[FileReason]) -> Iterator[RenderableType]:
    by_reason: dict[str, list[str]] = {}
    for each in found:
        by_reason.setdefault(each.reason, []).append(each.file)
    for reason, names in by_reason.items():
        told = listing(names, "and", most=MOST_FILES)
        yield Text(f"{title}: {count(len(names), 'file')}, {reason}: {told}", style="dim")


def _how(acts: Sequence[ActFacts]) -> Iterator[RenderableType]:
    """For each act how its gaps were told apart, or why it is not known."""
    said: dict[str, list[str]] = {}
    for act in acts:
        told = act.how if act.unknown is None else f"{NOT_KNOWN}: {act.unknown}"
        said.setdefault(told, []).append(act_words(act))
    for told, words in said.items():
        yield Text(f"{'; '.join(words)}:")
        yield indented(Text(told, style="dim"))


def _changes(report: LearnReport) -> Iterator[RenderableType]:
    if report.changes:
        columns = ("key", "now", "learned", "where it stands")
        table = plain_table(*columns, right=columns[1:3])
        stacked: list[RenderableType] = []
        for each in report.changes:
            key = each.key if each.filter is None else f"{each.key} of {name(each.filter, 12)}"
            now, new, place = f"{number(each.old)} s", f"{number(each.new)} s", place_words(each)
            table.add_row(Text(key), now, Text(new, style="bold"), Text(place))
            stacked += [Text(f"{key}: {new} in place of {now}"), indented(Text(place))]
        yield Fitted(table, ("where it stands",), ("key",), lambda: stacked)
    yield from (Text(line) for line in change_lines(report))


def _tonight(tonight: TonightFacts) -> Iterator[RenderableType]:
    columns = ("list", "subs", "open", "value")
    table = plain_table(*columns, right=columns[1:])
    stacked: list[RenderableType] = []
    rows: list[tuple[str, OutcomeFacts]] = [
        ("by the request's numbers, as planned", tonight.old),
        ("by the request's numbers, at the learned pace", tonight.old_taken),
        ("by the learned numbers", tonight.new_taken),
    ]
    for words, outcome in rows:
        cells = str(outcome.subs), duration(outcome.open_s), duration(outcome.value_s)
        table.add_row(Text(words), *cells)
        stacked.append(Text(f"{words}: {cells[0]} subs, {cells[1]} open, value {cells[2]}"))
    yield Fitted(table, ("list",), (), lambda: stacked)
    yield from (Text(line) for line in tonight_lines(tonight))


def _parted(parted: PartedFacts) -> Iterator[RenderableType]:
    yield from (Text(line) for line in spell_lines(parted))
    rows = list(grown_rows(parted))
    if rows:
        columns = ("later by", "times", "in sum", "each")
        table = plain_table(*columns, right=columns[1:])
        for row in rows:
            table.add_row(Text(row[0]), *row[1:])
        stacked = [Text(f"{row[0]}: {row[2]} in {row[1]} times, {row[3]} each") for row in rows]
        yield Fitted(table, ("later by",), (), lambda: stacked)
        yield Text("Each with the download and overhead of the sub before it.", style="dim")
    if parted.without:
        yield Text("Subs of the list without a file that can be used:")
        for words, steps in without_lines(parted.without):
            yield Text(f"{words}:")
            yield indented(Text(steps, style="dim"))
    if parted.others:
        n = len(parted.others)
        yield Text(
            f"{count(n, 'file')} of the night {'is' if n == 1 else 'are'} no sub of the list, or a copy of "
            f"one: {listing(parted.others, 'and', most=MOST_FILES)}."
        )
    if parted.untold:
        names = listing((each.file for each in parted.untold), "and", most=MOST_FILES)
        yield Text(f"Damaged files that do not tell which sub they are: {names}.")
