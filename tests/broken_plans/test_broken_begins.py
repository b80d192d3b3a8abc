"""Lists that go on with a night, broken at their beginning: each is caught under its rule, its twin passes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

import pytest

from optimizer.audit import audit_steps
from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.shots import AuditReport
from tests.support.hand_laid.cut_nights import Begun, going_on, on_target, standing_at
from tests.support.hand_laid.mutations import boundary, later
from tests.support.hand_laid.night_builder import NightBuilder
from tests.support.hand_laid.night_cases import CRADLE, WHEEL, Night, at, request, target

NOW = at("2026-11-14T22:30:00")
ZONE_S = (40 - 12) * 60 - 20  # where pier side west ends, in seconds of hour angle
Work = Callable[[NightBuilder], NightBuilder]


class Case(NamedTuple):
    """A broken list and the nearest one that passes, with what the first violation must tell."""

    name: str
    rule: str
    broken: Callable[[], Begun]
    twin: Callable[[], Begun] | None
    amount: float | None = None
    unit: str | None = None
    step: int | None = None
    also: frozenset[str] = frozenset()


@lru_cache
def two() -> Request:
    return request(targets=[target(CRADLE), target(WHEEL)])


def goes_on(work: Work, asked: Request | None = None, *, start: dt.datetime = NOW, **facts: Any) -> Begun:
    """On Cradle, pier side west, the list does `work` and parks; it begins as `facts` say."""
    builder = standing_at(asked or request(), start)
    begin = on_target(builder, **facts)
    return Begun(builder.request, work(builder).park().steps(), going_on(begin))


def stays(**facts: Any) -> Callable[[], Begun]:
    """Two exposures of L."""
    return lambda: goes_on(lambda night: night.expose(2), **facts)


def focused_for(seconds: int) -> Callable[[], Begun]:
    """The first exposure of two closes so long after the autofocus before the list; the second follows one."""

    def build() -> Begun:
        focused = NOW + dt.timedelta(seconds=120 - seconds)
        return goes_on(lambda night: night.expose(1).focus().dither().expose(1), focused_utc=focused)

    return build


def moved(seconds: int) -> Callable[[], Begun]:
    """The list is said to go on from so many seconds before its first step."""
    return lambda: goes_on(lambda night: night.expose(1), utc=later(NOW, -seconds))


def nothing(begin: Begin) -> Begun:
    return Begun(two(), (), going_on(begin))


def forked(side: str | None) -> Begun:
    asked = request(mount={"kind": "fork"})
    builder = standing_at(asked, NOW, side=None)
    begin = on_target(builder, pier_side=side)
    return Begun(asked, builder.expose(1).park().steps(), going_on(begin))


def in_filter(name: str | None, *, change: bool) -> Callable[[], Begun]:
    def work(night: NightBuilder) -> NightBuilder:
        return (night.set_filter("L").focus() if change else night).expose(1)

    return lambda: goes_on(work, filter=name)


def leaving(shorter: int, *, stood: int = 0, told: int | None = None) -> Callable[[], Begun]:
    """A slew to the other target so many seconds too short; the mount has stood `stood`, and says `told`."""

    def build() -> Begun:
        builder = standing_at(two(), NOW, stood=stood)
        says = stood if told is None else told
        since = later(NOW, -says) if says else None
        begin = on_target(builder, acquired=not says, stands_since_utc=since)
        builder.slew("Wheel", "west").set_filter("L").focus().expose(1).park()
        night = Night(two(), builder.steps())
        night = boundary(night, 1, -shorter) if shorter else night
        return Begun(*night, going_on(begin))

    return build


def from_home(shorter: int) -> Callable[[], Begun]:
    """A parked mount whose first slew is so many seconds too short."""

    def build() -> Begun:
        night = NightBuilder(two(), NOW).slew("Wheel", "west").set_filter("L").focus().expose(1).park()
        cut = Night(two(), night.steps())
        return Begun(*(boundary(cut, 1, -shorter) if shorter else cut), going_on(Begin(utc=NOW)))

    return build


def returning(first: Work) -> Callable[[], Begun]:
    """After `first`, two more visits to the target of the beginning, with the other target between."""

    def work(night: NightBuilder) -> NightBuilder:
        first(night)
        for name in ("Wheel", "Cradle", "Wheel", "Cradle"):
            night.slew(name, "west").set_filter("L").focus().expose(1)
        return night

    return lambda: goes_on(work, two())


def lasting(open_s: float) -> Callable[[], Begun]:
    """Two exposures of 120 s in a visit that was open for so long before and must be for ten minutes."""
    asked = request(targets=[target(CRADLE, least_min=10.0)])
    return lambda: goes_on(lambda night: night.expose(2), asked, open_s=open_s)


@lru_cache
def limit(seconds: int = 0) -> dt.datetime:
    """The last second at which Cradle may be tracked on pier side west, or so much later."""
    almanac = NightBuilder(two(), NOW).almanac
    second = almanac.when_hour_angle("Cradle", ZONE_S, NOW)
    inside = almanac.hour_angle_s("Cradle", second)[0] <= ZONE_S
    return later(second, seconds if inside else seconds - 1)


def put_off(kind: str, seconds: int) -> Callable[[], Begun]:
    """The first step, which leaves Cradle, may start until so long after the side must have been left."""

    def work(night: NightBuilder) -> NightBuilder:
        if kind == "wait":
            night.wait_until(later(NOW, 600))
        return night.slew("Wheel", "west").set_filter("L").focus().expose(1)

    def build() -> Begun:
        night = goes_on(work, two())
        first = night.steps[0].model_copy(update={"latest_start_utc": limit(seconds)})
        return night._replace(steps=(first, *night.steps[1:]))

    return build


def at_limit(seconds: int, work: Work, **facts: Any) -> Callable[[], Begun]:
    """The list begins so many seconds after the side must have been left."""
    return lambda: goes_on(work, two(), start=limit(seconds), **facts)


def leaves(night: NightBuilder) -> NightBuilder:
    return night.slew("Wheel", "west").set_filter("L").focus().expose(1)


def crosses(kind: str) -> Callable[[], Begun]:
    """To the other side of the same target, by a flip or by a slew."""

    def work(night: NightBuilder) -> NightBuilder:
        night.move(kind, "Cradle", "east")
        return night.set_filter("L").focus().expose(1)

    return lambda: goes_on(work, two(), start=limit(-600), filter="R")


FOCUS_DUE: dict[str, Any] = {"focus_due": True}
BEGINS = [
    Case("a second after its beginning", "begins", moved(1), moved(0), 1, "s", 1),
    Case(
        "an unknown target",
        "begins",
        stays(target="Nowhere"),
        stays(),
        1,
        "names",
    ),
    Case(
        "an unknown filter", "begins", in_filter("X", change=True), in_filter(None, change=True), 1, "names"
    ),
    Case("no pier side", "begins", stays(pier_side=None), stays(), 1, "sides"),
    Case("a pier side on a fork", "begins", lambda: forked("west"), lambda: forked(None), 1, "sides"),
    Case(
        "parked and acquired",
        "begins",
        lambda: nothing(Begin(utc=NOW, acquired=True)),
        lambda: nothing(Begin(utc=NOW)),
        1,
        "facts",
    ),
    Case(
        "acquired and standing",
        "begins",
        lambda: nothing(
            Begin(utc=NOW, target="Wheel", pier_side="west", acquired=True, stands_since_utc=NOW)
        ),
        lambda: nothing(Begin(utc=NOW, target="Wheel", pier_side="west", stands_since_utc=NOW)),
        1,
        "facts",
    ),
    Case("an autofocus to come", "begins", stays(focused_utc=later(NOW, 1)), stays(focused_utc=NOW), 1, "s"),
    Case(
        "standing from a second on to come",
        "begins",
        lambda: nothing(Begin(utc=NOW, target="Wheel", pier_side="west", stands_since_utc=later(NOW, 1))),
        None,
        1,
        "s",
    ),
    Case(
        "long before the night", "begins", lambda: nothing(Begin(utc=at("2026-11-14T12:12:24"))), None, 2, "s"
    ),
    Case(
        "no steps while the mount tracks",
        "begins",
        lambda: nothing(Begin(utc=NOW, target="Wheel", pier_side="west", acquired=True)),
        lambda: nothing(Begin(utc=NOW)),
        1,
        "steps",
    ),
    Case(
        "without the autofocus that is due",
        "begins",
        stays(**FOCUS_DUE),
        lambda: goes_on(lambda night: night.focus().expose(2), **FOCUS_DUE),
        1,
        "runs",
        1,
    ),
]
ACTS = [
    Case("not acquired", "acquired", stays(acquired=False), stays(), 2, "steps", 1),
    Case(
        "standing still",
        "acquired",
        stays(acquired=False, stands_since_utc=NOW),
        stays(),
        1,
        "steps",
        1,
    ),
    Case(
        "centred though acquired",
        "acquired",
        lambda: goes_on(_centred),
        lambda: goes_on(_centred, acquired=False),
        1,
        "steps",
        1,
    ),
    Case("through an unknown filter", "light_path", stays(filter=None), stays(), 1, "changes", 1),
    Case("through another filter", "light_path", stays(filter="R"), stays(), 1, "changes", 1),
    Case(
        "a filter that is set already",
        "light_path",
        in_filter("L", change=True),
        in_filter(None, change=True),
        1,
        "changes",
        1,
    ),
    Case("autofocus a second too old", "focus_every", focused_for(3601), focused_for(3600), 1, "s", 1),
    Case("never in focus", "focus_every", stays(focused_utc=None), stays(), 1, "runs", 1),
    Case(
        "one sub more than a dither may leave",
        "dither_every",
        stays(undithered=1),
        stays(undithered=0),
        1,
        "subs",
        2,
    ),
    Case(
        "a dither of no run",
        "dither_every",
        lambda: goes_on(lambda night: night.dither().expose(2)),
        lambda: goes_on(lambda night: night.dither().expose(2), undithered=1),
        1,
        "dithers",
        1,
    ),
    Case(
        "a dither behind the change of filter",
        "dither_every",
        lambda: goes_on(lambda night: night.set_filter("R").focus().dither().expose(1, goal=1), undithered=1),
        lambda: goes_on(lambda night: night.dither().set_filter("R").focus().expose(1, goal=1), undithered=1),
        1,
        "dithers",
        3,
    ),
    Case(
        "an autofocus without its dither",
        "dither_every",
        lambda: goes_on(lambda night: night.focus().expose(1), undithered=1),
        lambda: goes_on(lambda night: night.dither().focus().expose(1), undithered=1),
        1,
        "dithers",
        2,
    ),
    Case(
        "an autofocus in the run before its dither",
        "dither_every",
        lambda: goes_on(lambda night: night.focus().expose(1), undithered=1),
        lambda: goes_on(lambda night: night.focus().dither().expose(1), undithered=1),
        1,
        "dithers",
        2,
    ),
]
MOVES = [
    Case("a slew a second too short", "slew_time", leaving(1), leaving(0), 1, "s", 1),
    Case("a slew from home a second too short", "slew_time", from_home(1), from_home(0), 1, "s", 1),
    Case(
        "a slew as if it tracked, from where it stood",
        "slew_time",
        leaving(0, stood=3600, told=0),
        leaving(0, stood=3600),
        None,
        "s",
        1,
    ),
    Case(
        "a third visit on a side",
        "visits",
        returning(lambda night: night.expose(1)),
        returning(lambda night: night),
        1,
        "visits",
    ),
    Case("a visit too short by a second", "least_visit", lasting(359), lasting(360), 1, "s", 1),
    Case("a slew put off too long", "latest_start", put_off("slew", 1), put_off("slew", 0), None, "s", 1),
    Case("a wait put off too long", "latest_start", put_off("wait", 1), put_off("wait", 0), None, "s", 1),
    Case("a slew across the meridian", "pier_side", crosses("slew"), crosses("flip"), 1, "sides", 1),
    Case(
        "a flip from nowhere",
        "pier_side",
        lambda: crosses("flip")()._replace(continues=going_on(Begin(utc=limit(-600)))),
        None,
        1,
        "sides",
        1,
    ),
    Case(
        "on in the zone",
        "contact",
        at_limit(-119, lambda night: night.expose(1)),
        at_limit(-120, lambda night: night.expose(1)),
        None,
        "s",
        1,
    ),
]


def _centred(night: NightBuilder) -> NightBuilder:
    for kind, seconds in (("centre", 45), ("settle", 15)):
        night._add(kind, seconds)
    return night.expose(1)


CASES = [*BEGINS, *ACTS, *MOVES]


def names(cases: list[Case]) -> list[str]:
    found = [f"{case.rule}: {case.name}" for case in cases]
    assert len(set(found)) == len(found)
    return found


def report(begun: Begun) -> AuditReport:
    return audit_steps(begun.request, begun.steps, begun.continues)


@pytest.mark.parametrize("case", CASES, ids=names(CASES))
def test_broken_beginning_is_caught_under_its_rule(case: Case) -> None:
    found = report(case.broken()).violations
    assert {each.rule for each in found} == {case.rule, *case.also}, [str(each) for each in found]
    first = next(each for each in found if each.rule == case.rule)
    assert first.step == case.step if case.step is not None else True
    assert case.amount is None or first.amount == pytest.approx(case.amount, abs=1e-6)
    assert case.unit in (None, first.unit)


TWINS = [case for case in CASES if case.twin is not None]


@pytest.mark.parametrize("case", TWINS, ids=names(TWINS))
def test_nearest_allowed_beginning_passes(case: Case) -> None:
    assert case.twin is not None
    assert report(case.twin()).violations == ()


def test_mount_in_the_zone_is_told_and_may_be_moved_out_of_it() -> None:
    """A second inside nothing is told; beyond the limit leaving at once breaks no rule."""
    inside = report(at_limit(0, leaves)())
    assert (inside.violations, inside.quality) == ((), ())
    beyond = report(at_limit(60, leaves)())
    assert beyond.violations == ()
    (told,) = beyond.quality
    assert (told.rule, told.unit) == ("begins", "s")
    assert told.amount == pytest.approx(60.16, abs=1.1)
    assert "past the limit of pier side west: it must be moved at once" in told.message
    assert beyond.least_margin_min is not None
    assert beyond.least_margin_min == pytest.approx(40 - (ZONE_S + 60) / 60, abs=0.03)


def test_parked_list_is_asked_of_nothing_before_it() -> None:
    """An old focus, whose cadence goes on, and a filter, which the slew makes unknown."""
    builder = NightBuilder(request(), NOW).slew("Cradle", "west").set_filter("L").focus().expose(1).park()
    begin = Begin(utc=NOW, filter="L", focused_utc=later(NOW, -7200))
    assert audit_steps(request(), builder.steps(), going_on(begin)).violations == ()
