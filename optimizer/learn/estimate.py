"""Gaps whose acts are known -> how long each act takes, or why that is not known.

An act is measured in the gaps that hold nothing else but acts already known, whose medians are taken off.
Download and overhead lie in every gap, so they come first. What comes only together with an act that is not
known is measured as a sum.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from optimizer.learn.middle import FEWEST, SECOND_SD, middle_of, spread_of
from optimizer.learn.planned import unseen_s
from optimizer.learn.rows import ACTS, WORDS, ActName, LearnedAct, Measured, not_known, sentence
from optimizer.models.request import Request
from optimizer.words import listing

BOTH: tuple[ActName, ...] = ("between_subs", "dither")
MOVES: frozenset[ActName] = frozenset(("slew", "flip"))  # they differ by the ways of the axes
ORDER: tuple[ActName, ...] = ("between_subs", "dither", "focus", "filter", "slew", "flip")
FEWEST_MOVES = 5  # slews or flips told by rules: a list that runs late may wait or dither before a few
KNOWN_SHARE, KNOWN_S = 0.1, 0.05  # a median counts as known where it is no farther off, with 99 %
AT_MOST = "the next sub mostly began when the list had it: it takes no longer than planned, perhaps less"
MANY, FEW_VARY = 20, 0.06  # gaps of a kind that tell how much a rig varies; what is assumed without them
Key = tuple[tuple[ActName, ...], str | None]  # acts, and the filter put in


@dataclass(frozen=True)
class _Value:
    """Seconds, and by how much they may be wrong."""

    seconds: float = 0.0
    error_s: float = 0.0


@dataclass(frozen=True)
class _Found:
    """A row, by how much its median may be wrong, and that as a share of it."""

    row: LearnedAct
    error_s: float = math.inf
    share: float = math.inf


Less = list[tuple[Measured, _Value]]  # gaps, each with what is taken off it for other acts


class _Rows:
    """What is known so far, and the rows of all else by it."""

    def __init__(self, request: Request, measured: Sequence[Measured], *, whole_seconds: bool) -> None:
        self.request, self.whole_seconds = request, whole_seconds
        self.groups: dict[tuple[ActName, ...], list[Measured]] = {}
        for each in measured:
            self.groups.setdefault(each.acts, []).append(each)
        self.known: dict[Key, _Value] = {}
        self.varies = _least_share(self.groups.values(), whole_seconds=whole_seconds)

    def _off(self, measured: Measured, acts: Iterable[ActName], *, bound: bool) -> _Value | None:
        """What to take off a gap for these acts; None where one of them is not known.

        With `bound` download and overhead need not be known where those together with a dither are.
        """
        left, values, bounded_s = list(acts), [], 0.0
        both = self.known.get((BOTH, None))
        if both and set(BOTH) <= set(left) and (("dither",), None) not in self.known:
            left = [act for act in left if act not in BOTH]
            values.append(both)
        for act in left:
            found = self.known.get(((act,), measured.filter)) if act == "filter" else None
            found = found or self.known.get(((act,), None))
            if found is not None and act in MOVES:
                found = _Value(measured.planned[act] + found.seconds, found.error_s)
            if found is None and act == "between_subs" and both and bound:
                # a dither lies in each gap of a run: download and overhead are at most what both take
                most_s, camera = max(0.0, both.seconds), self.request.camera
                value_s = min(camera.download_s + camera.overhead_s, most_s)
                bounded_s += max(value_s, most_s - value_s)
                found = _Value(value_s)
            if found is None:
                return None
            values.append(found)
        error_s = math.hypot(*(each.error_s for each in values))
        if measured.held.may_dither:
            dither = self.known.get((("dither",), None))
            error_s += self.request.camera.dither_s if dither is None else dither.seconds
        return _Value(sum(each.seconds for each in values), error_s + bounded_s)

    def _less(self, group: Sequence[Measured], others: Iterable[ActName], *, bound: bool = True) -> Less:
        others = tuple(others)
        offs = [(each, self._off(each, others, bound=bound)) for each in group]
        return [(each, off) for each, off in offs if off is not None]

    def act(self, act: ActName, filter_name: str | None = None) -> LearnedAct:
        """The row of one act, of a change to one filter if that is named; it is kept if it is known."""
        groups = {
            acts: [each for each in group if filter_name in (None, each.filter)]
            for acts, group in self.groups.items()
            if act in acts
        }
        every = [each for group in groups.values() for each in group]
        # a slew or flip may hold a wait that nobody told of: it measures nothing but itself
        clear = [
            self._less(group, (each for each in acts if each != act), bound=act != "dither")
            for acts, group in groups.items()
            if act in MOVES or not MOVES & set(acts)
        ]
        clear = sorted((less for less in clear if less), key=lambda less: max(off.error_s for _, off in less))
        tries = [*clear, [pair for less in clear for pair in less]]
        rows = [self._row((act,), filter_name, less) for less in tries]
        found = next((each for each in rows if each.row.known), min(rows, key=lambda each: each.share))
        if found.row.known:
            seconds = found.row.longer_s if act in MOVES else found.row.median_s
            assert seconds is not None
            self.known[(act,), filter_name] = _Value(seconds, found.error_s)
        elif _mostly_on_time(every):
            return self._not_known(act, filter_name, every, AT_MOST)
        elif not clear and every:
            return self._not_known(act, filter_name, every, self._company(act, groups))
        return found.row

    def _company(self, act: ActName, kinds: Iterable[tuple[ActName, ...]]) -> str:
        """Why an act cannot be told from those that it comes with."""
        if act in BOTH and (BOTH, None) in self.known:
            return (
                "a dither lies in each gap of a run, so that download, overhead and dither are told together"
            )
        others = {each for acts in kinds for each in acts if each != act}
        words = [WORDS[each] for each in ORDER if each in others and ((each,), None) not in self.known]
        return f"each gap with it also holds {listing(words, 'or')}, which is not known by itself"

    def _not_known(
        self, act: ActName, filter_name: str | None, group: Sequence[Measured], why: str
    ) -> LearnedAct:
        planned = [each.planned[act] for each in group]
        planned_s = median(planned) if planned else unseen_s(self.request, act, filter_name)
        return not_known((act,), filter_name, planned_s, len(group), (each.held.how for each in group), why)

    def sum_of(self, acts: tuple[ActName, ...]) -> LearnedAct | None:
        """What cannot be parted in a kind of gap, as a sum; None if each act of it is known by itself.

        All that is known is taken off, or download, overhead and dither alone if more is then known.
        """
        group = self.groups[acts]
        known = {act for act in acts if ((act,), None) in self.known}
        if len(known) == len(acts) or _mostly_on_time(group):
            return None
        if set(BOTH) < set(acts) and (BOTH, None) in self.known:
            known |= set(BOTH)
        found: list[_Found] = []
        for taken_off in (known, known & set(BOTH)):
            left = tuple(act for act in ORDER if act in acts and act not in taken_off)
            if len(left) > 1:
                found.append(self._row(left, None, self._less(group, taken_off)))
        if not found:
            return None
        best = next((each for each in found if each.row.known), found[-1])
        if best.row.known:
            assert best.row.median_s is not None
            self.known[best.row.acts, None] = _Value(best.row.median_s, best.error_s)
        return best.row

    def _row(self, acts: tuple[ActName, ...], filter_name: str | None, less: Less) -> _Found:
        """Measure acts in gaps from which all else is taken off."""
        group, count = [each for each, _ in less], len(less)
        hows = [each.held.how for each in group]
        planned = [sum(each.planned[act] for act in acts) for each in group]
        if count < FEWEST:
            planned_s = median(planned) if planned else unseen_s(self.request, acts[0], filter_name)
            hold = "1 gap holds" if count == 1 else f"{count} gaps hold"
            why = f"only {hold} it, fewer than {FEWEST}" if count else "no gap holds it"
            return _Found(not_known(acts, filter_name, planned_s, count, hows, why))
        values = [each.seconds - off.seconds for each, off in less]
        beyond = [value - plan for value, plan in zip(values, planned, strict=True)]
        # a few that happen to be alike do not vary less than what was measured often
        least_s = self.varies * abs(median(values))
        longer = middle_of(beyond, whole_seconds=self.whole_seconds, least_spread_s=least_s)
        taken_s = max(off.error_s for _, off in less)
        error_s = math.hypot(longer.off_s, taken_s)
        planned_s = median(planned)
        median_s = planned_s + longer.median_s
        doubt = AT_MOST if _mostly_on_time(group) else _doubt(median_s, error_s, taken_s, count)
        if MOVES & set(acts) and count < FEWEST_MOVES and not all(each.held.listed for each in group):
            doubt = f"only {count} gaps hold it, and without a list waits before it cannot be told"
        if doubt:
            row = not_known(acts, filter_name, planned_s, count, hows, doubt)
            return _Found(row, error_s, error_s / max(abs(median_s), 1e-6))
        row = LearnedAct(
            acts,
            filter_name,
            planned_s,
            median_s,
            planned_s + longer.low_s,
            planned_s + longer.high_s,
            count,
            longer.median_s,
            longer.median_s - math.hypot(longer.median_s - longer.from_s, taken_s),
            longer.median_s + math.hypot(longer.to_s - longer.median_s, taken_s),
            sentence(hows),
        )
        return _Found(row, error_s)


def _least_share(groups: Iterable[Sequence[Measured]], *, whole_seconds: bool) -> float:
    """The least deviation, as a share of the length, of the kinds of gaps that were measured often."""
    shares = []
    for group in groups:
        values = [each.seconds for each in group]
        if len(values) >= MANY and median(values) > 0:
            squares = spread_of(values) ** 2 - (SECOND_SD**2 if whole_seconds else 0.0)
            shares.append(math.sqrt(max(0.0, squares)) / median(values))
    return min(shares, default=FEW_VARY)


def _mostly_on_time(group: Sequence[Measured]) -> bool:
    return bool(group) and 2 * sum(each.held.at_most for each in group) >= len(group)


def _doubt(median_s: float, error_s: float, taken_s: float, count: int) -> str | None:
    """Why a median is not known well enough; None where it is. `taken_s` is the part of what is taken off."""
    if error_s <= max(KNOWN_SHARE * abs(median_s), KNOWN_S):
        return None
    words = (
        "what is taken off is not known well" if taken_s > error_s / 2 else f"{count} gaps differ too much"
    )
    if error_s >= abs(median_s):
        return f"{words}: it cannot be told from nothing"
    return f"{words}: the median may be off by {math.ceil(100 * error_s / abs(median_s))} %"


def estimated(
    request: Request, measured: Sequence[Measured], *, whole_seconds: bool
) -> tuple[tuple[LearnedAct, ...], tuple[LearnedAct, ...], int]:
    """Rows for all acts, rows for sums, and how many gaps lie far outside the others of their kind."""
    inside = _inside(measured, whole_seconds=whole_seconds)
    rows = _Rows(request, inside, whole_seconds=whole_seconds)
    put_in = {each.filter for each in inside if "filter" in each.acts}
    names = [each.name for each in request.filters if each.name in put_in]
    found: dict[tuple[ActName, str | None], LearnedAct] = {}
    sums: dict[tuple[ActName, ...], LearnedAct] = {}
    for _ in range(2):  # an act may be known by itself only when one that comes later in the order is
        for act in ORDER:
            by_filter = [rows.act(act, name) for name in names] if act == "filter" else []
            found |= {(act, row.filter): row for row in by_filter}
            found[act, None] = _pooled(rows.act(act), by_filter)
            if not found[act, None].known:
                rows.known.pop(((act,), None), None)
            if act == "dither" and BOTH in rows.groups:
                _add(sums, rows.sum_of(BOTH))
    for acts in sorted(rows.groups, key=len):
        if acts != BOTH:
            _add(sums, rows.sum_of(acts))
    ordered = [row for act in ACTS for key, row in found.items() if key[0] == act and key[1] is None]
    place = ACTS.index("filter") + 1
    ordered[place:place] = [found["filter", name] for name in names]
    return tuple(ordered), tuple(sums.values()), len(measured) - len(inside)


def _add(sums: dict[tuple[ActName, ...], LearnedAct], row: LearnedAct | None) -> None:
    if row is not None and (row.acts not in sums or (row.known, row.count) > _rank(sums[row.acts])):
        sums[row.acts] = row


def _rank(row: LearnedAct) -> tuple[bool, int]:
    return row.known, row.count


def _pooled(row: LearnedAct, by_filter: Sequence[LearnedAct]) -> LearnedAct:
    """The row of all filters, which is not known where they differ."""
    medians = [each.median_s for each in by_filter if each.median_s is not None]
    if row.median_s is not None:
        medians.append(row.median_s)
    if len(medians) < 2 or max(medians) - min(medians) <= 0.1 * max(map(abs, medians)):
        return row
    why = "it differs from filter to filter"
    return not_known(row.acts, None, row.planned_s, row.count, [row.how.rstrip(".")], why)


def _inside(measured: Sequence[Measured], *, whole_seconds: bool) -> list[Measured]:
    """The gaps that do not lie far outside the others that hold the same acts."""
    groups: dict[tuple[ActName, ...], list[Measured]] = {}
    for each in measured:
        groups.setdefault(each.acts, []).append(each)
    inside: list[Measured] = []
    for group in groups.values():
        beyond = [each.beyond_s() for each in group]
        middle_s = median(beyond)
        usual_s = median(each.seconds for each in group)
        room_s = max(5 * spread_of(beyond), 0.25 * usual_s, 1.5 if whole_seconds else 0.5)
        if len(group) < FEWEST:
            room_s = math.inf
        inside += [each for each in group if abs(each.beyond_s() - middle_s) <= room_s]
    return inside
