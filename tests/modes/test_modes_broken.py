"""Kinds of mount violation that the other broken plans do not hold, each beside a whole night one second off.

Nights are laid by hand; the request's limit then moves to where the night just meets it (the twin), or one
second beyond (the broken plan).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import cache, partial

import pytest

from tests.support.checks import there
from tests.support.hand_laid.edges import (
    ask_contact,
    ask_early_flip,
    ask_flip,
    closes,
    edge,
    flip_start,
    hour_angle,
)
from tests.support.hand_laid.mutations import (
    Case,
    asking,
    boundary,
    edited,
    ids,
    judge_broken,
    judge_twin,
    later,
    number_of,
    shutter_close,
    stretched,
)
from tests.support.hand_laid.night_builder import NightBuilder, R
from tests.support.hand_laid.night_cases import (
    CRADLE,
    WHEEL,
    Night,
    at,
    by_itself,
    fork,
    request,
    target,
    tight,
    turned,
    under,
)

Clock = Callable[[Night], dt.datetime]
CRADLE_TURN, POLE_TURN = hour_angle("Cradle"), hour_angle("Polar Dust")


# --- nights -------------------------------------------------------------------------------------------------


@cache
def approach(last: str) -> Night:
    """On the first side before the meridian, up to one of the steps of the arrival, then park."""
    night = NightBuilder(request(), at("2026-11-14T23:40:00")).slew("Cradle", "west")
    order = ["slew", "centre", "settle", "filter", "focus"]
    if last in ("filter", "focus"):
        night.set_filter("L")
    if last == "focus":
        night.focus()
    kept = order.index(last) + 1
    night.rows = night.rows[:kept]
    night.now = night.tracked_until = night.rows[-1]["end_utc"]
    return Night(night.request, night.park().steps())


@cache
def down(last: str) -> Night:
    """The same on the flipped side, shortly before the lower culmination."""
    pole = {"name": "Polar Dust", "ra_deg": 230.0, "dec_deg": 76.0}
    asked = request(targets=[target(pole)], site={"floor_deg": 20.0})
    night = NightBuilder(asked, at("2026-11-14T23:00:00"))
    night.now = night.almanac.when_hour_angle("Polar Dust", 43200 - 450, night.now)
    night.slew("Polar Dust", "east")
    if last == "focus":
        night.set_filter("L").focus()
    else:
        night.rows = night.rows[: {"slew": 1, "centre": 2, "settle": 3}[last]]
        night.now = night.tracked_until = night.rows[-1]["end_utc"]
    return Night(asked, night.park().steps())


@cache
def slewed_east() -> Night:
    """Slewed, not flipped, to the flipped side soon after the transit."""
    night = NightBuilder(request(), at("2026-11-14T23:40:00"))
    night.now = night.almanac.when_hour_angle("Cradle", 340.0, night.now)
    night.slew("Cradle", "east").set_filter("L").focus().expose(2)
    return Night(night.request, night.park().steps())


@cache
def slewed_east_early() -> Night:
    """The same before the meridian, as far as the flipped side's own contact allows."""
    asked = request(mount={"flip_from_min": -9.0, "contact_before_min": 30.0, "quiet_min": 0.0})
    night = NightBuilder(asked, at("2026-11-14T23:40:00"))
    night.now = night.almanac.when_hour_angle("Cradle", -480.0, night.now)
    night.slew("Cradle", "east").set_filter("L").focus().expose(2)
    return Night(asked, night.park().steps())


@cache
def direct() -> Night:
    """The flip follows at once on the download; its way takes no whole number of seconds."""
    asked = request(mount={"slew_deg_s": 2.9})
    night = NightBuilder(asked, at("2026-11-14T23:50:00")).slew("Cradle", "west").set_filter("L").focus()
    night.now = night.almanac.when_hour_angle("Cradle", 200.0, night.now) - dt.timedelta(seconds=100)
    night.rows[-1]["end_utc"] = night.now
    return Night(asked, night.expose(2).flip().focus().expose(2).park().steps())


@cache
def own_flip() -> Night:
    """The mount flips by itself, with such a way."""
    asked = request(mount={"flip_by": "mount", "slew_deg_s": 2.9})
    night = NightBuilder(asked, at("2026-11-14T23:40:00")).slew("Cradle", "west").set_filter("L").focus()
    night.expose(4).until_hour_angle(330.0, tracking=True).flip().focus().expose(2)
    return Night(asked, night.park().steps())


