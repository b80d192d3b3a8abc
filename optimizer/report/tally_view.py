"""What was counted, what was not and why, and what is in hand, in the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.report.fitted import Fitted
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.tally_facts import CountedRow, FileReason, GoalInHand, GoneFile, TallyReport
from optimizer.report.words import count, name, tied
from optimizer.words import listing, number

MOST_NIGHTS = 8  # that are named for each goal, the latest ones; --json has all
MOST_FILES = 5  # that are named for each reason; --json names all
STILL_COUNT = "No longer in the folder, still counted (--recount drops them)"
NO_LONGER = "No longer in the folder, no longer counted"


def tally_view(report: TallyReport, *, with_goals: bool = False) -> RenderableType:
    """Everything that `darkfill tally` shows; `with_goals` adds what is in hand of each goal."""
    parts: list[RenderableType] = [*_counted(report)]
    parts += _reasons("Not counted", report.unmatched)
    parts += _reasons("Damaged or cut short, not counted", report.damaged)
    if report.calibration:
        kinds = listing((count(len(each.files), each.kind) for each in report.calibration), "and")
        parts += [Text(), heading("Calibration frames, listed and not counted"), indented(Text(kinds))]
    parts += _reasons("Copies, counted once", report.copies)
    parts += _reasons("Counted, but copies under another name would count twice", report.alike)
    parts += _gone(STILL_COUNT, [file for file in report.vanished if file.counts])
    parts += _gone(NO_LONGER, [file for file in report.vanished if not file.counts])
    parts += _reasons("Keywords that could not be used", report.odd)
    if with_goals:
        parts += [Text(), heading("In hand, in subs"), _goal_table(report.goals)]
    if complete := [goal for goal in report.goals if not goal.left]:
        goals = listing((_goal_words(goal) for goal in complete), "and")
        parts += [Text(), Text(f"Complete, and given no more time by a plan: {goals}.")]
    if report.notes:
        parts += [Text(), *(Text(note) for note in report.notes)]
    return Group(*parts)


def _counted(report: TallyReport) -> Iterator[RenderableType]:
    frames, new = sum(row.frames for row in report.counted), sum(row.new for row in report.counted)
    counts = f"{count(frames, 'sub')} in the folder {report.folder} {'counts' if frames == 1 else 'count'}"
    title = f"{counts}, {new} of them new; the counts are in {report.tally}"
    yield heading(title if frames else f"No sub in the folder {report.folder} counts for a goal")
    if not report.counted:
        return
    columns = ("target", "filter", "exposure", "evening", "subs", "new", "rejected", "by")
    table = plain_table(*columns, right=("exposure", "subs", "new", "rejected"))
    stacked: list[RenderableType] = []
    for row in report.counted:
        by = _ways(row)
        table.add_row(
            Text(name(row.target)),
            Text(name(row.filter, 12)),
            f"{number(row.exposure_s)} s",
            row.evening,
            str(row.frames),
            str(row.new),
            str(row.rejected),
            Text(by, style="dim"),
        )
        stacked += [
            Text(
                f"{_row_words(row)}, {row.evening}: {count(row.frames, 'sub')}, {row.new} new, "
                f"{row.rejected} rejected"
            ),
            indented(Text(f"by {by}", style="dim")),
        ]
    yield Fitted(table, ("by",), ("target",), lambda: stacked)


def _ways(row: CountedRow) -> str:
    """The keywords that decided; where not all subs had the same, with the number of those that had them."""
    ways = [(", ".join(way.keywords), way.frames) for way in row.by]
    return ways[0][0] if len(ways) == 1 else "; ".join(f"{words} ({frames})" for words, frames in ways)


def _row_words(row: CountedRow | GoalInHand | GoneFile) -> str:
    return f"{name(row.target)} {name(row.filter, 12)} {number(row.exposure_s)} s"


def _goal_words(goal: GoalInHand) -> str:
    return tied(_row_words(goal))


def _reasons(title: str, found: Sequence[FileReason]) -> list[RenderableType]:
    """A heading, each reason once, and the first of its files; none where there are none."""
    files: dict[str, list[str]] = {}
    for each in found:
        files.setdefault(each.reason, []).append(each.file)
    return _grouped(title, files)


def _gone(title: str, found: Iterable[GoneFile]) -> list[RenderableType]:
    files: dict[str, list[str]] = {}
    for each in found:
        files.setdefault(f"{_row_words(each)}, {each.evening}", []).append(each.file)
    return _grouped(title, files)


def _grouped(title: str, files: dict[str, list[str]]) -> list[RenderableType]:
    if not files:
        return []
    total = sum(map(len, files.values()))
    parts: list[RenderableType] = [Text(), heading(f"{title}: {count(total, 'file')}")]
    for why, names in files.items():
        parts.append(Text(f"{why}:"))
        parts.append(indented(Text(listing(names, "and", most=MOST_FILES), style="dim")))
    return parts


def _goal_table(goals: Sequence[GoalInHand]) -> RenderableType:
    columns = ("target", "filter", "exposure", "wanted", "in hand", "left", "by night")
    table = plain_table(*columns, right=columns[2:6])
    stacked: list[RenderableType] = []
    shown_target = ""
    for goal in goals:
        left = str(goal.left) if goal.left else "complete"
        nights = _nights(goal)
        table.add_row(
            Text("" if goal.target == shown_target else name(goal.target)),
            Text(name(goal.filter, 12)),
            f"{number(goal.exposure_s)} s",
            str(goal.wanted),
            str(goal.in_hand),
            left,
            Text(nights, style="dim"),
        )
        shown_target = goal.target
        left = f"{goal.left} left" if goal.left else left
        stacked.append(Text(f"{_row_words(goal)}: {goal.in_hand} in hand of {goal.wanted}, {left}"))
        if nights:
            stacked.append(indented(Text(nights, style="dim")))
    return Fitted(table, ("by night",), ("target",), lambda: stacked)


def _nights(goal: GoalInHand) -> str:
    """The subs of each night as taken, with those rejected, and what the request itself calls done."""
    words = [f"done {goal.done}"] if goal.done else []
    earlier, latest = goal.nights[:-MOST_NIGHTS], goal.nights[-MOST_NIGHTS:]
    if earlier:
        words.append(tied(f"{count(len(earlier), 'earlier night')} {sum(night.frames for night in earlier)}"))
    for night in latest:
        rejected = f" ({night.rejected} rejected)" if night.rejected else ""
        words.append(tied(f"{night.evening or 'no date'} {night.frames}{rejected}"))
    if 0 <= goal.tallied != sum(night.frames - night.rejected for night in goal.nights):  # a goal in hours
        words.append(f"as long as {goal.tallied} whole subs of {number(goal.exposure_s)} s")
    return ", ".join(words)
