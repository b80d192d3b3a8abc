"""Warnings: what is allowed in a request, but worth a second look."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.diagnostics.document import Document
from optimizer.diagnostics.object_places import catalogue_in_hours, objects_elsewhere
from optimizer.errors import InputProblem
from optimizer.models.request import Request
from optimizer.models.site import night_span
from optimizer.words import KeyPath, number


def advice(request: Request, document: Document) -> tuple[str, ...]:
    """Warn of each thing in a valid request that is worth a second look: one line each, in file order."""
    found = [
        *_contact_unmeasured(request, document),
        *_longest_exposure_at_flip(request, document),
        *_tail_beyond_contact(request, document),
        *_spans_outside_night(request, document),
        *objects_elsewhere(request, document),
        *catalogue_in_hours(document),
        *_never_high_enough(request, document),
        *_goals_beside_set(request, document),
        *_goals_done(request, document),
        *_visits_too_short(request, document),
        *_no_set_left(request, document),
        *_nothing_ahead(request, document),
        *_season(request, document),
    ]
    return tuple(str(problem) for problem in document.in_file_order(found))


def _contact_unmeasured(request: Request, document: Document) -> Iterator[InputProblem]:
    if request.mount.flips and request.mount.contact_min is None:
        yield document.problem(
            ("mount", "contact_min"),
            "not given, so nothing tracks past the meridian on pier side west (telescope west of the pier, "
            "looking east)",
            "measure by hand how many minutes past the meridian the equipment touches, and write it down",
        )


def _longest_exposure_at_flip(request: Request, document: Document) -> Iterator[InputProblem]:
    mount = request.mount
    if not mount.flips or mount.flip_by != "plan" or mount.contact_min is None:
        return
    left = [
        (goal.exposure_s, -t, -g)  # of equally long ones the first
        for t, target in enumerate(request.targets)
        for g, goal in enumerate(target.goals)
        if goal.frames_left
    ]
    if not left:
        return
    longest, t, g = max(left)
    last_min = mount.clearance_from_min - mount.clock_error_s / 60
    over_min = mount.flip_from_min + longest / 60 - last_min
    if over_min <= 1e-9:
        return
    at: KeyPath = ("targets", -t, "goals", -g, "exposure_s")
    yield document.problem(
        at,
        f"begun just before the flip is due ({_minutes(mount.flip_from_min)}), this longest exposure would "
        f"end {over_min:.1f} min after tracking must have ended ({_minutes(last_min)})",
        "the plan places it elsewhere, at the cost of some waiting; shorter exposures lose less",
    )


def _tail_beyond_contact(request: Request, document: Document) -> Iterator[InputProblem]:
    """The zone asks only that the shutter closes: download and overhead may run on beyond it.

    A mount that flips by itself may have more of that room than the clearance; with slack both are over in
    the zone.
    """
    mount, camera = request.mount, request.camera
    if not mount.flips or mount.contact_min is None or request.aim.slack_s > 0:
        return
    tail_s = camera.download_s + camera.overhead_s
    last_min = mount.clearance_from_min
    if mount.flip_by == "mount":
        last_min = min(last_min, mount.flip_from_min)
    room_s = (mount.contact_min - last_min) * 60
    if tail_s <= room_s + 1e-6:
        return
    key = "overhead_s" if camera.overhead_s > camera.download_s else "download_s"
    yield document.problem(
        ("camera", key),
        f"a sub that ends as tracking must have ended ({_minutes(last_min - mount.clock_error_s / 60)}) is "
        f"tracked on for download and overhead, {number(round(tail_s, 3))} s, and contact may come "
        f"{number(round(room_s, 3))} s later",
        "raise mount.clearance_min, or set aim.slack_s: with it both are over by the time tracking must end",
    )


def _minutes(value: float) -> str:
    side = "past" if value >= 0 else "before"
    return f"{number(round(abs(value), 2))} min {side} the meridian"


def _spans_outside_night(request: Request, document: Document) -> Iterator[InputProblem]:
    begin, end = night_span(request.night, request.site.longitude_deg, request.site.time_zone)
    for key, spans in (("clear", request.night.clear), ("blocked", request.night.blocked)):
        outside = [stop <= begin or start >= end for start, stop in spans]
        hopeless = key == "clear" and all(outside)  # spans are given, and none of them can be used
        effect = "nothing can be scheduled" if hopeless else "it changes nothing"
        for index, is_outside in enumerate(outside):
            if is_outside:
                yield document.problem(
                    ("night", key, index),
                    f"the span lies outside the night of {request.night.evening}, which lasts from "
                    f"{begin:%Y-%m-%dT%H:%M}Z to {end:%Y-%m-%dT%H:%M}Z",
                    f"{effect}; check its dates",
                )


def _never_high_enough(request: Request, document: Document) -> Iterator[InputProblem]:
    latitude = request.site.latitude_deg
    # refraction lifts the horizon by up to 0.6 degrees; nutation and aberration stay below 0.02
    slack_deg = 0.02 if request.site.pressure_hpa == 0 else 0.65
    for index, target in enumerate(request.targets):
        # precession: 20.04 arcseconds a year towards the equinox of date (IAU 2006, first order)
        years = request.night.evening.year - 2000
        dec_deg = target.dec_deg + years * 20.04 / 3600 * math.cos(math.radians(target.ra_deg))
        highest = 90 - abs(latitude - dec_deg)
        floor = request.floor_deg(target)
        if floor >= request.site.ceiling_deg:
            yield document.problem(
                ("targets", index),
                f"its floor of {number(floor)} degrees is no lower than site.ceiling_deg, "
                f"{number(request.site.ceiling_deg)}",
                "it will not be scheduled; lower floor_deg or raise ceiling_deg",
            )
            continue
        if highest + slack_deg < floor:
            yield document.problem(
                ("targets", index),
                f"from latitude {number(latitude)} it never rises above {highest:.1f} degrees, and its floor "
                f"is {number(floor)}",
                "it will not be scheduled; lower floor_deg or check dec",
            )


def _goals_beside_set(request: Request, document: Document) -> Iterator[InputProblem]:
    """A goal of its own that was meant to take the place of the set's; stars may well be asked for beside."""
    for t, target in enumerate(request.targets):
        paths: list[KeyPath] = [("targets", t, "goals", g) for g in range(len(target.goals))]
        taken = [g for g, path in enumerate(paths) if document.written(path) != path]
        for g, goal in enumerate(target.goals):
            same = [other for other in taken if target.goals[other].filter == goal.filter]
            if g in taken or not same or not goal.in_set:
                continue
            yield document.problem(
                paths[g],
                f"{document.place(paths[same[0]], paths[g])}, which this target takes too, "
                "is for the same filter: both count",
                "leave one of the two out, unless you want the subs of both",
            )


