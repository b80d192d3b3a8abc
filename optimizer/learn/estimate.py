"""Gaps whose acts are known -> how long each act takes, or why that is not known.

An act is measured in the gaps that hold nothing else but acts already known, whose medians are taken off.
Download and overhead lie in every gap, so they come first. What comes only together with an act that is not
known is measured as a sum.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from optimizer.learn.middle import FEWEST, Middle, middle_of, spread_of
from optimizer.learn.planned import unseen_s
from optimizer.learn.rules import ActName, Held
from optimizer.models.request import Request
from optimizer.words import listing

ORDER: tuple[ActName, ...] = ("between_subs", "dither", "focus", "filter", "slew", "flip")
WORDS: Mapping[ActName, str] = {
    "between_subs": "download and overhead",
    "dither": "dither",
    "filter": "filter change",
    "focus": "autofocus",
    "slew": "slew and centring",
    "flip": "flip",
}
# A median counts as known where its interval of 95 % reaches no farther than this share of it: then hardly
# one in a hundred is off by a tenth.
KNOWN_SHARE, KNOWN_S = 0.08, 0.05


@dataclass(frozen=True)
class LearnedAct:
    """How long an act really took, in seconds, or why that is not known.

    `acts` holds one act; it holds several where only their sum can be measured, since they come together.
    `filter` is the filter put in, of a row for that filter alone. `planned_s` is what the request's law plans
    for the same gaps, their median; where there is no gap what the request has, or None if that depends on
    the way of the axes or on the filter. `median_s`, `low_s` and `high_s` (5 % and 95 %) are None where the
    act is not known, and `unknown` then is a clause that says why; there are `count` gaps all the same. The
    span between low and high also holds how much the acts varied that were taken off.

    `longer_s` is the median of what each gap took beyond what was planned for it, negative where less, and
    `longer_from_s` to `longer_to_s` the interval that holds the true median with 95 %: if both lie on one
    side of 0, the act takes longer, or shorter, than planned. `how` is a sentence on how the gaps of this act
    were told apart.
    """

    acts: tuple[ActName, ...]
    filter: str | None
    planned_s: float | None
    median_s: float | None
    low_s: float | None
    high_s: float | None
    count: int
    longer_s: float | None
    longer_from_s: float | None
    longer_to_s: float | None
    how: str
    unknown: str | None = None

    @property
    def act(self) -> ActName:
        """The act; of a sum the first one."""
        return self.acts[0]

    @property
    def known(self) -> bool:
        """Whether its length is known, to about a tenth."""
        return self.unknown is None


@dataclass(frozen=True)
class Measured:
    """A gap whose acts are known, and the seconds that are planned for each of them."""

    held: Held
    planned: Mapping[ActName, float]

    @property
    def seconds(self) -> float:
        """The length of the gap."""
        return self.held.gap.seconds

    @property
    def acts(self) -> tuple[ActName, ...]:
        """All acts in it, `between_subs` included."""
        return self.held.acts

    @property
    def filter(self) -> str:
        """The filter of the sub after it."""
        return self.held.gap.after.goal.filter

    def beyond_s(self) -> float:
        """What the gap took beyond all that was planned for it."""
        return self.seconds - sum(self.planned.values())


@dataclass(frozen=True)
class _Off:
    """What is taken off a gap for other acts: their medians, and by how much those may be wrong."""

    seconds: float = 0.0
    error_s: float = 0.0


class _Rows:
    """Rows found so far, with the acts known by them."""

    def __init__(self, request: Request, measured: Sequence[Measured], *, whole_seconds: bool) -> None:
        self.request, self.whole_seconds = request, whole_seconds
        self.groups: dict[tuple[ActName, ...], list[Measured]] = {}
        for each in measured:
            self.groups.setdefault(each.acts, []).append(each)
        self.known: dict[tuple[tuple[ActName, ...], str | None], tuple[float, float]] = {}

    def off(self, acts: Iterable[ActName], filter_name: str) -> _Off | None:
        """What to take off for these acts; None where one of them is not known."""
        left = list(acts)
        seconds = squares = bounded_s = 0.0
        both: tuple[ActName, ...] = ("between_subs", "dither")
        if set(both) <= set(left) and (both, None) in self.known and (("dither",), None) not in self.known:
            value, half_s = self.known[both, None]
            left = [act for act in left if act not in both]
            seconds, squares = value, half_s**2
        for act in left:
            found = self.known.get(((act,), filter_name if act == "filter" else None))
            if found is None and act == "filter":
                found = self.known.get((("filter",), None))
            if found is not None:
                seconds, squares = seconds + found[0], squares + found[1] ** 2
            elif act == "between_subs" and (both, None) in self.known:
                # a dither lies in each gap of a run: download and overhead are at most what both take
                most_s = max(0.0, self.known[both, None][0])
                value = min(max(0.0, self.request.camera.download_s + self.request.camera.overhead_s), most_s)
                seconds, bounded_s = seconds + value, max(value, most_s - value)
            else:
                return None
        return _Off(seconds, math.sqrt(squares) + bounded_s)

    def act(self, act: ActName, filter_name: str | None = None) -> LearnedAct:
        """The row of one act, of a change to one filter if that is named; it is kept if it is known."""
        holding = {
            acts: [each for each in group if filter_name in (None, each.filter)]
            for acts, group in self.groups.items()
            if act in acts
        }
        holding = {acts: group for acts, group in holding.items() if group}
        count = sum(len(group) for group in holding.values())
        clear: list[tuple[float, int, list[tuple[Measured, _Off]]]] = []
        for acts, group in holding.items():
            others = tuple(each for each in acts if each != act)
            offs = [(each, self.off(others, each.filter)) for each in group]
            pairs = [(each, off) for each, off in offs if off is not None]
            if pairs:
                clear.append((max(off.error_s for _, off in pairs), len(acts), pairs))
        rows = [self._row((act,), filter_name, pairs) for *_, pairs in sorted(clear, key=lambda each: each[:2])]
        rows.append(self._row((act,), filter_name, [pair for *_, pairs in clear for pair in pairs]))
        row = next((each for each in rows if each.known), rows[-1])
        if row.known:
            assert row.median_s is not None
            self.known[(act,), filter_name] = row.median_s, _half_s(row)
        elif not clear and holding:
            row = self._unseen(act, filter_name, count, self._company(act, holding))
        return row

    def _company(self, act: ActName, holding: Iterable[tuple[ActName, ...]]) -> str:
        """Why an act cannot be told from those that it comes with."""
        unknown = {
            each
            for acts in holding
            for each in acts
            if each != act and ((each,), None) not in self.known
        }
        words = listing((WORDS[each] for each in ORDER if each in unknown), "and")
        return f"it comes only together with {words}, and cannot be told from that"

    def _unseen(self, act: ActName, filter_name: str | None, count: int, why: str) -> LearnedAct:
        planned_s = unseen_s(self.request, act, filter_name)
        hows = [each.held.how for acts, group in self.groups.items() if act in acts for each in group]
        return LearnedAct(
            (act,), filter_name, planned_s, None, None, None, count, None, None, None, _how(hows), why
        )

    def sum_of(self, acts: tuple[ActName, ...]) -> LearnedAct | None:
        """The sum of what is left of a kind of gap without download, overhead and dither; None if known."""
        taken_off = [act for act in ("between_subs", "dither") if ((act,), None) in self.known]
        both: tuple[ActName, ...] = ("between_subs", "dither")
        if set(both) < set(acts) and (both, None) in self.known:
            taken_off = list(both)
        left = tuple(act for act in acts if act not in taken_off)
        if len(left) < 2 or all(((act,), None) in self.known for act in left):
            return None
        pairs: list[tuple[Measured, _Off]] = []
        for each in self.groups[acts]:
            off = self.off([act for act in acts if act in taken_off], each.filter)
            if off is not None:
                pairs.append((each, off))
        row = self._row(left, None, pairs)
        if row.known:
            assert row.median_s is not None
            self.known[left, None] = row.median_s, _half_s(row)
        return row

    def _row(
        self, acts: tuple[ActName, ...], filter_name: str | None, pairs: Sequence[tuple[Measured, _Off]]
    ) -> LearnedAct:
        """Measure acts in gaps from which all else is taken off."""
        count = len(pairs)
        if count < FEWEST:
            why = "no gap holds it" if not count else f"only {count} of the gaps hold it, fewer than {FEWEST}"
            row = self._unseen(acts[0], filter_name, count, why)
            return row if len(acts) == 1 else _with_acts(row, acts, pairs)
        planned = [sum(each.planned[act] for act in acts) for each, _ in pairs]
        values = [each.seconds - off.seconds for each, off in pairs]
        error_s = max(off.error_s for _, off in pairs)
        middle = middle_of(values, whole_seconds=self.whole_seconds)
        beyond = middle_of(
            [value - plan for value, plan in zip(values, planned, strict=True)], whole_seconds=self.whole_seconds
        )
        why = _doubt(acts, middle, beyond, error_s, pairs)
        how = _how(each.held.how for each, _ in pairs)
        if why:
            nothing = (None, None, None, count, None, None, None, how, why)
            return LearnedAct(acts, filter_name, median(planned), *nothing)
        return LearnedAct(
            acts,
            filter_name,
            median(planned),
            middle.median_s,
            middle.low_s,
            middle.high_s,
            count,
            beyond.median_s,
            beyond.median_s - math.hypot(beyond.median_s - beyond.from_s, error_s),
            beyond.median_s + math.hypot(beyond.to_s - beyond.median_s, error_s),
            how,
        )


def _with_acts(
    row: LearnedAct, acts: tuple[ActName, ...], pairs: Sequence[tuple[Measured, _Off]]
) -> LearnedAct:
    planned = [sum(each.planned[act] for act in acts) for each, _ in pairs]
    how = _how(each.held.how for each, _ in pairs)
    return LearnedAct(
        acts,
        row.filter,
        median(planned) if planned else None,
        None,
        None,
        None,
        row.count,
        None,
        None,
        None,
        how,
        row.unknown,
    )


def _half_s(row: LearnedAct) -> float:
    assert row.longer_s is not None and row.longer_from_s is not None and row.longer_to_s is not None
    return max(row.longer_s - row.longer_from_s, row.longer_to_s - row.longer_s)


def _doubt(
    acts: tuple[ActName, ...],
    middle: Middle,
    beyond: Middle,
    error_s: float,
    pairs: Sequence[tuple[Measured, _Off]],
) -> str | None:
    """Why a median is not known well enough; None where it is."""
    on_time = sum(each.held.at_most for each, _ in pairs)
    if 2 * on_time >= len(pairs):
        return "mostly the next sub began when the list had it: it takes no longer than planned, perhaps less"
    # slews differ by their ways: what they take beyond these is what is uncertain
    half_s = math.hypot(min(middle.half_s, beyond.half_s), error_s)
    if half_s <= max(KNOWN_SHARE * abs(middle.median_s), KNOWN_S):
        return None
    words = f"{len(pairs)} gaps differ too much" if error_s < half_s / 2 else "what is taken off is not known well"
    if half_s >= abs(middle.median_s):
        return f"{words}: it cannot be told from nothing"
    percent = math.ceil(100 * half_s / abs(middle.median_s))
    return f"{words}: the median may be off by {percent} %"


def _how(clauses: Iterable[str]) -> str:
    """One sentence of the clauses of the gaps."""
    told = list(dict.fromkeys(clauses))
    if not told:
        return "No gap was found that holds it."
    text = "; ".join(told)
    return text[0].upper() + text[1:] + "."


def estimated(
    request: Request, measured: Sequence[Measured], *, whole_seconds: bool
) -> tuple[tuple[LearnedAct, ...], tuple[LearnedAct, ...], int]:
    """Rows for all acts, rows for sums, and how many gaps lie far outside the others of their kind."""
    inside = _inside(measured, whole_seconds=whole_seconds)
    rows = _Rows(request, inside, whole_seconds=whole_seconds)
    names = [each.name for each in request.filters]
    put_in = {each.filter for each in inside if "filter" in each.acts}
    found: dict[tuple[ActName, str | None], LearnedAct] = {}
    sums: dict[tuple[ActName, ...], LearnedAct] = {}
    for _ in range(2):  # an act may be known by itself only when one that comes later in the order is
        for act in ORDER:
            for name in [each for each in names if each in put_in] if act == "filter" else []:
                found[act, name] = rows.act(act, name)
            found[act, None] = rows.act(act)
            if act == "filter":
                found[act, None] = _pooled(found[act, None], [found[act, name] for name in names if name in put_in])
                if not found[act, None].known:
                    rows.known.pop((("filter",), None), None)
            if act == "dither":
                _add_sum(sums, rows, ("between_subs", "dither"))
    for acts in sorted(rows.groups, key=len):
        if acts != ("between_subs", "dither"):
            _add_sum(sums, rows, acts)
    ordered: list[LearnedAct] = []
    for act in ("between_subs", "dither", "filter", "focus", "slew", "flip"):
        ordered.append(found[act, None])
        ordered += [found[act, name] for name in names if (act, name) in found]
    return tuple(ordered), tuple(sums.values()), len(measured) - len(inside)


def _add_sum(
    sums: dict[tuple[ActName, ...], LearnedAct], rows: _Rows, acts: tuple[ActName, ...]
) -> None:
    if acts in rows.groups:
        row = rows.sum_of(acts)
        if row is not None and (row.acts not in sums or row.known or row.count > sums[row.acts].count):
            sums[row.acts] = row


def _pooled(row: LearnedAct, by_filter: Sequence[LearnedAct]) -> LearnedAct:
    """The row of all filters, which is not known where they differ."""
    apart = [
        each
        for each in by_filter
        if each.median_s is not None
        and row.median_s is not None
        and abs(each.median_s - row.median_s) > 0.1 * abs(row.median_s)
    ]
    if not apart:
        return row
    nothing = (None, None, None, row.count, None, None, None, row.how, "it differs from filter to filter")
    return LearnedAct(row.acts, None, row.planned_s, *nothing)


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
