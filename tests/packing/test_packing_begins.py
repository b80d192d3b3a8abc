"""Plans that begin within a night, on nights made by hand: what goes on, flips, leaves, or waits at home."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from optimizer.packing.search.construct import constructed
from optimizer.packing.solution import Solution
from optimizer.problem import Problem, Start
from optimizer.problem.start import STANDING
from tests.support.packing_nights import (
    CENTRED_S,
    FILTER_S,
    FLIP_S,
    FOCUS_S,
    FRAME_S,
    HOME_S,
    READY_S,
    SLEW_S,
    Place,
    a_problem,
    frames,
    goal,
    kinds,
    proven,
)

AT_S = 3000
A, B = Place("A", (1000, 5000)), Place("B", (1000, 5000))
ON_A: dict[str, Any] = {"at_s": AT_S, "acquired": True, "filter": "L", "focused_s": AT_S - 600}


def begun(problem: Problem, slot: int | None = 0, **start: Any) -> Problem:
    """The problem with the mount on one of its slots (None: at home) at `AT_S`."""
    stands = None
    if slot is not None:
        of = problem.slots[slot]
        work = (AT_S, of.work[1])
        stands = replace(of, index=STANDING, twin=STANDING, shutter={}, work=work, motion=work)
    return replace(problem, start=Start(slot=stands, is_begun=True, **start))


def begins(solution: Solution) -> list[tuple[str, int]]:
    """Kinds and first seconds of all acts up to the first frame."""
    acts = [(str(act.kind), act.start) for visit in solution.schedule for act in visit.acts]
    return acts[: 1 + next(at for at, (kind, _) in enumerate(acts) if kind == "expose")]


def test_what_is_tracked_goes_on_at_once() -> None:
    solution = proven(begun(a_problem([A], {"A": [goal(frames=60)]}), **ON_A))
    assert begins(solution) == [("expose", AT_S)]
    assert set(kinds(solution)) == {"expose"}
    assert frames(solution) == {0: (5000 - AT_S + 3) // FRAME_S}


def test_it_goes_on_with_a_dither_where_frames_lack_one() -> None:
    night = a_problem([A], {"A": [goal(frames=60)]}, camera={"dither_every": 3, "dither_s": 10})
    solution = proven(begun(night, **ON_A, undithered=2))
    assert begins(solution) == [("dither", AT_S), ("expose", AT_S + 10)]
    assert begins(proven(begun(night, **ON_A))) == [("expose", AT_S)]
    never = a_problem([A], {"A": [goal(frames=60)]})
    assert begins(proven(begun(never, **ON_A, undithered=2))) == [("expose", AT_S)]


def test_it_dithers_first_even_where_another_filter_comes() -> None:
    night = a_problem([A], {"A": [goal("R", frames=60)]}, camera={"dither_every": 3, "dither_s": 10})
    solution = proven(begun(night, **ON_A, undithered=2))
    assert [kind for kind, _ in begins(solution)] == ["dither", "filter", "focus", "expose"]


def test_a_filter_is_put_in_where_it_is_another_or_none_is_known() -> None:
    for filter_name in ("R", None):
        start = {**ON_A, "filter": filter_name}
        for asked, ready_s in ((True, FILTER_S + FOCUS_S), (False, FILTER_S)):
            night = a_problem([A], {"A": [goal(frames=60)]}, focus={"on_filter_change": asked})
            solution = proven(begun(night, **start))
            assert begins(solution)[-1] == ("expose", AT_S + ready_s)
            assert begins(solution)[0] == ("filter", AT_S)


def test_the_focus_run_that_was_made_grows_old() -> None:
    cadence = {"every_min": 20.0, "on_new_target": True}
    solution = proven(begun(a_problem([A], {"A": [goal(frames=60)]}, focus=cadence), **ON_A))
    acts = [act for visit in solution.schedule for act in visit.acts]
    served = next(at for at, act in enumerate(acts) if act.kind == "focus")
    assert acts[0].kind == "expose"
    assert acts[served - 1].start + 60 <= AT_S - 600 + 1200 < acts[served - 1].start + 60 + FRAME_S
    unknown = proven(
        begun(a_problem([A], {"A": [goal(frames=60)]}, focus=cadence), **{**ON_A, "focused_s": None})
    )
    assert begins(unknown) == [("focus", AT_S), ("expose", AT_S + FOCUS_S)]


def test_a_focus_run_that_is_due_comes_first_wherever_the_plan_goes() -> None:
    free = {"on_new_target": False, "on_filter_change": False}
    on_a = a_problem([A], {"A": [goal(frames=60)]}, focus=free)
    assert begins(proven(begun(on_a, **ON_A, focus_due=True))) == [
        ("focus", AT_S),
        ("expose", AT_S + FOCUS_S),
    ]
    leaves = a_problem(
        [A, B], {"A": [goal(frames=1)], "B": [goal(frames=60)]}, focus=free, keys={"B": {"weight": 9.0}}
    )
    start = {**ON_A, "filter": "R"}
    assert "focus" not in [kind for kind, _ in begins(proven(begun(leaves, **start)))]
    assert "focus" in [kind for kind, _ in begins(proven(begun(leaves, **start, focus_due=True)))]


def test_what_is_not_acquired_is_slewed_to() -> None:
    night = a_problem([A], {"A": [goal(frames=60)]})
    for changes in ({"acquired": False}, {"still_s": AT_S - 300}):
        solution = proven(begun(night, **{**ON_A, **changes}))
        assert begins(solution)[0] == ("slew", AT_S)
        assert begins(solution)[-1] == ("expose", AT_S + SLEW_S + READY_S)


def test_a_slew_leaves_from_where_the_axes_stand() -> None:
    far = replace(B, declination_deg=-60.0)
    night = a_problem([A, far], {"A": [goal(frames=1)], "B": [goal(frames=60)]}, keys={"B": {"weight": 9.0}})
    solution = proven(begun(night, **{**ON_A, "filter": "R"}))
    assert begins(solution)[1] == ("centre", AT_S + 11)  # 8 s and 60 degrees at 30 a second, rounded up
    parked = proven(begun(night, slot=None, at_s=AT_S))
    assert begins(parked)[1][1] == AT_S + 14  # 150 degrees from the pole


def test_a_mount_that_stands_still_leaves_from_where_the_sky_left_it() -> None:
    """An hour on, the hour axis is 15 degrees behind the sky."""
    night = a_problem([A, B], {"A": [goal(frames=1)], "B": [goal(frames=60)]}, mount={"slew_deg_s": 1.0})
    tracks = begun(night, slot=0, **{**ON_A, "acquired": False})
    still = begun(night, slot=0, **{**ON_A, "acquired": False, "still_s": AT_S - 3600})
    for problem, slew_s in ((tracks, 9), (still, 24)):
        assert (
            problem.slew_seconds(problem.start.slot, problem.start.left_s, problem.slots[2], AT_S) == slew_s
        )
        assert constructed(problem)
        assert begins(proven(problem))[1][1] == AT_S + slew_s


def test_at_home_nothing_moves_before_the_start_and_a_focus_run_may_still_serve() -> None:
    free = {"every_min": 60.0, "on_new_target": False, "on_filter_change": False}
    night = a_problem([A], {"A": [goal(frames=60)]}, focus=free)
    parked = proven(begun(night, slot=None, at_s=AT_S, filter="L", focused_s=AT_S - 60))
    assert begins(parked)[0] == ("slew", AT_S)
    assert begins(parked)[-1] == ("expose", AT_S + HOME_S + CENTRED_S + FILTER_S)
    unknown = proven(begun(night, slot=None, at_s=AT_S, filter="L"))
    assert begins(unknown)[-1] == ("expose", AT_S + HOME_S + READY_S)


WEST, EAST = Place("A", (1000, 3600), side="west"), Place("A", (2000, 5000), side="east", motion=(2000, 5000))


def test_a_flip_comes_at_once_where_it_may() -> None:
    """The filter is in, and nothing asks for a focus run: frames of both sides, the flip as soon as it pays."""
    night = a_problem(
        [WEST, EAST],
        {"A": [goal(frames=60)]},
        focus={"on_new_target": False},
        mount={"refocus_after_flip": False},
    )
    late = begun(night, **{**ON_A, "acquired": False})
    solution = proven(late)
    assert begins(solution)[0] == ("flip", AT_S)
    assert begins(solution)[-1] == ("expose", AT_S + FLIP_S + CENTRED_S)
    other = proven(begun(night, **{**ON_A, "acquired": False, "filter": "R"}))
    assert begins(other)[-1][1] >= AT_S + FLIP_S + CENTRED_S + FILTER_S


def test_a_least_visit_counts_what_the_visit_has_had() -> None:
    short = [Place("A", (1000, AT_S + 200))]
    night = a_problem(short, {"A": [goal(frames=60)]}, keys={"A": {"least_min": 10.0}})
    assert not constructed(begun(night, **ON_A))
    assert proven(begun(night, **ON_A, open_s=419.0)).profit == 0
    assert frames(proven(begun(night, **ON_A, open_s=420.0))) == {0: 3}


def test_a_visit_that_goes_on_is_one_of_two() -> None:
    """B's two windows part the night of A in three, of which two may be used: the first is the shortest."""
    gaps = [Place("A", (1000, 9000)), Place("B", (3500, 3800)), Place("B", (6000, 6300))]
    night = a_problem(gaps, {"A": [goal(frames=200)], "B": [goal(frames=2)]}, keys={"B": {"weight": 90.0}})
    solution = proven(begun(night, **ON_A))
    places = [visit.slot.target.name for visit in solution.schedule]
    assert places == ["B", "A", "B", "A"]
    assert begins(solution)[0][0] == "slew"


def test_focus_runs_inside_a_run_may_lie_on_both_sides_of_the_quiet_time() -> None:
    """Frames of 300 s, each of which needs a focus run of its own; the second one spans the quiet time."""
    place = Place("A", (1000, 2900), quiet=(2000, 2100))
    focus = {"every_min": 6.0, "leaves_target": True}
    night = a_problem([place], {"A": [goal(exposure_s=300.0, frames=9)]}, focus=focus)
    solution = proven(night)
    focused = [act.end for visit in solution.schedule for act in visit.acts if act.kind == "focus"]
    assert [end <= 2000 for end in focused] == [True, True, False]
    assert frames(solution) == {0: 3}
