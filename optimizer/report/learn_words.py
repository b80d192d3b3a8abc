"""Sentences on what was learned: of acts, of what to change, of what a night gains."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimizer.learn.changes import LEAST_S
from optimizer.learn.tonight import LEAST_GAIN_S
from optimizer.report.learn_facts import (
    ActFacts,
    ChangeFacts,
    LearnReport,
    TonightFacts,
)
from optimizer.report.words import count, minus, name, percent, seconds_words, tied
from optimizer.words import listing, number, quoted

ACT_WORDS = {
    "between_subs": "download and overhead",
    "dither": "dither",
    "filter": "filter change",
    "focus": "autofocus",
    "slew": "slew, plate solve, settling",
    "flip": "flip, plate solve, settling",
}
NOT_KNOWN = "not known"
CHANGE_NOTES = {
    "mount.centre_s": "centre_s takes what a slew needed beyond the planned motion of the axes.",
    "camera.overhead_s": "overhead_s takes what a sub needed beside its exposure and download_s.",
}


def act_words(act: ActFacts) -> str:
    """An act as people call it; acts measured as a sum are joined by a plus."""
    words = " + ".join(ACT_WORDS[each] for each in act.acts)
    return words if act.filter is None else f"{words} to {name(act.filter, 12)}"


def seconds_text(seconds: float | None) -> str:
    """Seconds with a tenth; a dash where there are none."""
    return "-" if seconds is None else tied(f"{seconds:.1f} s")


def beside_plan(act: ActFacts) -> str:
    """How an act's real length stands to the planned one."""
    if act.unknown is not None:
        return NOT_KNOWN
    longer = act.longer_s
    if longer is None or act.longer_from_s is None or act.longer_to_s is None:
        return "-"
    if act.longer_from_s <= 0 <= act.longer_to_s:
        return "no sure difference"
    words = f"{abs(longer):.1f} s {'longer' if longer > 0 else 'shorter'}"
    return words if abs(longer) >= LEAST_S else f"{words}: too little to change"


def seen_words(subs: int, evenings: Sequence[str]) -> str:
    """From how many subs and nights something is known: `212 subs of 2 nights (2026-11-14, 2026-11-15)`."""
    nights = count(len(evenings), "night")
    return f"{count(subs, 'sub')} of {nights} ({listing(evenings, 'and', most=4)})"


def change_lines(report: LearnReport) -> Iterator[str]:
    """What to do with the changes, in sentences; where there are none, that."""
    yield from _change_lines(report)
    flip = next((act for act in report.acts if act.acts == ("flip",)), None)
    if flip is not None and _differs(flip):
        yield (
            f"A flip takes surely {beside_plan(flip)} than planned. No line is changed for that: its length "
            "follows from the slew, centre_s and settle_s."
        )
    taken = {each.together for each in report.changes}
    for each in report.sums:
        if each.acts not in taken and _differs(each) and not _explained(each, report.acts):
            yield (
                f"Together surely {beside_plan(each)} than planned, and which of them cannot be told: "
                f"{act_words(each)}."
            )


def _differs(act: ActFacts) -> bool:
    """Whether an act surely takes longer or shorter than planned, by so much that it matters."""
    if act.unknown is not None or act.longer_s is None:
        return False
    if act.longer_from_s is None or act.longer_to_s is None:
        return False
    return abs(act.longer_s) >= LEAST_S and not act.longer_from_s <= 0 <= act.longer_to_s


def _explained(whole: ActFacts, acts: Sequence[ActFacts]) -> bool:
    """Whether what is known of its single acts may be all by which a sum of acts differs from the plan."""
    parts = [act for act in acts if act.acts[0] in whole.acts and act.filter is None and act.unknown is None]
    least = sum(act.longer_from_s or 0.0 for act in parts) - LEAST_S
    most = sum(act.longer_to_s or 0.0 for act in parts) + LEAST_S
    return least <= (whole.longer_to_s or 0.0) and (whole.longer_from_s or 0.0) <= most


