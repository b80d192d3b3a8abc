"""What a replan says first, where a tired reader could be misled: limits, waits, what is over."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pytest
from rich.console import Console

from optimizer.models.shots import Step
from optimizer.replan.replanned import rest_of
from optimizer.replan.told import Told
from optimizer.report.replan_facts import Replanned, replanned
from optimizer.report.replan_view import OLD_AND_NEW, replan_view
from tests.support.replan_nights import at, small_list


def told(now: dt.datetime, tally: str | None = None, **more: Any) -> Replanned:
    older = small_list()
    if tally is not None:
        older = older.model_copy(update={"request": older.request.model_copy(update={"tally": tally})})
    return replanned(rest_of(older, Told(now, **more), "0" * 64, limit_s=0.2))


def kind(name: str, nth: int = 0) -> Step:
    return [step for step in small_list().steps if step.kind == name][nth]


def printed(again: Replanned, width: int = 110) -> str:
    """All that is shown, as one line."""
    out = io.StringIO()
    Console(file=out, width=width, highlight=False, no_color=True).print(replan_view(again))
    return " ".join(out.getvalue().split())


def clock(instant: dt.datetime) -> str:
    return f"{instant + dt.timedelta(hours=1):%H:%M:%S}"


def test_running_step_is_let_end_until_a_time_that_is_told() -> None:
    focus = kind("focus")
    ends = clock(focus.end_utc)
    assert told(focus.start_utc + dt.timedelta(seconds=5)).first == (
        f"Now: let the running autofocus end ({ends}), then stop the old list and start this one at {ends}."
    )
    slew, settled = kind("slew"), kind("settle")
    ends = clock(settled.end_utc)
    assert told(slew.start_utc + dt.timedelta(seconds=5)).first == (
        f"Now: let the running slew end and go on to the end of the settling ({ends}), "
        f"then stop the old list and start this one at {ends}."
    )


def on_cradle(time: str, side: str, **more: Any) -> Replanned:
    """The mount is found on Cradle, of which nothing was taken; it must leave west by 00:34:30 UTC."""
    return told(at(time), done=frozenset(), at="Cradle", pier_side=side, **more)


def test_flip_that_falls_due_at_once_is_told_with_its_latest_time() -> None:
    again = on_cradle("00:33", "west", left_out=frozenset({"Iris"}))
    first = again.shots.steps[0]
    assert (first.kind, first.target, first.pier_side) == ("flip", "Cradle", "east")
    assert first.latest_start_utc is not None
    latest = clock(first.latest_start_utc)
    assert again.first == (
        "Now: stop the old list if it still runs, and start this one at 01:33:00, "
        f"at the latest at {latest}, for it begins with the flip of Cradle."
    )


def test_tube_past_contact_is_looked_at_before_anything_moves() -> None:
    again = on_cradle("01:00", "west")
    assert again.first.startswith(
        "Now: stop tracking at once, stop the old list, and look at the mount: by contact_min it is past "
        "contact on pier side west. Start this list only if nothing touches;"
    )
    assert "; 13.3 min past contact as this list begins" in printed(again)
    assert "never nearer to contact than −" not in printed(again)
    over = on_cradle("01:00", "west", until=at("01:01"))
    assert over.first.endswith("on pier side west. Free and park the mount by hand.")


def test_east_side_before_the_transit_is_not_said_to_be_over() -> None:
    again = on_cradle("23:55", "east")
    assert "pier side east must not track Cradle now; " in again.first


def test_where_nothing_is_left_no_list_is_spoken_of() -> None:
    last = small_list().steps[-1]
    parked = told(last.end_utc + dt.timedelta(minutes=20))
    assert parked.assumed == "Assumed: mount parked at its home, tracking off. Check that."
    assert parked.first == (
        "Now: stop the old list if it still runs, and leave the mount parked: "
        "nothing more can be scheduled tonight."
    )


def test_zone_of_the_times_stands_beside_the_first_ones() -> None:
    notes = told(kind("expose", 2).start_utc).notes
    assert notes[0].endswith(". Times are local: Europe/Madrid, UTC+01.")
    assert ", latest autofocus ended " in notes[0]


@pytest.mark.parametrize(("tally", "warned"), [(None, False), ("in-hand.csv", True)])
def test_lost_subs_will_be_counted_by_a_tally_unless_rejected(tally: str | None, warned: bool) -> None:
    sub = kind("expose", 2)
    notes = told(sub.end_utc, tally, blocks=((sub.start_utc, sub.end_utc),)).notes
    assert "1 sub that fell into a span told to be lost was not counted as in hand." in notes
    assert any("--reject" in note for note in notes) == warned


def test_both_rests_are_explained_below_their_table() -> None:
    sub = kind("expose", 2)
    again = told(sub.start_utc, blocks=((sub.start_utc, at("23:30")),))
    assert OLD_AND_NEW in printed(again)
    assert "in the old rest, " in printed(again, 30)
