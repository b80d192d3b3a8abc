"""Sentences on where a night and its list parted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from optimizer.audit.rule import kind_words
from optimizer.learn.parted import LATE_S, Why
from optimizer.pace.ranges import ranges_of
from optimizer.report.parted_facts import PartedFacts, WithoutFacts
from optimizer.report.words import clock, count, duration, minus, tied
from optimizer.words import listing, number

WHY_WORDS: dict[Why, str] = {
    "damaged": "its file cannot be used",
    "too_late": "skipped, by the images: its latest start had passed when the list came to it",
    "no_time": "skipped, by the images: there was no time for it between the subs around it",
    "no_file": "no file: taken and lost, or not taken; cloud, a stall and a lost file cannot be told apart",
    "not_reached": "after the last sub that has a file",
}
LEAST_GROWN_S = 5.0  # in sum; acts that made less of the lateness are not told


def late_text(seconds: float) -> str:
    """Seconds of lateness: `45 s`, `4 min 20 s`, `1 h 02 min`."""
    whole = round(abs(seconds))
    minutes, rest = divmod(whole, 60)
    if minutes >= 60:
        return tied(duration(whole))
    return tied(f"{minutes} min {rest:02d} s" if minutes else f"{rest} s")


def spell_lines(parted: PartedFacts) -> Iterator[str]:
    """How late the list ran, from when to when."""
    zone = parted.time_zone
    if not parted.taken:
        yield f"None of the {count(parted.subs, 'sub')} of the list has a file in the folder."
        return
    yield f"{parted.taken} of the {count(parted.subs, 'sub')} of the list have a file in the folder."
    if not parted.spells:
        yield f"None of these was {number(LATE_S)} s late or more."
    for spell in parted.spells:
        begins, ends = (clock(each, zone, seconds=True) for each in (spell.from_utc, spell.to_utc))
        if spell.from_step == spell.to_step:
            yield f"Late at {begins} (step {spell.from_step}), by {late_text(spell.late_s)}."
            continue
        most = f"at most by {late_text(spell.late_s)} at {clock(spell.latest_utc, zone, seconds=True)}"
        last = f", by {late_text(spell.last_late_s)} at the end" if spell.latest_step != spell.to_step else ""
        yield (
            f"Late from {begins} (step {spell.from_step}) to {ends} (step {spell.to_step}): {most} "
            f"(step {spell.latest_step}){last}."
        )
    for held in parted.held_up:
        at = clock(held.after_utc, zone, seconds=True)
        missing = f", {count(held.missing, 'sub')} missing in it" if held.missing else ""
        yield (
            f"After the sub of {at} (step {held.after_step}) the gap to the next one was "
            f"{late_text(held.seconds)} longer than planned{missing}: cloud, a stall or a person, files "
            "cannot tell which."
        )
    if parted.caught_up_s >= LEAST_GROWN_S:
        yield f"Waits and subs left out made up for {late_text(parted.caught_up_s)}."


def grown_rows(parted: PartedFacts) -> Iterator[tuple[str, str, str, str]]:
    """For acts that made the list later or less late: the acts, how often, seconds in sum, and of each."""
    for each in parted.grown:
        if abs(each.seconds) < LEAST_GROWN_S:
            continue
        words = listing(map(kind_words, each.acts), "and") if each.acts else "from one sub to the next"
        sign = "+" if each.seconds > 0 else "−"
        each_s = minus(f"{each.seconds / each.count:+.1f} s")
        yield words, str(each.count), f"{sign}{late_text(each.seconds)}", each_s


def without_lines(without: Sequence[WithoutFacts]) -> Iterator[tuple[str, str]]:
    """Why subs have no file, each reason with the numbers of their steps."""
    groups: dict[str, list[WithoutFacts]] = {}
    for each in without:
        words = WHY_WORDS[each.why]
        groups.setdefault(f"{words}: {each.reason}" if each.reason else words, []).append(each)
    for words, rows in groups.items():
        yield f"{count(len(rows), 'sub')}: {words}", f"{steps_words(each.step for each in rows)}"


def steps_words(steps: Iterable[int]) -> str:
    """Numbers of steps as people write them: `steps 12, 15-18`."""
    numbers = list(steps)
    word = "step" if len(numbers) == 1 else "steps"
    return f"{word} {ranges_of(numbers).replace(',', ', ')}"
