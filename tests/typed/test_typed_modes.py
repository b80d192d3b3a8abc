"""Every mode of a mount: the subs of a plan alone give its slews, flips and sides again, and latest starts."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.typed.latest import with_latest_starts
from tests.support.modes.nights import night_of, plan_of
from tests.support.speeds import sampled
from tests.support.typed_cases import made
from tests.typed.test_typed_own_lists import LEFT_OUT, few

MODES = (
    ("plan", "lower culmination"),
    ("mount", "through the zenith"),
    ("quiet", "through the zenith"),
    ("never", "through the zenith"),
    ("early", "through the zenith"),
    ("late", "through the zenith"),
    ("turned", "through the zenith"),
    ("fork", "through the zenith"),
    ("plan", "north of the zenith"),
    ("plan", "two transits"),
)


@pytest.mark.parametrize(
    ("mode", "place"), sampled(MODES, quick=3, several=True), ids=lambda text: text.replace(" ", "-")
)
def test_subs_alone_give_the_whole_list_again(mode: str, place: str, tmp_path: Path) -> None:
    request, steps = night_of(mode, place), plan_of(mode, place).steps
    assert [step.model_copy(update=LEFT_OUT) for step in steps] == list(
        made(tmp_path, few(steps), request).steps
    )
    bare = [step.model_copy(update={"latest_start_utc": None}) for step in steps]
    assert with_latest_starts(request, bare) == steps