@cache
def from_transit(seconds: int, focus: bool) -> Night:
    """A slew, or a focus run that leaves the target, so long after the first second past the meridian."""
    asked = request(focus={"leaves_target": True, "every_min": 0.0})
    night = NightBuilder(asked, at("2026-11-14T23:30:00"))
    transit = night.almanac.when_hour_angle("Cradle", 0.0, at("2026-11-15T00:00:00"))
    if float(night.almanac.hour_angle_s("Cradle", transit)[0]) < 0:
        transit += dt.timedelta(seconds=1)
    begins = transit + dt.timedelta(seconds=seconds)
    if focus:
        night.slew("Cradle", "west").set_filter("L").wait_until(begins, tracking=True).focus()
    else:
        night.now = begins
        night.slew("Cradle", "west").set_filter("L").focus()
    return Night(asked, night.expose(2).park().steps())


@cache
def refocused_early() -> Night:
    """Flipped long before the meridian; a second focus run follows on the flipped side, for another filter."""
    asked = request(
        mount={
            "contact_min": -12.0,
            "clearance_min": 2.0,
            "flip_from_min": -30.0,
            "contact_before_min": 40.0,
        },
        focus={"leaves_target": True},
    )
    night = NightBuilder(asked, at("2026-11-14T23:15:00")).slew("Cradle", "west").set_filter("L").focus()
    night.expose(2).until_hour_angle(-1300.0).flip().focus().expose(2).set_filter("R").focus()
    return Night(asked, night.expose(2, goal=1).park().steps())


@cache
def two_targets() -> Night:
    """From a target long before its transit to one that is nearer to its own."""
    asked = request(targets=[target(CRADLE), target(WHEEL)])
    night = NightBuilder(asked, at("2026-11-14T23:20:00")).slew("Wheel", "west").set_filter("L").focus()
    night.expose(2).slew("Cradle", "west").set_filter("L").focus().expose(2)
    return Night(asked, night.park().steps())


@cache
def over_the_top() -> Night:
    """Near the pole the flip's way is short, and a night in the south turns the other way."""
    place = {"latitude_deg": -30.24, "longitude_deg": -70.74, "time_zone": "America/Santiago"}
    high = {"name": "Cradle", "ra_deg": 70.0, "dec_deg": -12.0}
    night = NightBuilder(request(site=place, targets=[target(high)]), at("2026-11-15T04:00:00"))
    night.now = night.almanac.when_hour_angle("Cradle", -900.0, night.now)
    night.slew("Cradle", "west").set_filter("L").focus().expose(3).until_hour_angle(330.0).flip().focus()
    return Night(night.request, night.expose(2).park().steps())


# --- limits that move to where the night just meets them ----------------------------------------------------


def end_of(kind: str, occurrence: int = 0) -> Clock:
    return lambda night: night.steps[number_of(night, kind, occurrence) - 1].end_utc


def start_of(kind: str, occurrence: int = 0) -> Clock:
    return lambda night: night.steps[number_of(night, kind, occurrence) - 1].start_utc


def west_close(night: Night) -> dt.datetime:
    return shutter_close(
        [step for step in night.steps if step.kind == "expose" and step.pier_side == "west"][-1]
    )


def ask_own_flip(night: Night, hour_angle_s: float) -> Night:
    """The mount's own flip that ends the first side at this hour angle."""
    reading = hour_angle_s / R if hour_angle_s < 0 else hour_angle_s
    flip_from_min = (reading + night.request.mount.clock_error_s) / 60
    return asking(night, mount__flip_from_min=flip_from_min, mount__contact_before_min=60.0)


def ask_error_for_contact(night: Night, hour_angle_s: float) -> Night:
    """The clock error that carries the first side's end, nominally 1300 s before the meridian, to here."""
    reading = hour_angle_s / R
    return asking(night, mount__contact_min=12.0 - 1300 / 60, mount__clock_error_s=-1300.0 - reading)


def ask_clearance(night: Night, hour_angle_s: float) -> Night:
    mount = night.request.mount
    reading = hour_angle_s / R if hour_angle_s < 0 else hour_angle_s
    clearance_min = there(mount.contact_min) - (reading + mount.clock_error_s) / 60
    return asking(night, mount__clearance_min=clearance_min)


def ask_error_for_flip(night: Night, hour_angle_s: float) -> Night:
    """The clock error that carries the flipped side's beginning to this hour angle."""
    return asking(night, mount__clock_error_s=hour_angle_s / R - night.request.mount.flip_from_min * 60)


def ask_clearance_before(night: Night, hour_angle_s: float) -> Night:
    """The clearance before the meridian, where the flipped side's own contact lies there."""
    mount = night.request.mount
    clearance_min = mount.contact_before_min + (hour_angle_s - mount.clock_error_s) / 60
    return asking(night, mount__clearance_min=clearance_min, mount__flip_from_min=-29.0)


def ask_quiet(night: Night, before_s: float) -> Night:
    return asking(night, mount__quiet_min=before_s / 60)


def before(turn: Callable[[Night, dt.datetime], float]) -> Callable[[Night, dt.datetime], float]:
    return lambda night, instant: -turn(night, instant)


