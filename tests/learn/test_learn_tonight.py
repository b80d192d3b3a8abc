"""What a night gains or loses by the learned numbers: both plans audited, both run at the real pace."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from optimizer.audit import value_of
from optimizer.errors import UnauditedError
from optimizer.export.json_file import read_json
from optimizer.learn import tonight as room
from optimizer.learn.tonight import Tonight, real_pace, tonight_with
from optimizer.models.request import Request
from optimizer.models.shots import Violation
from optimizer.night import Night
from tests.support.docs_files import PLANS, stored_list
from tests.support.executing import execute
from tests.support.replan_nights import DATA, small_list, small_request


def full_night() -> Request:
    """Four hours of one target that wants more than they hold."""
    goals = [
        {"filter": "L", "exposure_s": 120, "frames": 200},
        {"filter": "Ha", "exposure_s": 300, "frames": 80},
    ]
    clear = [["2026-11-14T22:30:00Z", "2026-11-15T02:30:00Z"]]
    return small_request(
        targets=[{**DATA["targets"][0], "goals": goals}], night={**DATA["night"], "clear": clear}
    )


def with_numbers(request: Request, **camera: float) -> Request:
    return request.model_copy(update={"camera": request.camera.model_copy(update=camera)})


@cache
def slower() -> Tonight:
    night = full_night()
    found = tonight_with(night, with_numbers(night, overhead_s=9.0, dither_s=20.0), limit_s=2)
    assert found is not None
    return found


def test_the_old_list_really_gives_what_an_executor_takes_of_it() -> None:
    """One that shares no code with what foretells a late list."""
    found = slower()
    lasts = real_pace(found.old_list.request, found.new_list.request)
    ran = execute(found.old_list.steps, found.old_list.steps[0].start_utc, lasts)
    assert found.old_taken.subs == len(ran.subs) < found.old.subs
    assert found.old_taken.open_s == sum(each.step.exposure_s or 0 for each in ran.subs)
    assert found.new_taken == found.new  # planned at that pace, it loses nothing
    assert found.new.subs < found.old.subs


def test_values_are_those_of_the_lists_and_both_are_audited() -> None:
    found = slower()
    for shots, outcome in ((found.old_list, found.old), (found.new_list, found.new)):
        assert shots.audit_report.violations == ()
        assert outcome.value_s == pytest.approx(shots.proof.objective, rel=1e-6)
    assert found.new_list.request.camera.overhead_s == 9
    assert found.old_list.request.camera.overhead_s == 0
    assert found.gain_s == found.new.value_s - found.old_taken.value_s
    assert found.undecided_s >= 0


def test_fewer_seconds_for_each_act_gain_subs() -> None:
    night = with_numbers(full_night(), overhead_s=9.0)
    found = tonight_with(night, with_numbers(night, overhead_s=0.0), limit_s=2)
    assert found is not None
    assert found.old_taken == found.old  # too early nothing is ever lost
    assert found.gain_s > found.undecided_s
    assert found.can_be_told


def test_a_night_without_a_sub_has_nothing_to_compare() -> None:
    never = small_request(
        night={**DATA["night"], "clear": [["2026-11-14T13:00:00Z", "2026-11-14T13:40:00Z"]]}
    )
    assert tonight_with(never, with_numbers(never, dither_s=20.0), limit_s=1) is None


def test_steps_last_as_learned_or_as_listed() -> None:
    request = full_night()
    learned = with_numbers(request, overhead_s=1.4)
    focus = learned.focus.model_copy(update={"run_s": 131.2})
    filters = tuple(each.model_copy(update={"change_s": 11.3}) for each in learned.filters)
    mount = learned.mount.model_copy(update={"centre_s": 50.5})
    learned = learned.model_copy(update={"focus": focus, "filters": filters, "mount": mount})
    lasts = real_pace(request, learned)
    for step in small_list().steps:
        wanted: dict[str, Any] = {
            "expose": (step.exposure_s or 0) + 3 + 1.4,
            "focus": 131.2,
            "filter": 11.3,
            "centre": 50.5,
        }
        assert lasts(step) == pytest.approx(wanted.get(step.kind, step.seconds)), step.kind


def test_steps_at_other_times_have_the_value_of_these() -> None:
    shots = small_list()
    subs = [step for step in shots.steps if step.kind == "expose"]
    assert value_of(shots, shots.steps) == pytest.approx(shots.proof.objective)
    assert value_of(shots, subs[:10]) == pytest.approx(sum(step.exposure_s or 0 for step in subs[:10]))
    assert value_of(shots, ()) == 0


@pytest.mark.parametrize("folder", PLANS, ids=lambda folder: folder.name)
def test_the_value_of_a_list_as_planned_is_its_own(folder: Path) -> None:
    """By depth, with filter sets and scarce hours; two routes through the sky differ by less than 1 in 10,000."""
    shots = read_json(stored_list(folder))
    assert value_of(shots, shots.steps) == pytest.approx(shots.proof.objective, rel=1e-4)


def test_a_plan_that_fails_its_audit_is_never_reckoned_with(monkeypatch: pytest.MonkeyPatch) -> None:
    told = Violation(rule="contact", step=3, amount=12.0, unit="s", message="too near to contact")
    report = small_list().audit_report.model_copy(update={"violations": (told,)})
    monkeypatch.setattr(Night, "plan", lambda _: small_list().model_copy(update={"audit": report}))
    with pytest.raises(UnauditedError, match="too near to contact"):
        room.tonight_with(small_request(), small_request())
