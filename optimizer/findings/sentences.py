"""A cause in one sentence, true as it stands: what comes of it, the most dangerous first, and what it is."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.findings.causes import Cause
from optimizer.findings.changes import SIDEREAL_PER_CLOCK, Arrival
from optimizer.findings.finding import Finding
from optimizer.findings.groups import RANK, Fault
from optimizer.models.request import Request
from optimizer.models.shots import Step
from optimizer.words import safe

LOST_BY = {
    "darkness": "sky not dark enough",
    "floor": "below the floor",
    "skyline": "behind the local horizon",
    "ceiling": "above the ceiling",
    "acquisition": "too low to be acquired",
    "blocked": "in a blocked span",
    "clear": "outside the clear spans",
    "within_night": "outside the night",
    "acquired": "no slew, plate solve or settling before them",
    "moon_gap": "too near the Moon",
    "moonlight": "too much moonlight",
    "slew_time": "the mount still moves",
    "step_length": "too little time",
    "known_filter": "filter not known",
    "light_path": "another filter in the light path",
    "goal_match": "no goal asks for them",
    "frames": "more than the goal lacks",
    "contiguous": "two steps at once",
    "latest_start": "begun after their latest start",
    "tracking": "the mount does not track",
    "ends_with_park": "after a park",
}
SHORT_OF = {
    "focus_new_target": "autofocus after a slew",
    "focus_after_flip": "autofocus after a flip",
    "focus_filter": "autofocus after a change of filter",
    "focus_every": "autofocus often enough",
    "dither_every": "dither",
    "rotator": "the right turn of the rotator",
    "position_angle": "the position angle that the target wants",
    "sides": "the side of the transit that is asked for",
    "tracking": "tracking where the mount could track",
    "latest_start": "a latest start that still lies ahead",
}
ECHOES = ("pier_side", "acquired", "latest_start")  # dangers that others of the same cause tell better
MOST_NAMED = 3  # targets or places that a sentence names one by one


@dataclass(frozen=True)
class Teller:
    """The words for causes in one list, in the site's local time."""

    request: Request
    steps: Sequence[Step]

    def finding(self, cause: Cause) -> Finding:
        """The cause with its sentence."""
        worst = min(cause.faults, key=lambda fault: fault.danger)
        places = _places([fault for fault in cause.faults if fault.group == worst.group])
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
                f"from {self._from(each)} the tube is on pier side east, up to {_span(each)} sooner than "
                f"it may be{self._who(each)}"
            ),
            "straddle": lambda each: (
                f"from {self._from(each)} the shutter is open in a flip{self._who(each)}"
            ),
            "known_target": lambda each: (
                f"nothing can be said of {_count(len(_places(each)), 'step')} from {self._from(each)} on: "
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
                f"{_count(len(_places(each)), 'latest start')} from {self._from(each)} on would lead into "
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
        limit = f"the tube is up to {_span(faults)} past its limit{contact}"
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
        return max(step.start_utc, closes - before)

    def _in_a_gap(self, fault: Fault) -> bool:
        """Whether the danger lies in the time before the step that no row tells of."""
        return fault.index < 0 and self._step(fault).kind in ("slew", "flip", "park", "wait")

    def _lost(self, faults: list[Fault]) -> str:
        """How many subs are lost or spoilt, and by what; steps where none of them is a sub."""
        subs = [fault for fault in faults if fault.place is not None and self._step(fault).kind == "expose"]
        told = subs or faults
        number, reasons = len(_places(told)), self._tally(told, LOST_BY)
        if subs:
            return f"{_count(number, 'sub')} would be lost or spoilt from {self._from(told)} on ({reasons})"
        if not number:
            return self._message(told)
        return f"{_count(number, 'step')} from {self._from(told)} on cannot be done like this ({reasons})"

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
            number = _count(len(steps), "sub" if subs else "step") if steps else "the list"
            falls = "falls" if len(steps) <= 1 else "fall"
            return f"{number} {falls} short of what the request asks for{reasons}"
        whole = [fault for fault in faults if fault.place is None]
        worst = min(whole or faults, key=lambda fault: fault.danger)
        return f"{safe(worst.violation.message)}{'' if whole else self._and_more(faults)}"

    def _form(self, cause: Cause) -> str:
        """What is only written wrongly; where rows are missing or moved the cause says it all."""
        faults = cause.faults
        if cause.order or cause.moved or cause.arrivals or cause.gaps:
            return ""
        rows = _count(len(_places(faults)), "row")
        if all(fault.numbering for fault in faults):
            return (
                f"{rows} from {self._from(faults)} on {_have(rows)} another number than its place in the list"
            )
        if all(fault.place is None for fault in faults):
            rules = ", ".join(sorted({fault.rule for fault in faults}))
            return (
                f"what the list says of itself is not what its steps say ({rules}): {self._message(faults)}"
            )
        wrong = sorted({_column(fault) for fault in faults if fault.rule == "columns"})
        empty = sorted({_column(fault) for fault in faults if fault.rule != "columns"})
        parts = [f"not what the sky says, which was computed anew: {', '.join(wrong)}"] if wrong else []
        parts += [f"empty or wrong: {', '.join(empty)}"] if empty else []
        return f"{rows} from {self._from(faults)} on {_have(rows)} cells that are {'; '.join(parts)}"

    def _plain(self, faults: list[Fault]) -> str:
        """The worst of them in the words of the audit."""
        when = f"at {self._from(faults)}: " if _places(faults) else ""
        return f"{when}{self._message(faults)}{self._and_more(faults)}"

    # what it is

    def _why(self, cause: Cause) -> str:
        if cause.order:
            first = self.steps[cause.order[0]]
            rows = _count(len(cause.order), "row")
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
            first = self.steps[cause.gaps[0]]
            where = _count(len(cause.gaps), "place")
            which = "" if len(cause.gaps) == 1 else ", the first of them"
            park = any(fault.rule == "ends_with_park" for fault in cause.faults)
            parts.append(
                f"rows are missing at {where}{which} before step {first.step} at "
                f"{self._clock(first.start_utc)}{', and the park at the end' if park else ''}"
            )
        return ", and ".join(parts)

    def _why_moved(self, cause: Cause) -> str:
        moved = cause.moved
        if moved is None:
            return ""
        span, way = _exactly(abs(moved.seconds)), "later" if moved.seconds < 0 else "earlier"
        whole = moved.first == 0 and moved.last == len(self.steps) - 1
        if whole:
            which = "all times are"
        elif moved.last == len(self.steps) - 1:
            which = f"all times from {self._clock(self.steps[moved.first].start_utc)} on are"
        else:
            which = f"the times from step {self.steps[moved.first].step} to {self.steps[moved.last].step} are"
        if moved.told:
            return f"{which} {span} {way} than the positions in the list say"
        other = "earlier" if moved.seconds < 0 else "later"
        return f"moved {span} {other} it would keep all limits of sky and meridian; is its clock another one?"

    def _why_arrivals(self, arrivals: Sequence[Arrival]) -> str:
        parts = []
        for kind in ("flip", "slew"):
            those = [arrival for arrival in arrivals if arrival.kind == kind]
            if those:
                to = "to" if kind == "slew" else "of"
                named = [
                    f"{to} {_name(each.target)} before {self._clock(self.steps[each.place].start_utc)}"
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
        return f"{instant.astimezone(zoneinfo.ZoneInfo(self.request.site.time_zone)):%H:%M}"

    def _step(self, fault: Fault) -> Step:
        return self.steps[fault.place or 0]

    def _from(self, faults: Sequence[Fault]) -> str:
        places = _places(faults)
        return self._clock(min(self.steps[place].start_utc for place in places)) if places else "the start"

    def _message(self, faults: Sequence[Fault]) -> str:
        return safe(min(faults, key=lambda fault: fault.danger).violation.message)

    @staticmethod
    def _and_more(faults: Sequence[Fault]) -> str:
        return f", and {len(faults) - 1} more of the kind" if len(faults) > 1 else ""

    def _who(self, faults: Sequence[Fault]) -> str:
        """The targets concerned and how many of their subs, in brackets: ` (Andromeda, 4 subs)`."""
        subs: dict[str, int] = {}
        for place in _places(faults):
            step = self.steps[place]
            if step.target is not None:
                subs[step.target] = subs.get(step.target, 0) + (step.kind == "expose")
        told = [
            _name(target) + (f", {_count(number, 'sub')}" if number else "")
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


def _places(faults: Sequence[Fault]) -> list[int]:
    return sorted({fault.place for fault in faults if fault.place is not None})


def _column(fault: Fault) -> str:
    """The column that a fault of form is about."""
    if fault.rule == "columns":
        return fault.violation.message.split(" says ")[0]
    return {"latest_start": "latest_start_utc", "position_angle": "position_angle_deg"}.get(
        fault.rule, fault.rule
    )


def _have(rows: str) -> str:
    return "has" if rows == "1 row" else "have"


def _count(number: int, one: str) -> str:
    return f"{number} {one if number == 1 else one + 's'}"


def _name(text: str) -> str:
    return safe(text)


def _span(faults: Sequence[Fault]) -> str:
    """The greatest amount of seconds, rounded up to tenths of a minute, or whole seconds below one minute."""
    seconds = max(fault.violation.amount for fault in faults)
    return f"{math.ceil(seconds)} s" if seconds < 60 else f"{math.ceil(seconds / 6 - 1e-9) / 10:.1f} min"


def _exactly(seconds: int) -> str:
    """A span to the second: `1 h 40 min`, `40 min`, `90 s`."""
    hours, rest = divmod(seconds, 3600)
    minutes, over = divmod(rest, 60)
    parts = [
        f"{hours} h" if hours else "",
        f"{minutes} min" if minutes else "",
        f"{over} s" if over else "",
    ]
    return " ".join(part for part in parts if part) or "0 s"
