"""Bad input is refused in the exact words of the table: what is wrong, where, and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.export.shot_files import read_shots
from optimizer.reading.load import load_request
from tests.support.bad_input.cases import ALL, REQUESTS, SHOTS
from tests.support.bad_input.shots import GOOD_CSV, shots
from tests.support.bad_input.table import GOOD, Case


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("case", REQUESTS, ids=lambda case: case.name)
def test_bad_request_is_told_in_these_words(case: Case) -> None:
    case.write(Path())
    with pytest.raises(InputError) as caught:
        load_request(Path(case.input))
    assert str(caught.value).split("\n") == case.lines


@pytest.mark.parametrize("case", SHOTS, ids=lambda case: case.name)
def test_bad_shot_list_is_told_in_these_words(case: Case) -> None:
    case.write(Path())
    with pytest.raises(InputError) as caught:
        read_shots(Path(case.input))
    assert str(caught.value).split("\n") == case.lines


def test_what_the_cases_are_made_from_is_good() -> None:
    """Otherwise a case could be refused for something else than what it is about."""
    Path("request.toml").write_text(GOOD)
    assert load_request(Path("request.toml")).warnings == ()
    Path("plan.csv").write_text(GOOD_CSV)
    assert len(read_shots(Path("plan.csv")).steps) == 3
    Path("plan.json").write_text(str(shots()["plan.shots.json"]))
    assert len(read_shots(Path("plan.json")).steps) == 2


def test_the_table_is_as_large_as_it_should_be() -> None:
    assert len(REQUESTS) >= 40
    assert len(SHOTS) >= 15
    assert len({case.name for case in ALL}) == len(ALL)


@pytest.mark.parametrize("case", ALL, ids=lambda case: case.name)
def test_messages_are_safe_to_print_and_end_with_a_remedy(case: Case) -> None:
    for line in case.lines:
        assert line.isprintable()
        assert line.startswith(tuple(case.files))
        assert "; " in line
