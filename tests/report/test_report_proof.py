"""What a plan says of how good it is: in words where it is not, and with the remedy."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from optimizer.export.json_file import shots_from_data
from optimizer.models.base import as_json_data
from optimizer.models.shots import Idle, ShotList
from optimizer.night import Night
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import scheduled
from optimizer.report.plan_view import plan_view
from optimizer.report.proof_words import proof_words, shortfall
from optimizer.timeline.shot_list import proof_of
from tests.support.report_cases import a_request, joined, planned


def _told(
    limit_s: float = 20.0,
    aim_gap: float = 0.002,
    weight: float = 1.0,
    gap: float = 0.0,
    idle: tuple[tuple[str, int, int], ...] = (),
    **proof: Any,
) -> ShotList:
    """The planned night, as if its search had come out so; `idle`: targets, minutes and frames."""
    shots = planned()
    numbers = {
        "gap": gap,
        "bound": shots.proof.objective * (1 + gap),
        "seconds": limit_s,
        "status": "feasible",
        "idle": tuple(_idle(*each) for each in idle),
        "ended": None,
        **proof,
    }
    aim = shots.request.aim.model_copy(update={"time_limit_s": limit_s, "gap": aim_gap})
    targets = tuple(target.model_copy(update={"weight": weight}) for target in shots.request.targets)
    request = shots.request.model_copy(update={"aim": aim, "targets": targets})
    return shots.model_copy(update={"request": request, "proof": shots.proof.model_copy(update=numbers)})


def _idle(target: str, minutes: int, frames: int) -> Idle:
    begins = dt.datetime(2026, 11, 15, 0, 10, tzinfo=dt.UTC)
    ends = begins + dt.timedelta(minutes=minutes)
    return Idle(start_utc=begins, end_utc=ends, target=target, filter="L", exposure_s=300.0, frames=frames)


def test_a_gap_beyond_sense_is_told_in_hours() -> None:
    """Nobody can use "within 2419.69 % of the best possible"."""
    shots = _told(gap=24.1969)
    words = joined(plan_view(shots))
    assert "2419" not in words
    assert "% of the best possible" not in words
    hours = round(shots.proof.bound / 60)
    assert proof_words(shots).startswith(
        f"nothing near: no plan has more than {hours // 60} h {hours % 60:02d} min of open shutter, this one has "
    )
    assert "of weighted open shutter" in proof_words(_told(gap=24.0, weight=2.0))
    assert "search stopped early" in proof_words(_told(gap=24.0, status="stopped"))


def test_a_usual_proof_stays_a_percentage() -> None:
    assert proof_words(_told(gap=0.5)) == "within 50.00 % of the best possible, shown in 20.0 s"
    assert proof_words(_told(gap=0.0, status="optimal")).startswith("the best plan possible, proven in ")


def test_a_search_that_found_nothing_better_any_more_says_why_it_ended() -> None:
    assert proof_words(_told(gap=0.0078, seconds=9.04, ended="settled")) == (
        "within 0.78 % of the best possible; stopped after 9.0 s: the search found nothing better any more"
    )


@pytest.mark.parametrize(
    ("search", "sentence"),
    [
        (
            {"gap": 0.0643},
            "the time limit of 20 s ended the search with up to 6.43 % more possible: try --time-limit 80",
        ),
        (
            {"gap": 0.02},
            "the time limit of 20 s ended the search with up to 2.00 % more possible: try --time-limit 80",
        ),
        ({"gap": 3.0}, "the time limit of 20 s ended the search: try --time-limit 80"),
        (
            {"gap": 0.06, "status": "stopped"},
            "Ctrl-C ended the search with up to 6.00 % more possible: let it run on",
        ),
        (
            {"gap": 0.06, "aim_gap": 0.1},
            "the search ended as near as aim.gap = 0.1 asks with up to 6.00 % more possible: "
            "give a smaller aim.gap",
        ),
        (
            {"gap": 0.06, "seconds": 2.0},
            "the search found nothing better with up to 6.00 % more possible: "
            "ask for fewer targets at once, or try --time-limit 80",
        ),
        (
            {"gap": 0.06, "ended": "settled"},
            "the search found nothing better any more with up to 6.00 % more possible: "
            "ask for fewer targets at once",
        ),
        (
            {"gap": 0.06, "seconds": 2.0, "ended": "time"},
            "the time limit of 20 s ended the search with up to 6.00 % more possible: try --time-limit 80",
        ),
        (
            {"gap": 0.005, "idle": [("Owl", 20, 1), ("Hare", 75, 2)]},
            "01:10 to 02:25 stays idle although 2 subs of L 300 s of Hare would fit; "
            "the time limit of 20 s ended the search: try --time-limit 80",
        ),
    ],
)
def test_a_plan_that_may_be_poor_says_so_with_the_remedy(search: dict[str, Any], sentence: str) -> None:
    """Idle time that could be used, a gap over 5 %, a limit that ended the search before anything near."""
    shots = _told(**search)
    assert shortfall(shots) == sentence
    assert sentence in joined(plan_view(shots))


@pytest.mark.parametrize(
    "search",
    [
        {"gap": 0.0, "status": "optimal"},
        {"gap": 0.0019},
        {"gap": 0.0099},
        {"gap": 0.0499, "aim_gap": 0.05},
        {"gap": 0.005, "status": "stopped"},
        {"gap": 0.0499, "ended": "settled"},
    ],
)
def test_a_good_plan_has_no_such_sentence(search: dict[str, Any]) -> None:
    shots = _told(**search)
    assert shortfall(shots) is None
    assert "Short " not in joined(plan_view(shots))


def test_a_limit_of_a_day_is_not_advised_to_be_longer_than_one() -> None:
    assert "--time-limit 86400" in (shortfall(_told(limit_s=80_000, gap=0.1)) or "")


def test_idle_time_of_a_real_plan_is_told_with_its_instants_and_kept_in_its_file() -> None:
    """The night of the examples without its visits: all of it is idle."""
    night = Night(a_request())
    shots = night.plan()
    nothing = Plan()
    solution = replace(
        night.solution, plan=nothing, schedule=scheduled(night.problem, nothing), profit=0, status="feasible"
    )
    proof = proof_of(night.problem, solution, night.sky.clock.utc)
    (idle,) = proof.idle
    assert (idle.target, idle.frames) == ("Cradle", 1)
    first, *_, last = (step for step in shots.steps if step.kind == "expose")
    assert idle.start_utc <= first.start_utc
    assert last.start_utc + dt.timedelta(seconds=last.exposure_s or 0) <= idle.end_utc
    listed = shots.model_copy(update={"proof": proof})
    assert shots_from_data(as_json_data(listed), "here").proof == proof
    assert "idle" not in as_json_data(shots)["proof"]