def to_the_bottom(night: Night, instant: dt.datetime) -> float:
    return 43200 - POLE_TURN(night, instant)


def ask_error(night: Night, seconds: float) -> Night:
    return asking(night, mount__clock_error_s=seconds)


def zones() -> list[Case]:
    def ends_late(
        words: str,
        rule: str,
        night: Callable[[str], Night],
        turn: Callable[[Night, dt.datetime], float],
        ask: Callable[[Night, float], Night],
        kinds: tuple[str, ...],
    ) -> list[Case]:
        return [
            edge(
                f"the {kind} on the {words}",
                rule,
                partial(night, kind),
                end_of(kind),
                turn,
                ask,
                -1,
                unit="s",
            )
            for kind in kinds
        ]

    acts = ("slew", "centre", "settle", "filter", "focus")
    arrivals = ends_late(
        "first side ends one second past its limit", "contact", approach, CRADLE_TURN, ask_contact, acts
    )
    bottoms = ends_late(
        "flipped side ends one second too near the lower culmination",
        "lower_culmination",
        down,
        to_the_bottom,
        ask_error,
        tuple(kind for kind in acts if kind != "filter"),
    )
    return [
        *arrivals,
        *bottoms,
        edge(
            "a shutter open as the mount flips by itself",
            "contact",
            by_itself,
            west_close,
            CRADLE_TURN,
            ask_own_flip,
            -1,
            unit="s",
        ),
        edge(
            "the wait for the mount's own flip ends past the clearance",
            "contact",
            by_itself,
            end_of("wait"),
            CRADLE_TURN,
            ask_contact,
            -1,
            unit="s",
        ),
        edge(
            "the mount's own flip one second too soon",
            "flip_from",
            by_itself,
            flip_start,
            CRADLE_TURN,
            ask_flip,
            +1,
            unit="s",
        ),
        edge(
            "a clock that is off by a second more, at the first side's end",
            "contact",
            lambda: approach("focus"),
            end_of("focus"),
            CRADLE_TURN,
            ask_error_for_contact,
            -1,
            unit="s",
        ),
        edge(
            "a clock that is off by a second more, at the flip",
            "flip_from",
            direct,
            flip_start,
            CRADLE_TURN,
            ask_error_for_flip,
            +1,
            unit="s",
        ),
        edge(
            "a second more of clearance",
            "contact",
            direct,
            west_close,
            CRADLE_TURN,
            ask_clearance,
            -1,
            unit="s",
        ),
        edge(
            "a second more of clearance before the meridian",
            "flip_from",
            slewed_east_early,
            start_of("slew"),
            CRADLE_TURN,
            ask_clearance_before,
            +1,
            unit="s",
        ),
        edge(
            "a slew to the flipped side one second too soon",
            "flip_from",
            slewed_east,
            start_of("slew"),
            CRADLE_TURN,
            ask_flip,
            +1,
            unit="s",
        ),
        edge(
            "a slew to the flipped side one second too soon, before the meridian",
            "flip_from",
            slewed_east_early,
            start_of("slew"),
            CRADLE_TURN,
            ask_early_flip,
            +1,
            unit="s",
        ),
        edge(
            "a southern target one second past contact in the north",
            "contact",
            over_the_top,
            west_close,
            CRADLE_TURN,
            ask_contact,
            -1,
            unit="s",
        ),
    ]


def quiets() -> list[Case]:
    return [
        Case(
            "a slew that begins one second before the meridian",
            "quiet",
            lambda: from_transit(-1, False),
            lambda: from_transit(0, False),
            1,
            None,
            "s",
        ),
        Case(
            "a leaving focus run that begins one second before the meridian",
            "quiet",
            lambda: from_transit(-1, True),
            lambda: from_transit(0, True),
            number_of(from_transit(0, True), "focus"),
            None,
            "s",
        ),
        edge(
            "a second focus run on the flipped side ends one second into the quiet time",
            "quiet",
            refocused_early,
            end_of("focus", 2),
            before(CRADLE_TURN),
            ask_quiet,
            -1,
            unit="s",
        ),
        edge(
            "a slew to the next target ends one second into that one's quiet time",
            "quiet",
            two_targets,
            end_of("slew", 1),
            before(CRADLE_TURN),
            ask_quiet,
            -1,
            unit="s",
        ),
    ]