def _goals_done(request: Request, document: Document) -> Iterator[InputProblem]:
    for t, target in enumerate(request.targets):
        for g, goal in enumerate(target.goals):
            if goal.frames_left == 0:
                yield document.problem(
                    ("targets", t, "goals", g, "done"),
                    f"all {goal.frames} subs of this goal are in hand",
                    f"it gets no time; raise {'frames' if goal.hours is None else 'hours'} to take more",
                )


def _visits_too_short(request: Request, document: Document) -> Iterator[InputProblem]:
    for index, target in enumerate(request.targets):
        left_s = sum(goal.frames_left * goal.shutter_s for goal in target.goals)
        if 0 < left_s < target.least_min * 60:
            yield document.problem(
                ("targets", index, "least_min"),
                f"its goals have only {left_s / 60:.1f} min of open shutter left and can never fill a visit",
                "it will not be scheduled; lower least_min or ask for more frames",
            )


def _no_set_left(request: Request, document: Document) -> Iterator[InputProblem]:
    """A filter set needs two goals; one that was taken apart on purpose says nothing to a balance."""
    if request.aim.balance == 0:
        return
    for t, target in enumerate(request.targets):
        left = sum(goal.in_set for goal in target.goals)
        apart = next((g for g, goal in enumerate(target.goals) if not goal.in_set), None)
        if apart is None or left > 1 or len(target.goals) == 1:
            continue
        yield document.problem(
            ("targets", t, "goals", apart, "in_set"),
            f"that leaves {'one goal' if left else 'no goal'} in the filter set of this target, and a set "
            "needs two: its goals count by their sums alone",
            "leave in_set out of the goals that belong together",
        )


def _nothing_ahead(request: Request, document: Document) -> Iterator[InputProblem]:
    aim = request.aim
    if aim.scarcity > 0 and aim.look_ahead_nights == 1:
        yield document.problem(
            ("aim", "look_ahead_nights"),
            "scarcity then goes by tonight's hours alone and knows nothing of the nights to come",
            "give 28 for a whole month of the Moon, or scarcity = 0",
        )


def _season(request: Request, document: Document) -> Iterator[InputProblem]:
    """A season longer than a year, odds of evenings that it has not, and no clear sky in all of it."""
    asked = request.season
    if asked is None:
        return
    evenings = asked.evenings(request.night.evening)
    span = f"from {evenings[0]} to {evenings[-1]}" if len(evenings) > 1 else f"the night of {evenings[0]}"
    if len(evenings) > 366:
        yield document.problem(
            ("season", "nights"),
            "the season is longer than a year",
            "give fewer nights: each of them is planned, and nothing is known of the weather in a year",
        )
    given = [evening for evening, _ in asked.clear_odds_by_evening]
    if given and not set(given) & set(evenings):
        yield document.problem(
            ("season", "clear_odds_by_evening"),
            f"none of these evenings is in the season, {span}",
            "they change nothing; check their dates",
        )
    if not any(asked.odds(evenings)):
        key = "clear_odds_by_evening" if given and set(given) >= set(evenings) else "clear_odds"
        yield document.problem(
            ("season", key),
            f"no night of the season, {span}, has any odds of clear sky",
            "nothing is planned for it; give shares above 0",
        )
