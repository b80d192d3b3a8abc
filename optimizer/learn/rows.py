"""Acts and gaps as the estimate takes them, and the rows that it gives."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from optimizer.learn.gaps import Gap

# `between_subs`: download and overhead. `slew`: slew, centre and settle. `flip`: flip, centre and settle.
ActName = Literal["between_subs", "dither", "filter", "focus", "slew", "flip"]
ACTS: tuple[ActName, ...] = ("between_subs", "dither", "filter", "focus", "slew", "flip")
WORDS: Mapping[ActName, str] = {
    "between_subs": "download and overhead",
    "dither": "dither",
    "filter": "filter change",
    "focus": "autofocus",
    "slew": "slew with centring",
    "flip": "flip",
}


@dataclass(frozen=True)
class LearnedAct:
    """How long an act really took, in seconds, or why that is not known.

    `acts` holds one act; it holds several where only their sum can be measured, since they come together.
    `filter` is the filter put in, of a row for that filter alone. `planned_s` is what the request's law plans
    for the same gaps, their median; where there is no gap what the request has, or None if that depends on
    the way of the axes or on the filter. `median_s`, `low_s` and `high_s` (5 % and 95 %) are None where the
    act is not known, and `unknown` then is a clause that says why; there are `count` gaps all the same. The
    span between low and high also holds how much the acts varied that were taken off. Where the plan differs
    from gap to gap, as for slews of unlike ways, all three are those of what the gaps took beyond their own
    plan, added to `planned_s`.

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


def not_known(
    acts: tuple[ActName, ...],
    filter_name: str | None,
    planned_s: float | None,
    count: int,
    hows: Iterable[str],
    why: str,
) -> LearnedAct:
    """A row of which only what was planned is known."""
    return LearnedAct(
        acts, filter_name, planned_s, None, None, None, count, None, None, None, sentence(hows), why
    )


def sentence(clauses: Iterable[str]) -> str:
    """One sentence of the clauses of some gaps."""
    told = list(dict.fromkeys(clauses))
    if not told:
        return "No gap was found that holds it."
    text = "; ".join(told)
    return text[0].upper() + text[1:] + "."


@dataclass(frozen=True)
class Held:
    """A gap and the acts in it; `how` is a clause on how that is known, `listed` whether by a list.

    `at_most`: the sub after it began when its list had it, so that the acts may have been shorter.
    `may_dither`: a dither may lie in it that `acts` does not have.
    """

    gap: Gap
    acts: tuple[ActName, ...]
    how: str
    listed: bool = False
    at_most: bool = False
    may_dither: bool = False


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