def ways() -> list[Case]:
    def short(name: str, night: Callable[[], Night], kind: str, occurrence: int = 0) -> Case:
        number = number_of(night(), kind, occurrence)
        return Case(
            f"{name} one second short",
            "slew_time",
            lambda: boundary(night(), number, -1),
            night,
            number,
            1,
            "s",
        )

    def short_park(name: str, night: Callable[[], Night]) -> Case:
        last = night().steps[-1]
        return Case(
            f"{name} one second short",
            "slew_time",
            lambda: edited(night(), last.step, end_utc=later(last.end_utc, -1)),
            night,
            last.step,
            1,
            "s",
        )

    rotate = number_of(turned(), "rotate", 1)
    return [
        short("a slew back to the first side after the lower culmination", under, "slew", 1),
        short("a flip of the mount's own", own_flip, "flip"),
        short("a flip after a standstill", tight, "flip"),
        short("a flip at once", direct, "flip"),
        short("a flip in the south", over_the_top, "flip"),
        short_park("a fork's park", fork),
        short_park("a park from the first side", lambda: approach("focus")),
        short_park("a park from beside the lower culmination", lambda: down("focus")),
        Case(
            "the rotator's turn after a slew to the other side one second short",
            "step_length",
            lambda: boundary(turned(), rotate, -1),
            lambda: stretched(turned(), rotate, 1),
            rotate,
            1,
            "s",
        ),
    ]


def spells() -> list[Case]:
    """Between the last closing before the mount's own flip and the wait for it lie three seconds of download."""

    def gap(seconds: int) -> tuple[dt.datetime, dt.datetime]:
        night = by_itself()
        return west_close(night), later(start_of("wait")(night), seconds)

    def clouded(seconds: int) -> Night:
        shut, opened = gap(seconds)
        night = by_itself()
        return asking(
            night, night__clear=((night.steps[0].start_utc, shut), (opened, later(closes(night), 9)))
        )

    wait = number_of(by_itself(), "wait")
    return [
        Case(
            "one blocked second of the wait for the mount's own flip",
            "blocked",
            lambda: asking(by_itself(), night__blocked=(gap(1),)),
            lambda: asking(by_itself(), night__blocked=(gap(0),)),
            wait,
            1,
            "s",
        ),
        Case(
            "one clouded second of the wait for the mount's own flip",
            "clear",
            lambda: clouded(1),
            lambda: clouded(0),
            wait,
            1,
            "s",
        ),
    ]


# --- latest starts that promise a second too much -----------------------------------------------------------


def promise(
    name: str,
    night: Callable[[], Night],
    number: int,
    ask: Callable[[Night, float], Night],
    turn: Callable[[Night, dt.datetime], float] = CRADLE_TURN,
    *,
    ends: str = "end",
    wait_s: int = 30,
) -> Case:
    """The limit moves to where the step, started `wait_s` later, ends (or closes its shutter, or starts)."""

    def met() -> Night:
        step = night().steps[number - 1]
        instant = {"end": step.end_utc, "start": step.start_utc, "shutter": shutter_close(step)}[ends]
        return ask(night(), turn(night(), later(instant, wait_s)))

    def postponed(seconds: int) -> Night:
        start = night().steps[number - 1].start_utc
        return edited(met(), number, latest_start_utc=later(start, seconds))

    return Case(
        name,
        "latest_start",
        lambda: postponed(wait_s + 1),
        lambda: postponed(wait_s),
        number,
        R,
        "s",
        slack=0.02,
    )


def promises() -> list[Case]:
    def last(night: Night) -> int:
        return len(night.steps)

    return [
        promise("a slew to the first side", lambda: approach("slew"), 1, ask_contact),
        promise("centring on the first side", lambda: approach("centre"), 2, ask_contact),
        promise("settling on the first side", lambda: approach("settle"), 3, ask_contact),
        promise("setting the filter on the first side", lambda: approach("filter"), 4, ask_contact),
        promise("focusing on the first side", lambda: approach("focus"), 5, ask_contact),
        promise(
            "an exposure before the mount's own flip",
            by_itself,
            number_of(by_itself(), "expose", 3),
            ask_own_flip,
            ends="shutter",
        ),
        promise(
            "a flip at once, while the first side is tracked",
            direct,
            number_of(direct(), "flip"),
            ask_contact,
            ends="start",
        ),
        promise("a slew to the flipped side", lambda: down("slew"), 1, ask_error, to_the_bottom),
        promise("focusing on the flipped side", lambda: down("focus"), 5, ask_error, to_the_bottom),
        promise(
            "an exposure on the flipped side",
            lambda: under(False),
            number_of(under(False), "expose", 2),
            ask_error,
            to_the_bottom,
            ends="shutter",
        ),
        promise(
            "a park while the flipped side is tracked",
            lambda: under(False),
            last(under(False)),
            ask_error,
            to_the_bottom,
            ends="start",
        ),
        promise(
            "a slew to the next target, its own quiet time ahead",
            two_targets,
            number_of(two_targets(), "slew", 1),
            ask_quiet,
            before(CRADLE_TURN),
        ),
    ]


CASES = [*zones(), *quiets(), *ways(), *spells(), *promises()]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_mount_that_is_a_second_wrong_is_caught_under_its_rule(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_mount_that_just_keeps_its_limit_passes(case: Case) -> None:
    judge_twin(case)
