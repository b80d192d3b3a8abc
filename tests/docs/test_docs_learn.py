"""What the README shows of what was learned is what is learned of three simulated nights."""

from __future__ import annotations

from optimizer.learn.acts import ActName
from optimizer.report.learn_view import learn_view
from tests.support.docs_files import README, fences
from tests.support.learned_sample import SLOWER, sample
from tests.support.report_cases import text


def test_sample_of_the_readme_is_what_is_shown_of_these_nights() -> None:
    """Its lines, one after the other; `python -m tests.support.learned_sample` prints all of them anew."""
    (excerpt,) = fences(README, "text", mark="learn")
    lines = text(learn_view(sample())).splitlines()
    assert len(excerpt.splitlines()) > 15
    at = 0
    for line in excerpt.splitlines():
        if line in ("", "..."):
            continue
        assert line in lines[at:], line
        at = lines.index(line, at) + 1


def test_sample_is_near_the_truth() -> None:
    """The rig that was simulated is as slow as the table says, to a tenth."""
    acts = {act.acts[0]: act for act in sample().acts if act.unknown is None and act.filter is None}
    kinds: dict[ActName, str] = {"between_subs": "expose", "dither": "dither", "focus": "focus"}
    for act, kind in kinds.items():
        planned, median = acts[act].planned_s, acts[act].median_s
        assert planned is not None
        assert median is not None
        assert abs(median - planned - SLOWER[kind]) <= 0.1 * (planned + SLOWER[kind])
