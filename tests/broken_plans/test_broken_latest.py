"""Latest starts that promise too much by a second, too little, or where there is nothing to promise."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from optimizer.audit import audit_steps
from tests.support.hand_laid.edges import ask_contact
from tests.support.hand_laid.mutations import (
    Case,
    asking,
    bare,
    edited,
    ids,
    inserted,
    judge_broken,
    judge_twin,
    later,
    number_of,
    shutter_close,
)
from tests.support.hand_laid.night_builder import Almanac, NightBuilder
from tests.support.hand_laid.night_cases import (
    CRADLE,
    WHEEL,
    Night,
    at,
    by_itself,
    flipped,
    fork,
    request,
    southern,
    standing,
    target,
    tight,
)


def west_only() -> Night:
    """Two exposures before the transit, then park."""
    night = NightBuilder(request(), at("2026-11-14T23:40:00")).slew("Cradle", "west").set_filter("L").focus()
    return Night(night.request, night.expose(2).park().steps())


def leaving() -> Night:
    """Two exposures before the transit, then one of a target that is farther from its own."""
    asked = request(targets=[target(CRADLE), target(WHEEL)])
    night = (
        NightBuilder(asked, at("2026-11-14T22:40:00"))
        .slew("Cradle", "west")
        .set_filter("L")
        .focus()
        .expose(2)
    )
    return Night(asked, night.slew("Wheel", "west").set_filter("L").focus().expose(1).park().steps())


def before_transit() -> Night:
    """A fork that may expose before the transit only."""
    asked = request(mount={"kind": "fork"}, targets=[target(CRADLE, sides="before")])
    night = NightBuilder(asked, at("2026-11-14T23:40:00")).slew("Cradle").set_filter("L").focus().expose(2)
    return Night(asked, night.park().steps())


def postponed(night: Night, number: int, seconds: int) -> Night:
    """A step whose latest start lies that long after its own."""
    return edited(night, number, latest_start_utc=later(night.steps[number - 1].start_utc, seconds))


def promise(
    name: str,
    night: Callable[[], Night],
    number: int,
    limit: Callable[[Night, dt.datetime], Night],
    *,
    wait_s: int = 40,
    length: str = "shutter",
    amount: float | None = 1.0,
    unit: str | None = "s",
) -> Case:
    """A step that may start `wait_s` later, up to a limit that is then just met; the broken one says more.

    `limit` makes the request end where the step, moved there, closes its shutter, ends or starts (`length`).
    """

    def met() -> Night:
        step = night().steps[number - 1]
        ends = {"shutter": shutter_close(step), "end": step.end_utc, "start": step.start_utc}[length]
        return limit(night(), later(ends, wait_s))

    return Case(
        name,
        "latest_start",
        broken=lambda: postponed(met(), number, wait_s + 1),
        twin=lambda: postponed(met(), number, wait_s),
        step=number,
        amount=amount,
        unit=unit,
    )


def contact_at(name: str) -> Callable[[Night, dt.datetime], Night]:
    return lambda night, instant: ask_contact(
        night, float(Almanac(night.request).hour_angle_s(name, instant)[0])
    )


def floor_at(night: Night, instant: dt.datetime) -> Night:
    altitude = float(Almanac(night.request).altitude_deg("Sculptor", instant)[0])
    return asking(night, targets__1__floor_deg=altitude)


def quiet_at(night: Night, instant: dt.datetime) -> Night:
    before_s = -float(Almanac(night.request).hour_angle_s("Cradle", instant)[0])
    return asking(night, mount__quiet_min=before_s / 60)


def leaving_quiet_at(night: Night, instant: dt.datetime) -> Night:
    return asking(quiet_at(night, instant), focus__leaves_target=True)


def blocked_at(night: Night, instant: dt.datetime) -> Night:
    return asking(night, night__blocked=((instant, later(instant, 60)),))


def promises() -> list[Case]:
    east = [step.step for step in southern().steps if step.kind == "expose" and step.pier_side == "east"]
    return [
        promise("an exposure, to contact", tight, number_of(tight(), "expose", 3), contact_at("Cradle")),
        promise("an exposure, to the floor", southern, east[-1], floor_at, amount=None, unit="deg"),
        promise(
            "a flip, to a blocked spell",
            tight,
            number_of(tight(), "flip"),
            blocked_at,
            wait_s=3600,
            length="end",
        ),
        promise("a slew, to the quiet time", tight, 1, quiet_at, length="end"),
        promise(
            "a leaving focus run, to the quiet time",
            tight,
            number_of(tight(), "focus"),
            leaving_quiet_at,
            length="end",
        ),
        promise(
            "a slew, while the target before is tracked to contact",
            leaving,
            number_of(leaving(), "slew", 1),
            contact_at("Cradle"),
            wait_s=600,
            length="start",
        ),
        promise(
            "a park, while the target before is tracked to contact",
            west_only,
            len(west_only().steps),
            contact_at("Cradle"),
            length="start",
        ),
        promise(
            "an idle wait, until which the first side is tracked",
            tight,
            number_of(tight(), "wait"),
            contact_at("Cradle"),
            length="start",
        ),
        promise(
            "a flip before which the mount tracks, to contact",
            flipped,
            number_of(flipped(), "flip"),
            contact_at("Cradle"),
            length="start",
        ),
        promise(
            "a flip before which the mount stands, to contact all the same",
            standing,
            number_of(standing(), "flip"),
            contact_at("Cradle"),
            length="start",
        ),
    ]


def others() -> list[Case]:
    transit = Almanac(before_transit().request).when_hour_angle(
        "Cradle", -0.5, before_transit().steps[0].start_utc
    )
    last = number_of(before_transit(), "expose", -1)
    spare = round((transit - shutter_close(before_transit().steps[last - 1])).total_seconds())
    own = number_of(by_itself(), "flip")
    idle_first = inserted(fork(), 1, 60, kind="wait", tracking=False, target=None)
    return [
        Case(
            "a second before the start",
            "latest_start",
            lambda: postponed(flipped(), 6, -1),
            lambda: postponed(flipped(), 6, 0),
            6,
            1,
            "s",
        ),
        Case(
            "past the transit on a target wanted before it",
            "latest_start",
            lambda: postponed(before_transit(), last, spare + 2),
            lambda: postponed(before_transit(), last, spare - 1),
            last,
        ),
        Case(
            "a flip by the mount, which waits for nobody",
            "latest_start",
            lambda: postponed(by_itself(), own, 1),
            lambda: postponed(by_itself(), own, 0),
            own,
        ),
        Case(
            "the wait for the mount's own flip, which comes no later",
            "latest_start",
            lambda: postponed(by_itself(), own - 1, 1),
            lambda: postponed(by_itself(), own - 1, 0),
            own - 1,
        ),
        Case(
            "a wait before which nothing tracks",
            "latest_start",
            lambda: postponed(idle_first, 1, 60),
            lambda: idle_first,
            1,
            1,
            "instants",
        ),
        Case(
            "a park before which nothing tracks",
            "latest_start",
            lambda: postponed(idle_at_the_end(), len(idle_at_the_end().steps), 60),
            idle_at_the_end,
            len(idle_at_the_end().steps),
            1,
            "instants",
        ),
    ]


def idle_at_the_end() -> Night:
    night = (
        NightBuilder(request(), at("2026-11-14T22:00:00"))
        .slew("Cradle", "west")
        .set_filter("L")
        .focus()
        .expose(1)
    )
    return Night(night.request, night.wait_until(later(night.now, 60)).park().steps())


CASES = [*promises(), *others()]
TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", CASES, ids=ids(CASES))
def test_late_start_is_caught(case: Case) -> None:
    judge_broken(case)


@pytest.mark.parametrize("case", TWINS, ids=ids(TWINS))
def test_latest_possible_start_passes(case: Case) -> None:
    judge_twin(case)


def test_step_that_is_broken_where_it_stands_is_told_once() -> None:
    """An exposure already past contact is not told again for the latest start that is past it, too."""
    number = number_of(tight(), "expose", 3)
    close = shutter_close(tight().steps[number - 1])
    night = postponed(contact_at("Cradle")(tight(), later(close, -5)), number, 3)
    assert [(each.rule, each.step) for each in audit_steps(*night).violations] == [("contact", number)]


def test_hand_typed_list_needs_no_latest_starts() -> None:
    assert all(step.latest_start_utc is None for step in bare(flipped()).steps)
    assert audit_steps(*bare(flipped())).violations == ()
