"""What a command line changes of the search, and what a table of parts switched off says."""

from __future__ import annotations

import argparse
from typing import Any

import pytest

from benchmarks.ablation import NOTHING, ablation_text, off_in
from benchmarks.parameters import SWITCHES, changed_parameters


def test_parameters_are_read_by_their_kind() -> None:
    text = "constraint_model=false, few_runs=100,bound_share=0.5"
    assert changed_parameters(text) == {"constraint_model": False, "few_runs": 100, "bound_share": 0.5}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("beam=false", "is no parameter"),
        ("sky_steps_s=10", "is no parameter"),  # more than one number
        ("multi_start=1", "is no parameter"),
        ("ruin_and_recreate=0", "true or false"),
        ("few_runs=many", "is a number such as"),
    ],
)
def test_what_is_no_parameter_is_refused(text: str, told: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match=told):
        changed_parameters(text)


def _run(night: int, off: str, value: float, gap: float, **more: Any) -> dict[str, Any]:
    parameters = {} if off == NOTHING else {off: False}
    return {
        "night": night,
        "aim": "hours",
        "parameters": parameters,
        "value": value,
        "gap": gap,
        "violations": [],
        **more,
    }


def test_table_compares_night_by_night_with_the_whole_search() -> None:
    runs = [
        _run(1, NOTHING, 1000.0, 0.01),
        _run(1, "ruin_and_recreate", 990.0, 0.02),
        _run(2, NOTHING, 2000.0, 0.03),
        _run(2, "ruin_and_recreate", 2010.0, 0.025),
        _run(3, "ruin_and_recreate", 1.0, 0.5),  # nothing to compare it with
        _run(2, "insertion", 1.0, 0.0, violations=["zone"]),
    ]
    assert "ruin_and_recreate" in SWITCHES
    assert off_in(runs[1]) == "ruin_and_recreate"
    text = ablation_text({"date": "2026-11-14", "commit": "abc", "time_limit_s": 10.0, "runs": runs})
    assert "gap 2.000 % in the median, 3.000 % at worst" in text
    row = "| ruin_and_recreate | 2 | 1 | 1 | -0.250 | -0.250 | -1.000 | +0.250 | +0.250 | +1.000 |"
    assert row in text.splitlines()
    assert "| insertion |" not in text
    assert "1 of 6 runs failed or broke a rule" in text
