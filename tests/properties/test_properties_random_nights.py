"""Whatever the night, the plan passes the audit, tells the truth about itself, and survives its files."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from optimizer.audit import audit_shot_list
from optimizer.errors import InputError
from optimizer.export.csv_file import csv_text
from optimizer.export.json_file import json_text
from optimizer.export.shot_files import read_shots, save_shots
from optimizer.models.shots import ShotList
from tests.support.property_plans import modes, plan_of
from tests.support.scenarios.nights import random_night
from tests.support.speeds import sampled

CHUNKS, NIGHTS = 12, 27  # so that several processes can share the work
IN_EACH_CHUNK = ("german", "fork", "flip", "rotate", "wait", "focus", "dither", "filter", "park")


@pytest.mark.parametrize("chunk", sampled(range(CHUNKS), quick=1))
def test_plans_of_random_nights(chunk: int, tmp_path: Path) -> None:
    seen: Counter[str] = Counter()
    wrong: list[tuple[int, str]] = []
    for seed in range(chunk * NIGHTS, (chunk + 1) * NIGHTS):
        shots = plan_of(random_night(seed), tmp_path)
        seen.update(modes(shots))
        wrong += [(seed, str(violation)) for violation in shots.audit_report.violations]
        wrong += [(seed, words) for words in _untrue(shots)]
        wrong += [(seed, words) for words in _lost_in_files(shots, tmp_path)]
    assert not wrong
    assert seen["expose"] >= 0.6 * NIGHTS  # about five in six of all
    for mode in IN_EACH_CHUNK:
        assert seen[mode], f"no {mode} in the chunk: it tests less than it says"


def _untrue(shots: ShotList) -> list[str]:
    """What the list says of itself that is not so; written anew here, apart from the audit."""
    found = []
    proof = shots.proof
    if proof.objective > proof.bound + 1e-6:
        found.append(f"value {proof.objective} beyond the bound {proof.bound}")
    if [step.step for step in shots.steps] != list(range(1, len(shots.steps) + 1)):
        found.append("step numbers have gaps")
    found += [f"step {b.step} does not follow" for a, b in pairwise(shots.steps) if a.end_utc != b.start_utc]
    weights = {target.name: target.weight for target in shots.request.targets}
    exposures = [step for step in shots.steps if step.kind == "expose"]
    value = sum(weights[step.target or ""] * (step.exposure_s or 0) for step in exposures)
    if abs(value - proof.objective) > 1e-3:
        found.append(f"worth {value}, not {proof.objective}")
    if sum(goal.frames_planned for goal in shots.totals.goals) != len(exposures):
        found.append("totals count other exposures than there are")
    return found


def _lost_in_files(shots: ShotList, folder: Path) -> list[str]:
    """What writing and reading changes."""
    path = folder / "night.shots.json"
    table = path.with_suffix(".csv")
    if shots.steps:
        save_shots(shots, path, replace=True)
    else:  # no list is saved then, but one may be kept from what was printed
        path.write_text(json_text(shots), encoding="utf-8")
        table.write_text(csv_text(()), encoding="utf-8")
    again = read_shots(path).shots
    assert again is not None
    found = []
    if again != shots:
        found.append("another list from JSON")
    if shots.steps and read_shots(table).steps != shots.steps:
        found.append("other steps from CSV")
    if not shots.steps:  # a header alone is taken for a file cut short
        with pytest.raises(InputError, match="no steps below the header"):
            read_shots(table)
    if audit_shot_list(again) != shots.audit:
        found.append("another audit of the list from JSON")
    return found
