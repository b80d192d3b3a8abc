"""Gaps -> the acts that they hold, told apart without a list: by rules, places and lengths."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from statistics import median

from optimizer.learn.gaps import Gap
from optimizer.learn.middle import FEWEST
from optimizer.learn.planned import planned_of
from optimizer.learn.pointing import SIDE_UNKNOWN, WAITS_FOR_FLIP, WRONG_TIME, Pointing
from optimizer.learn.rhythm import MOST_DITHER_S, Placed, Rhythm, rhythm_of
from optimizer.learn.rows import ActName, Held
from optimizer.models.request import Request

LOST = "as long as if one to three subs lay between whose files are missing"
LONG = "longer, or shorter, than its acts explain: clouds, a stall, a wait or lost subs"
OUT_OF_STEP = "gaps within a run that are longer than the others, but do not come as dither_every has it"
UNASKED = "dithers seem to come that dither_every does not ask for, and one may lie in it"
NOT_EACH = "gaps within a run are of more than one length, though dither_every asks for a dither in each"
ROOM_FOR_SUB = "no short gap of its run tells that no sub lies in it whose file is missing"
MAY_FOCUS = "an autofocus may or may not lie in it"
OTHER_GOAL = "from one goal to another through one filter, where an autofocus may lie"
FOCUS_SPAN = (0.3, 4.0)  # an autofocus takes between so many times what is planned
ABOUT = 0.15  # of a sub: a gap longer than another by a sub, to so much, may hold one that was lost
LOST_SELDOM = 4  # sound gaps for each that is longer by a sub: so few are taken for lost subs
SHORT_SUB_S = 20.0  # of shorter subs the camera may well take longer than they last
ALIKE = 0.6  # autofocus runs differ by no more than so much of their middle


Sorted = tuple[list[Held], list[tuple[Gap, str]]]  # gaps whose acts are known; the others, with the reason


class _ByRules:
    """Goes through the gaps of some nights in the order of time."""

    def __init__(self, request: Request, pointing: Pointing, *, whole_seconds: bool) -> None:
        self.request, self.pointing, self.whole_seconds = request, pointing, whole_seconds
        self.held: list[Held] = []
        self.aside: list[tuple[Gap, str]] = []
        self.maybe_focus: list[Gap] = []
        camera = request.camera
        self.tail_s = camera.download_s + camera.overhead_s
        self.every_s = request.focus.every_min * 60
        every, dither_s = camera.dither_every, camera.dither_s
        self.rhythm = rhythm_of([], every, self.tail_s, dither_s, whole_seconds=whole_seconds)

    def sort(self, gaps: Sequence[Gap]) -> Sorted:
        """All gaps, each once."""
        self._find_rhythm(gaps)
        run_gaps = {id(each.gap): each.place for each in self._placed(gaps)}
        focused: dt.datetime | None = None
        subs_since = 0
        before: Gap | None = None
        later: list[tuple[Gap, float | None]] = []
        for gap in gaps:
            if before is None or before.after.frame is not gap.before.frame:
                focused, subs_since = gap.before.begins_utc, 0  # a night begins with one
            before, subs_since = gap, subs_since + 1
            age_s = None if focused is None else self._age_s(gap, focused, subs_since)
            if gap.broken:
                self.aside.append((gap, gap.broken))
            elif gap.kind == "run":
                if self._in_run(gap, run_gaps[id(gap)], age_s):
                    focused, subs_since = gap.after.begins_utc, 0
            else:
                later.append((gap, age_s))
            if gap.kind in ("filter", "flip", "slew") and (self._must_focus(gap) or self._seems_focused(gap)):
                focused, subs_since = gap.after.begins_utc, 0
        self._settle_focus()
        self.wrong = {
            gap.before.evening
            for gap, _ in later
            if gap.kind in ("slew", "flip")
            and not (self.pointing.could_be_seen(gap.before) and self.pointing.could_be_seen(gap.after))
        }
        for gap, age_s in later:
            self._between_runs(gap, age_s)
        return self.held, self.aside

    def _find_rhythm(self, gaps: Sequence[Gap]) -> None:
        for _ in range(2):  # the first rhythm tells where subs are lost, which tells the places
            self.rhythm = rhythm_of(
                self._placed(gaps),
                self.request.camera.dither_every,
                self.tail_s,
                self.request.camera.dither_s,
                whole_seconds=self.whole_seconds,
            )

    def _placed(self, gaps: Sequence[Gap]) -> list[Placed]:
        """The unbroken gaps within runs, each with the subs before it, those of missing files included."""
        placed: list[Placed] = []
        place: int | None = 1
        before: Gap | None = None
        for gap in gaps:
            if before is None or before.after.frame is not gap.before.frame or before.kind != "run":
                place = 1
            before = gap
            if gap.broken:
                place = None
            if gap.kind != "run" or gap.broken:
                continue
            placed.append(Placed(gap, place))
            if place is None:
                continue
            place += 1
            if gap.seconds > self.rhythm.longest_s + 1.0:
                lost = self.rhythm.lost(gap.seconds, gap.before.exposure_s)
                if lost:
                    place += lost
                elif self.every_s:
                    place = 1  # most likely an autofocus, after which the count begins anew
        return placed

    def _age_s(self, gap: Gap, focused: dt.datetime, subs: int) -> float:
        """Age of the autofocus as the next sub would close, by the clock or by the plan, the greater one."""
        next_s = self.tail_s + gap.after.exposure_s
        by_clock_s = (gap.before.closes_utc - focused).total_seconds() + next_s
        dithers = subs // self.rhythm.every if self.rhythm.every else 0
        by_plan_s = (subs + 1) * (gap.after.exposure_s + self.tail_s)
        return max(by_clock_s, by_plan_s + dithers * self.request.camera.dither_s)

    def _in_run(self, gap: Gap, place: int | None, age_s: float | None) -> bool:
        """Sort a gap within a run; whether it seems to hold an autofocus."""
        rhythm = self.rhythm
        dithers = rhythm.holds_dither(gap.seconds, place)
        plain_s = rhythm.base_s if dithers is not False else max(rhythm.base_s, gap.seconds)
        if plain_s >= max(gap.before.exposure_s, SHORT_SUB_S) + self.tail_s:
            self.aside.append((gap, ROOM_FOR_SUB))
            return False
        if rhythm.by == "each" and not rhythm.in_step and gap.seconds <= rhythm.base_s + MOST_DITHER_S:
            self.aside.append((gap, NOT_EACH))
            return False
        if dithers is not None:
            self.held.append(_run_gap(gap, rhythm, dithers))
            return False
        if gap.seconds <= rhythm.longest_s:
            out_of_step = not rhythm.in_step and rhythm.plain and gap.seconds > rhythm.plain[1]
            self.aside.append((gap, OUT_OF_STEP if out_of_step else LONG))
        elif rhythm.lost(gap.seconds, gap.before.exposure_s) is not None:
            self.aside.append((gap, LOST))
        elif age_s is not None and self._is_due(gap, age_s):
            self.maybe_focus.append(gap)
            return self._long_enough(gap)
        else:
            self.aside.append((gap, OUT_OF_STEP if not rhythm.in_step and gap.seconds < 60 else LONG))
        return False

    def _long_enough(self, gap: Gap) -> bool:
        low, high = FOCUS_SPAN
        run_s = self.request.focus.run_s
        return low * run_s <= gap.seconds - self.rhythm.base_s <= high * run_s

    def _settle_focus(self) -> None:
        """Take those gaps for an autofocus that came when one was due and are about as long as each other."""
        likely = [gap for gap in self.maybe_focus if self._long_enough(gap)]
        lengths = [gap.seconds for gap in likely]
        middle_s = max(lengths, key=lambda v: _alike(lengths, v, ALIKE / 2), default=0.0)
        alike = [gap for gap in likely if abs(gap.seconds - middle_s) <= ALIKE * middle_s]
        longer = [gap for gap in alike if self._may_hold_subs(gap, likely)]
        sound = [gap for gap in alike if gap not in longer]
        # subs are seldom lost in gap after gap; where they seem to be, nobody knows which gaps are sound
        enough = len(sound) >= max(FEWEST, LOST_SELDOM * len(longer)) and 2 * len(sound) >= len(lengths)
        self.focus_s = median(gap.seconds for gap in sound) - self.rhythm.base_s if enough else None
        acts: tuple[ActName, ...] = ("between_subs", "focus")
        how = "gaps within a run that came when an autofocus was due by every_min and are about alike"
        if self.rhythm.every:
            acts, how = ("between_subs", "dither", "focus"), f"{how}, with a dither after it"
        unasked = not self.rhythm.every and not self.rhythm.in_step
        for gap in self.maybe_focus:
            if unasked:
                self.aside.append((gap, UNASKED))
            elif enough and gap in sound:
                self.held.append(Held(gap, acts, how))
            else:
                self.aside.append((gap, LONG))

    def _may_hold_subs(self, gap: Gap, likely: Sequence[Gap]) -> bool:
        """Whether a gap is longer than another likely one by about one to three subs of its own."""
        sub_s = gap.before.exposure_s + self.rhythm.base_s
        beyond = [gap.seconds - each.seconds for each in likely if each.seconds < 0.9 * gap.seconds]
        return any(abs(more_s - n * sub_s) <= ABOUT * sub_s for more_s in beyond for n in (1, 2, 3))

    def _must_focus(self, gap: Gap) -> bool:
        """Whether the request asks for an autofocus in a gap between runs."""
        focus, mount = self.request.focus, self.request.mount
        changes = gap.kind == "slew" or gap.before.goal.filter != gap.after.goal.filter
        if gap.kind == "slew" and focus.on_new_target:
            return True
        if gap.kind == "flip" and mount.refocus_after_flip:
            return True
        return focus.on_filter_change and changes

    def _seems_focused(self, gap: Gap, focus_s: float | None = None) -> bool:
        """Whether a gap from filter to filter is long enough to hold an autofocus that nothing asks for."""
        if not self.every_s or gap.kind != "filter":
            return False
        change_s = self.request.filter_named(gap.after.goal.filter).change_s
        run_s = self.request.focus.run_s if focus_s is None else focus_s
        return gap.seconds - self.rhythm.base_s - change_s > run_s / 2

    def _between_runs(self, gap: Gap, age_s: float | None) -> None:
        """Sort a gap from one run to another."""
        reason = self._unclear(gap, age_s)
        if reason:
            self.aside.append((gap, reason))
            return
        changes = gap.before.goal.filter != gap.after.goal.filter
        acts: list[ActName] = ["between_subs"]
        if gap.kind in ("slew", "flip"):
            acts.append("slew" if gap.kind == "slew" else "flip")
        if gap.kind in ("slew", "filter") or changes:
            acts.append("filter")
        if self._must_focus(gap) or self._seems_focused(gap, self.focus_s):
            acts.append("focus")
        # a late list skips the subs before a flip, but not the dither between them
        may_dither = gap.kind == "flip" and self.request.camera.dither_every > 0
        held = Held(gap, tuple(acts), _HOW[gap.kind], may_dither=may_dither)
        if self._is_due(gap, age_s) and self._longer_s(held) > self.request.focus.run_s / 2:
            self.aside.append((gap, MAY_FOCUS))  # before the mount left: a late list skips the subs after it
        else:
            self.held.append(held)

    def _is_due(self, gap: Gap, age_s: float | None) -> bool:
        """Whether an autofocus is due in a gap, or nearly."""
        return bool(self.every_s) and (age_s is None or age_s >= 0.9 * self.every_s - gap.before.exposure_s)

    def _longer_s(self, held: Held) -> float:
        planned = planned_of(self.request, held, self.pointing)
        return 0.0 if planned is None else held.gap.seconds - sum(planned.values())

    def _unclear(self, gap: Gap, age_s: float | None) -> str | None:
        if gap.kind == "goal":
            return OTHER_GOAL
        if gap.kind == "filter":
            return None
        if gap.before.evening in self.wrong:
            return WRONG_TIME
        if gap.kind == "flip" and self.pointing.waits_for_flip(gap):
            return WAITS_FOR_FLIP
        if self.pointing.motion_s(gap, gap.before.closes_utc) is None:
            return SIDE_UNKNOWN
        if not self._must_focus(gap) and self.every_s and (age_s is None or age_s > 0.8 * self.every_s):
            return MAY_FOCUS
        return None


_HOW = {
    "filter": "gaps to another filter on the same target and pier side",
    "slew": "gaps to another target",
    "flip": "gaps to the other pier side on the same target",
}


def by_rules(request: Request, gaps: Sequence[Gap], pointing: Pointing, *, whole_seconds: bool) -> Sorted:
    """Tell which acts lie in each gap, by the rules of the request; `gaps` are in the order of time."""
    sorting = _ByRules(request, pointing, whole_seconds=whole_seconds)
    return sorting.sort(pointing.with_flips(list(gaps)))


def _run_gap(gap: Gap, rhythm: Rhythm, dithers: bool) -> Held:
    acts: tuple[ActName, ...] = ("between_subs", "dither") if dithers else ("between_subs",)
    if rhythm.by == "all":
        return Held(gap, acts, "gaps within a run, where no dithers are asked for")
    if rhythm.by == "each":
        return Held(gap, acts, "gaps within a run, each of which holds a dither")
    if rhythm.by == "length":
        how = "the longer of the two lengths" if dithers else "the shorter of the two lengths"
        return Held(gap, acts, f"{how} that gaps within a run have")
    if dithers:
        return Held(gap, acts, f"gaps after each {rhythm.every} subs of a run")
    return Held(gap, acts, f"gaps within a run that do not come after each {rhythm.every} subs")


def _alike(lengths: Sequence[float], length: float, share: float) -> int:
    return sum(abs(each - length) <= share * length for each in lengths)
