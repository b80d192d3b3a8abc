"""Lists that begin anywhere in a small night pass the audit, whatever the mount and the sky."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from optimizer.models.continues import Continues
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.reading.load import request_from_data
from tests.support.begins import Cut, random_cut
from tests.support.scenarios.small import small_night
from tests.support.speeds import sampled

CHUNKS, NIGHTS, CUTS = 12, 12, 2  # of each night


def rests_of(seed: int, aim: str) -> list[tuple[Cut, ShotList]]:
    """Lists that go on with a small night, cut anywhere."""
    rng, found, data = random.Random(seed), [], small_night(seed)
    data["aim"] |= {"value": aim, "time_limit_s": 0.2}
    request = request_from_data(data, f"small night {seed}").with_aim(slack_s=rng.choice([0, 0, 60, 300]))
    whole = Night(request)
    schedule = whole.search().schedule
    for _ in range(CUTS):
        cut = random_cut(request, whole.problem, schedule, rng)
        if cut is not None:
            now = cut.begin.utc
            continues = Continues(sha256="0" * 64, now_utc=now, steps_done=(), begin=cut.begin)
            rest = Night(cut.request, continues)
            rest.sky = whole.sky
            found.append((cut, rest.plan()))
    return found


@pytest.mark.parametrize("chunk", sampled(range(CHUNKS), quick=1))
def test_the_rest_of_a_night_passes_the_audit(chunk: int) -> None:
    seen: Counter[str] = Counter()
    wrong = []
    for seed in range(chunk * NIGHTS, (chunk + 1) * NIGHTS):
        for number, (cut, shots) in enumerate(rests_of(seed, "depth" if seed % 4 == 3 else "hours")):
            wrong += [(seed, number, violation) for violation in shots.audit_report.violations]
            first = shots.steps[0] if shots.steps else None
            if first is None or first.kind == "park":
                continue
            assert first.start_utc == cut.begin.utc
            seen["leaves" if first.kind in ("slew", "flip", "wait") else "goes on"] += 1
    assert wrong == [], "seed, cut, violation"
    assert min(seen["leaves"], seen["goes on"]) >= 2
