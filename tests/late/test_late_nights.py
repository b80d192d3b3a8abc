"""Lists executed late: whatever overruns, nothing tracks beyond the clearance and no shutter is open in a motion."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import product

import pytest

from benchmarks import executor, late
from benchmarks.executor import Night, run, straddles
from optimizer.models.shots import Step
from tests.support.late_judge import PLANS, deeds, facts, late_exposures, rows_of
from tests.support.modes.facts import Facts
from tests.support.modes.nights import plan_of
from tests.support.speeds import deep

pytestmark = deep

OVERRUNS = (0.05, 0.10, 0.20)
NIGHTS = 80  # for each plan and overrun
by_plan = pytest.mark.parametrize(("mode", "place"), PLANS, ids=lambda text: text.replace(" ", "-"))


def nights_of(mode: str, place: str, overrun: float, many: int, seed: int = 7) -> list[Night]:
    chance = random.Random(f"{seed} {mode} {place} {overrun}")
    steps = plan_of(mode, place).steps
    return [executor.run(steps, overrun, chance) for _ in range(many)]


def test_enough_nights_are_simulated() -> None:
    assert len(PLANS) * len(OVERRUNS) * NIGHTS >= 1500
    kinds = {step.kind for mode, place in PLANS for step in plan_of(mode, place).steps}
    assert kinds >= {"flip", "wait", "rotate", "dither", "focus"}


@by_plan
@pytest.mark.parametrize("overrun", OVERRUNS)
def test_night_that_runs_late_is_safe(mode: str, place: str, overrun: float) -> None:
    planned_s = plan_of(mode, place).totals.open_shutter_s
    lost = []
    for night in nights_of(mode, place, overrun, NIGHTS):
        assert deeds(night, mode, place) == []
        assert straddles(night) == 0
        assert late_exposures(night, mode, place) == []
        assert night.open_s <= planned_s
        lost.append(1 - night.open_s / planned_s)
    assert max(lost) > 0  # it did run late
    assert sum(lost) / len(lost) < 4 * overrun


@by_plan
def test_night_without_overrun_is_the_plan_itself(mode: str, place: str) -> None:
    known = facts(mode, place)
    night = run(known.steps, 0.0, random.Random(1))
    assert night.open_s == plan_of(mode, place).totals.open_shutter_s
    opened = [(span.start, span.target, span.side) for span in night.opened]
    rows = [row for row in known.steps if row.kind == "expose"]
    assert opened == [(known.after(row.start_utc), row.target, row.pier_side) for row in rows]
    moved = [(span.kind, span.start, span.end) for span in night.moved]
    rows = [row for row in known.steps if row.kind in executor.LEAVES]
    assert moved == [(row.kind, known.after(row.start_utc), known.after(row.end_utc)) for row in rows]
    assert deeds(night, mode, place) == []


@pytest.mark.parametrize("mount", sorted(late.MOUNTS))
def test_benchmark_of_the_demo_night_agrees(mount: str) -> None:
    """The benchmark's own count, and this folder's almanac, on the first evening whose plan flips."""
    plans = (late.planned(mount, evening) for evening in late.EVENINGS)
    plan = next(plan for plan in plans if any(step.kind == "flip" for step in plan.steps))
    for overrun in (0.0, *OVERRUNS):
        told = late.simulate(mount, [plan], overrun, 60, 3)
        assert told["worst_past_clearance_s"] <= 0
        assert told["exposures_over_motion"] == 0
        assert (told["lost_mean"] == 0) == (overrun == 0)
        assert told["flips"] > 0


# --- the tests above can fail -------------------------------------------------------------------------------


def heedless(step: Step, steps: Sequence[Step]) -> tuple[float, float, float]:
    """As `executor.seconds`, but no step has a latest start."""
    start, length, _ = SECONDS(step, steps)
    return start, length, float("inf")


def careless_shutter(step: Step, steps: Sequence[Step]) -> tuple[float, float, float]:
    """Leaves in time, but opens the shutter whenever it comes to it."""
    start, length, latest = SECONDS(step, steps)
    return start, length, float("inf") if step.kind == "expose" else latest


SECONDS = executor.seconds


@pytest.mark.parametrize(
    ("mode", "place", "words"),
    [
        ("plan", "through the zenith", "beyond its zone"),
        ("plan", "standstill", "beyond its zone"),
        ("early", "standstill", "beyond its zone"),
        ("turned", "lower culmination", "beyond its zone"),
        ("mount", "through the zenith", "as the mount flips by itself"),
    ],
    ids=lambda text: text.replace(" ", "-"),
)
def test_executor_that_ignores_latest_starts_is_caught(
    mode: str, place: str, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(executor, "seconds", heedless)
    found = [deed for night in nights_of(mode, place, 0.2, 40) for deed in deeds(night, mode, place)]
    assert [deed for deed in found if words in deed]


@pytest.mark.parametrize(("mode", "place"), PLANS[:2], ids=lambda text: text.replace(" ", "-"))
def test_shutter_that_ignores_its_latest_start_is_caught(
    mode: str, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(executor, "seconds", careless_shutter)
    found = [deed for night in nights_of(mode, place, 0.2, 40) for deed in deeds(night, mode, place)]
    assert [deed for deed in found if "nothing tracks throughout" in deed or "during" in deed]


# --- hostile nights -----------------------------------------------------------------------------------------


class OneDelay(random.Random):
    """Nothing overruns but one step, and that by `delay_s`."""

    def __init__(self, number: int, length_s: float, delay_s: float) -> None:
        super().__init__(0)
        self.calls, self.number, self.more = 0, number, delay_s / length_s

    def expovariate(self, lambd: float = 1.0) -> float:
        self.calls += 1
        return self.more if self.calls == self.number + 1 else 0.0


@by_plan
@pytest.mark.parametrize("delay_s", [1, 97, 1000, 3 * 3600, 9 * 3600])
def test_one_step_delayed_at_any_place_harms_nothing(mode: str, place: str, delay_s: int) -> None:
    known = facts(mode, place)
    for step in known.steps:
        night = run(known.steps, 1.0, OneDelay(step.step - 1, step.seconds, delay_s))
        told = f"step {step.step}, {step.kind}"
        assert deeds(night, mode, place) == [], told
        assert late_exposures(night, mode, place) == [], told
        assert heedless_motions(night, mode, place) == [], told


def begun_late(steps: Sequence[Step], hours: float) -> Night:
    """The list begun hours late: whoever holds it waits so long with the mount at home."""
    import datetime as dt

    first = steps[0]
    asleep = Step(
        step=1,
        kind="wait",
        start_utc=first.start_utc,
        end_utc=first.start_utc + dt.timedelta(hours=hours),
        tracking=False,
    )
    return run((asleep, *steps), 0.0, random.Random(0))


@by_plan
@pytest.mark.parametrize("hours", [0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 6.0, 12.0, 20.0])
def test_list_begun_hours_late_harms_nothing(mode: str, place: str, hours: float) -> None:
    night = begun_late(plan_of(mode, place).steps, hours)
    assert deeds(night, mode, place) == []
    assert late_exposures(night, mode, place) == []
    assert heedless_motions(night, mode, place) == []


def heedless_motions(night: Night, mode: str, place: str) -> list[str]:
    """Slews and flips begun when no row of theirs may begin any more, for its own sky's sake."""
    known, found = facts(mode, place), []
    for motion in night.moved:
        latest = max(own_latest_s(known, row) for row in rows_of(motion, known))
        if motion.start > latest + 0.1:
            found.append(f"{motion.kind} begun {motion.start - latest:.0f} s after its latest start")
    return found


def own_latest_s(known: Facts, row: Step) -> float:
    """The latest start of a motion; where the mount may be left tracking before it, that may be what it tells."""
    if row.kind == "park" or row.latest_start_utc is None:
        return float("inf")
    before = known.before(row)
    if row.step > 1 and (before.kind != "wait" or before.tracking):
        return float("inf") if row.kind == "flip" else known.after(row.latest_start_utc)
    return known.after(row.latest_start_utc)


def test_plans_and_delays_are_many() -> None:
    steps = sum(len(plan_of(mode, place).steps) for mode, place in PLANS)
    assert steps * 5 >= 2000
    assert list(product(PLANS, OVERRUNS))