def _change_lines(report: LearnReport) -> Iterator[str]:
    if not report.changes:
        unknown = sum(act.unknown is not None and act.filter is None for act in report.acts)
        known = f"; {count(unknown, 'act is', 'acts are')} not known" if unknown else ""
        yield (
            "Nothing to change: no act that is known takes surely longer or shorter than planned, by "
            f"{number(LEAST_S)} s or more{known}."
        )
        return
    tables = [each for each in report.changes if each.filter is None]
    for each in tables:
        if each.together:
            words = " + ".join(ACT_WORDS[act] for act in each.together)
            flips = " It counts in each flip as well." if each.key == "mount.centre_s" else ""
            yield (
                f"{each.key.rpartition('.')[2]} takes what these are longer in sum, for which of them it is "
                f"cannot be told: {words}.{flips}"
            )
        elif each.key in CHANGE_NOTES:
            yield CHANGE_NOTES[each.key]
    if report.written is not None:
        above = ", above its first [table]" if (report.include or "").startswith("include") else ""
        yield (
            f"{report.written} has the numbers. It counts once the request includes it after all other "
            f"files{above}:"
        )
        yield f"  {report.include}"
        if report.include_outside:
            yield "It lies outside the folder of the request: allow that with --include-outside, or move it."
        hiding = [f"{each.key} ({_at(each)})" for each in tables if each.hides]
        if hiding:
            wins = "stands in the request itself, which wins over it: take this line out, or change it there"
            win = (
                "stand in the request itself, which wins over it: take these lines out, or change them there"
            )
            yield f"{listing(hiding, 'and')} {wins if len(hiding) == 1 else win}."
    elif tables:
        yield "--write rig-learned.toml makes a file of these numbers that the request can include."
    filters = [each for each in report.changes if each.filter is not None]
    if filters:
        why = "filters are a list, which a file would replace as a whole"
        lines = (
            f"{each.key.rpartition('.')[2]} = {number(each.new)} for filter {quoted(each.filter or '')}"
            f"{f' ({_at(each)})' if each.file else ''}"
            for each in filters
        )
        yield f"To be written by hand, for {why}: {listing(lines, 'and')}."
        own = {act.filter for act in report.acts if act.unknown is None}
        shared = [name(each.filter or "", 12) for each in filters if each.filter not in own]
        if shared:
            yield f"For {listing(shared, 'and')} that is the length of all filter changes together."


def place_words(change: ChangeFacts) -> str:
    """Where the key stands, or what it belongs to; that it has its default where neither is written."""
    if change.written:
        return _at(change)
    table = "the filter" if change.filter is not None else f"[{change.key.partition('.')[0]}]"
    return f"nowhere yet; {table} is at {_at(change)}" if change.file else "nowhere yet"


def _at(change: ChangeFacts) -> str:
    return change.file or "" if change.line is None else f"{change.file}, line {change.line}"


def tonight_lines(tonight: TonightFacts) -> Iterator[str]:
    """What the night gains or loses by the learned numbers, as far as two searches can tell."""
    old, taken, new = tonight.old, tonight.old_taken, tonight.new
    lost = old.subs - taken.subs
    if lost > 0:
        yield (
            f"If acts last as learned, the list by the request's numbers loses {lost} of its "
            f"{count(old.subs, 'sub')}: about {taken.subs} would really be taken. The list by the learned "
            f"numbers has {new.subs}."
        )
    else:
        yield (
            f"If acts last as learned, the list by the request's numbers loses none of its "
            f"{count(old.subs, 'sub')}. The list by the learned numbers has {new.subs}."
        )
    gain, undecided = _value(abs(tonight.gain_s)), _value(tonight.undecided_s)
    if not tonight.can_be_told:
        same = abs(tonight.gain_s) < LEAST_GAIN_S
        what = "Both have the same value" if same else f"They differ by {gain} of value"
        less = (
            f"; the two plans may fall short of the best possible by {undecided} together, so what the night "
            "gains by the learned numbers cannot be told"
            if tonight.undecided_s > 0
            else ""
        )
        yield f"{what}{less}."
    elif tonight.gain_s > 0:
        yield (
            f"Planned by the learned numbers the night has {gain} more of value ({_share(tonight)}); the two "
            f"searches leave {undecided} open."
        )
    else:
        yield (
            f"Planned by the learned numbers the night has {gain} less of value ({_share(tonight)}): a list "
            "that runs late may use up the slack, and go longer without autofocus, than a plan may."
        )


def _value(seconds: float) -> str:
    return tied(seconds_words(seconds))


def _share(tonight: TonightFacts) -> str:
    if not tonight.old_taken.value_s:
        return "the other list gives nothing"
    return minus(percent(tonight.gain_s / tonight.old_taken.value_s, 1))
