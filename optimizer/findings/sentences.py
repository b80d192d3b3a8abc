"""A cause in one sentence, true as it stands: what comes of it, the most dangerous first, and what it is."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.findings.causes import Cause
from optimizer.findings.changes import SIDEREAL_PER_CLOCK, Arrival, Moved
from optimizer.findings.finding import Finding
from optimizer.findings.groups import RANK, Fault
from optimizer.findings.wording import (
    ECHOES,
    LOST_BY,
    MOST_NAMED,
    OF_NO_GOAL,
    SHORT_OF,
    column_of,
    count,
    exactly,
    have,
    places_of,
    span_of,
)
from optimizer.models.request import Request
from optimizer.models.shots import Step
from optimizer.words import clock_words, safe


@dataclass(frozen=True)
class Teller:
    """The words for causes in one list, in the site's local time."""

    request: Request
    steps: Sequence[Step]

    def finding(self, cause: Cause) -> Finding:
        """The cause with its sentence."""
        worst = min(cause.faults, key=lambda fault: fault.danger)
        places = places_of([fault for fault in cause.faults if fault.group == worst.group])
        concerned = [self.steps[place] for place in places]
        return Finding(
            group=worst.group,
            rule=worst.rule,
            from_utc=min(step.start_utc for step in concerned) if places else None,
            to_utc=max(step.end_utc for step in concerned) if places else None,
            steps=tuple(step.step for step in concerned),
            amount=worst.violation.amount,
            unit=worst.violation.unit,
            sentence=self._sentence(cause),
        )

    def _sentence(self, cause: Cause) -> str:
        said = self._consequences(cause)
        why = self._why(cause)
        text = f"{said}: {why}" if said and why else said or why
        end = "" if text.endswith("?") else "."
        return f"{text[:1].upper()}{text[1:]}{end}"

    # what comes of it

    def _consequences(self, cause: Cause) -> str:
        by_group: dict[str, list[Fault]] = {}
        for fault in cause.faults:
            by_group.setdefault(fault.group, []).append(fault)
        dangers, lost = by_group.get("equipment", []), by_group.get("lost_frames", [])
        parts = self._dangers(dangers) if dangers else []
        if dangers and cause.order and any(fault.index < 0 for fault in dangers):
            parts[0] = f"followed row by row, {parts[0]}"
        if lost:
            parts.append(self._lost(lost))
        if "quality" in by_group:
            parts.append(self._short(by_group["quality"], brief=bool(parts)))
        return "; ".join(parts) or self._form(cause)

    def _dangers(self, faults: list[Fault]) -> list[str]:
        """A phrase for each rule; those that only say that something is wrong are left out beside others."""
        rules = sorted({fault.rule for fault in faults}, key=lambda rule: RANK.get(rule, 0))
        plain = [rule for rule in rules if rule not in ECHOES] or rules[:1]
        return [self._danger(rule, [each for each in faults if each.rule == rule]) for rule in plain]

    def _danger(self, rule: str, faults: list[Fault]) -> str:
        words: dict[str, Callable[[list[Fault]], str]] = {
            "contact": self._contact,
            "sun_down": lambda each: f"from {self._from(each)} the Sun is up{self._who(each)}",
            "lower_culmination": lambda each: (
                f"from {self._from(each)} the mount tracks into the lower culmination{self._who(each)}"
            ),
            "flip_from": lambda each: (
                f"from {self._from(each)} the tube is on pier side east, up to {span_of(each)} sooner than "
                f"it may be{self._who(each)}"
            ),
            "straddle": lambda each: (
                f"from {self._from(each)} the shutter is open in a flip{self._who(each)}"
            ),
            "known_target": lambda each: (
                f"nothing can be said of {count(len(places_of(each)), 'step')} from {self._from(each)} on: "
                f"{self._message(each)}"
            ),
            "coordinates": lambda each: (
                f"from {self._from(each)} coordinates are not the target's{self._who(each)}: "
                f"{self._message(each)}"
            ),
            "ends_with_park": lambda each: (
                f"the list does not end with park: the mount is left to itself at "
                f"{self._clock(self.steps[-1].end_utc)}"
            ),
            "quiet": lambda each: (
                f"from {self._from(each)} the mount slews in the quiet time before the meridian"
                f"{self._who(each)}"
            ),
            "tracking": lambda each: f"from {self._from(each)} the mount tracks on where it must stand still",
            "latest_start": lambda each: (
                f"{count(len(places_of(each)), 'latest start')} from {self._from(each)} on would lead into "
                f"danger: {self._message(each)}"
            ),
        }
        return words.get(rule, self._plain)(faults)

    def _contact(self, faults: list[Fault]) -> str:
        """When the tube first passes its limit, by how much at most, and for which targets."""
        first = min(faults, key=lambda fault: self._passes(fault))
        worst_s = max(fault.violation.amount for fault in faults)
        mount = self.request.mount
        kept_s = mount.clearance_min * 60 + mount.clock_error_s
        contact = (
            ", past contact itself"
            if mount.contact_min is not None and mount.flip_by != "mount" and worst_s > kept_s
            else ""
        )
        meanwhile = "if the mount tracks on where no row tells of the time, "
        supposed = meanwhile if all(self._in_a_gap(fault) for fault in faults) else ""
        since = self._clock(self._passes(first))
        limit = f"the tube is up to {span_of(faults)} past its limit{contact}"
        return f"{supposed}from {since} {limit}{self._who(faults)}"

    def _passes(self, fault: Fault) -> dt.datetime:
        """The instant at which a step that leads past the limit passes it, no sooner than its start."""
        step = self._step(fault)
        before = dt.timedelta(seconds=fault.violation.amount / SIDEREAL_PER_CLOCK)
        if self._in_a_gap(fault):
            return step.start_utc - before
        closes = step.end_utc
        if step.kind == "expose" and step.exposure_s is not None:
            closes = step.start_utc + dt.timedelta(seconds=math.ceil(step.exposure_s))
            if closes - before < step.start_utc < step.end_utc - before:
                return step.end_utc - before  # what passes the limit is the time by which it lasts longer
        return max(step.start_utc, closes - before)

    def _in_a_gap(self, fault: Fault) -> bool:
        """Whether the danger lies in the time before the step that no row tells of."""
        return fault.index < 0 and self._step(fault).kind in ("slew", "flip", "park", "wait")

    def _lost(self, faults: list[Fault]) -> str:
        """How many subs are lost or spoilt, and by what; steps where none of them is a sub."""
        subs = [fault for fault in faults if fault.place is not None and self._step(fault).kind == "expose"]
        told = subs or faults
        number, reasons = len(places_of(told)), self._tally(told, LOST_BY)
        number += sum(round(each.violation.amount) - 1 for each in told if each.rule == "frames")
        if subs and all(each.rule in OF_NO_GOAL for each in subs):
            return f"{count(number, 'sub')} would count for no goal from {self._from(told)} on ({reasons})"
        if subs:
            return f"{count(number, 'sub')} would be lost or spoilt from {self._from(told)} on ({reasons})"
        if not number:
            return self._message(told)
        return f"{count(number, 'step')} from {self._from(told)} on cannot be done like this ({reasons})"

    def _short(self, faults: list[Fault], *, brief: bool) -> str:
        """What the list is short of: by step, or in the words of the audit where nobody has shorter ones.

        `brief`: worse is told beside it.
        """
        steps = {fault.place: fault for fault in faults if fault.place is not None}
        named = all(fault.rule in SHORT_OF for fault in faults)
        if brief or named:
            known = [fault for fault in faults if fault.rule in SHORT_OF]
            reasons = f" ({self._tally(known, SHORT_OF)})" if known else ""
            subs = steps and all(self._step(fault).kind == "expose" for fault in steps.values())
            number = count(len(steps), "sub" if subs else "step") if steps else "the list"
            falls = "falls" if len(steps) <= 1 else "fall"
            return f"{number} {falls} short of what the request asks for{reasons}"
        whole = [fault for fault in faults if fault.place is None]
        worst = min(whole or faults, key=lambda fault: fault.danger)
        message = safe(worst.violation.message)
        if whole:  # the audit's report goes on with the worst steps one by one
            return message.split("; the ")[0]
        return f"{message}{self._and_more(faults)}"

    def _form(self, cause: Cause) -> str:
        """What is only written wrongly; where rows are missing or moved the cause says it all."""
        faults = cause.faults
        if cause.order or cause.moved or cause.arrivals or cause.gaps:
            return ""
        rows = count(len(places_of(faults)), "row")
        if all(fault.numbering for fault in faults):
            return (
                f"{rows} from {self._from(faults)} on {have(rows)} another number than its place in the list"
            )
        if all(fault.place is None for fault in faults):
            rules = ", ".join(sorted({fault.rule for fault in faults}))
            return (
                f"what the list says of itself is not what its steps say ({rules}): {self._message(faults)}"
            )
        wrong = sorted({column_of(fault) for fault in faults if fault.rule == "columns"})
        empty = sorted({column_of(fault) for fault in faults if fault.rule != "columns"})
        parts = [f"not what the sky says, which was computed anew: {', '.join(wrong)}"] if wrong else []
        parts += [f"empty or wrong: {', '.join(empty)}"] if empty else []
        return f"{rows} from {self._from(faults)} on {have(rows)} cells that are {'; '.join(parts)}"

    def _plain(self, faults: list[Fault]) -> str:
        """The worst of them in the words of the audit."""
        when = f"at {self._from(faults)}: " if places_of(faults) else ""
        return f"{when}{self._message(faults)}{self._and_more(faults)}"

    # what it is

    def _why(self, cause: Cause) -> str:
        if cause.order:
            first = self.steps[cause.order[0]]
            rows = count(len(cause.order), "row")
            stand = "stands" if len(cause.order) == 1 else "stand"
            which = "," if len(cause.order) == 1 else ", the first of them"
            return (
                f"{rows} {stand} out of the order of time{which} step {first.step} at "
                f"{self._clock(first.start_utc)}"
            )
        if cause.moved is not None:
            return self._why_moved(cause)
        parts = [self._why_arrivals(cause.arrivals)] if cause.arrivals else []
        if cause.gaps:
            parts.append(self._why_gaps(cause))
        return ", and ".join(parts)

    def _why_gaps(self, cause: Cause) -> str:
        """Rows are missing where numbers are; else all that is known is that time is not told."""
        pairs = [(self.steps[place - 1], self.steps[place]) for place in cause.gaps if place]
        untold_s = sum((step.start_utc - before.end_utc).total_seconds() for before, step in pairs)
        rows = any(step.step - before.step > 1 for before, step in pairs)
        first = self.steps[cause.gaps[0]]
        at = f"at {count(len(cause.gaps), 'place')}"
        which = f"{at}, the first of them" if len(cause.gaps) > 1 else at
        what = "rows are missing" if rows else f"no row tells of {exactly(round(max(0, untold_s)))}"
        park = any(fault.rule == "ends_with_park" for fault in cause.faults)
        end = ", and there is no park at the end" if park else ""
        return f"{what} {which} before step {first.step} at {self._clock(first.start_utc)}{end}"

    def _why_moved(self, cause: Cause) -> str:
        moved = cause.moved
        if moved is None:
            return ""
        span, way = exactly(abs(moved.seconds)), "later" if moved.seconds < 0 else "earlier"
        whole = moved.first == 0 and moved.last == len(self.steps) - 1
        if whole:
            which = "all times are"
        elif moved.last == len(self.steps) - 1:
            which = f"all times from {self._clock(self.steps[moved.first].start_utc)} on are"
        else:
            which = f"the times from step {self.steps[moved.first].step} to {self.steps[moved.last].step} are"
        if moved.told:
            local = " (written by the site's clock where UTC belongs?)" if self._by_the_clock(moved) else ""
            return f"{which} {span} {way} than the positions in the list say{local}"
        other = "earlier" if moved.seconds < 0 else "later"
        return f"moved {span} {other} it would keep all limits of sky and meridian; is its clock another one?"

    def _by_the_clock(self, moved: Moved) -> bool:
        """Whether times are off by just what the site's clock is ahead of or behind UTC."""
        zone = zoneinfo.ZoneInfo(self.request.site.time_zone)
        ahead = self.steps[moved.first].start_utc.astimezone(zone).utcoffset()
        return bool(ahead) and ahead == dt.timedelta(seconds=-moved.seconds)

    def _why_arrivals(self, arrivals: Sequence[Arrival]) -> str:
        parts = []
        for kind in ("flip", "slew"):
            those = [arrival for arrival in arrivals if arrival.kind == kind]
            if those:
                to = "to" if kind == "slew" else "of"
                named = [
                    f"{to} {safe(each.target)} before {self._clock(self.steps[each.place].start_utc)}"
                    for each in those[:MOST_NAMED]
                ]
                more = f" and {len(those) - MOST_NAMED} more" if len(those) > MOST_NAMED else ""
                which = f"the {kind}" if len(those) == 1 else f"the {kind}s"
                parts.append(
                    f"{which} {' and '.join(named)}{more} {'is' if len(those) == 1 else 'are'} missing"
                )
        return " and ".join(parts)

    # words

    def _clock(self, instant: dt.datetime) -> str:
        return clock_words(instant, self.request.site.time_zone)

    def _step(self, fault: Fault) -> Step:
        return self.steps[fault.place or 0]

    def _from(self, faults: Sequence[Fault]) -> str:
        places = places_of(faults)
        return self._clock(min(self.steps[place].start_utc for place in places)) if places else "the start"

    def _message(self, faults: Sequence[Fault]) -> str:
        return safe(min(faults, key=lambda fault: fault.danger).violation.message)

    @staticmethod
    def _and_more(faults: Sequence[Fault]) -> str:
        return f", and {len(faults) - 1} more of the kind" if len(faults) > 1 else ""

    def _who(self, faults: Sequence[Fault]) -> str:
        """The targets concerned and how many of their subs, in brackets: ` (Andromeda, 4 subs)`."""
        subs: dict[str, int] = {}
        for place in places_of(faults):
            step = self.steps[place]
            if step.target is not None:
                subs[step.target] = subs.get(step.target, 0) + (step.kind == "expose")
        told = [
            safe(target) + (f", {count(number, 'sub')}" if number else "")
            for target, number in list(subs.items())[:MOST_NAMED]
        ]
        more = [f"{len(subs) - MOST_NAMED} more targets"] if len(subs) > MOST_NAMED else []
        return f" ({'; '.join(told + more)})" if told else ""

    def _tally(self, faults: Sequence[Fault], words: dict[str, str]) -> str:
        """Reasons with the number of steps that each holds for, the commonest first; each step has one."""
        worst: dict[int | None, Fault] = {}
        for fault in sorted(faults, key=lambda fault: fault.danger):
            worst.setdefault(fault.place, fault)
        counts = Counter(words.get(each.rule, safe(each.violation.message)) for each in worst.values())
        if len(counts) == 1:
            return next(iter(counts))
        return ", ".join(f"{number} {why}" for why, number in counts.most_common())
