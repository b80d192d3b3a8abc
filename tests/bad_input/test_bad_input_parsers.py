"""Broken TOML and JSON is told in the same words, whatever the words of Python's own parsers are."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import InputError
from optimizer.export.shot_files import read_shots
from optimizer.reading.load import load_request
from tests.support.bad_input.cases import ALL
from tests.support.bad_input.table import Case

NONSENSE = "Duplicate Expected Invalid Unclosed (at line 1, column 1)"


def unparsable(case: Case) -> bool:
    text = case.files[case.input]
    if not isinstance(text, str):
        return False
    try:
        (json.loads if case.input.endswith(".json") else tomllib.loads)(text)
    except (tomllib.TOMLDecodeError, json.JSONDecodeError):
        return case.input.endswith((".json", ".toml"))
    except (RecursionError, ValueError):  # told by its kind alone
        return False
    return False


CASES = [case for case in ALL if unparsable(case)]


def told(case: Case) -> list[str]:
    read: Callable[[Path], Any] = load_request if "request" in case.input else read_shots
    with pytest.raises(InputError) as caught:
        read(Path(case.input))
    return str(caught.value).split("\n")


@pytest.fixture
def _parsers_of_another_python(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    toml, plain = tomllib.loads, json.loads

    def toml_loads(text: str) -> dict[str, Any]:
        try:
            return toml(text)
        except tomllib.TOMLDecodeError:
            raise tomllib.TOMLDecodeError(NONSENSE) from None

    def json_loads(text: str, **how: Any) -> Any:
        try:
            return plain(text, **how)
        except json.JSONDecodeError:
            raise json.JSONDecodeError(NONSENSE, text, 0) from None  # the place may be another one as well

    monkeypatch.setattr(tomllib, "loads", toml_loads)
    monkeypatch.setattr(json, "loads", json_loads)


def test_there_are_cases_of_both_kinds() -> None:
    assert sum(case.input.endswith(".toml") for case in CASES) >= 15
    assert sum(case.input.endswith(".json") for case in CASES) >= 5


@pytest.mark.usefixtures("_parsers_of_another_python")
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_words_do_not_hang_on_the_parsers_words(case: Case) -> None:
    case.write(Path())
    assert told(case) == case.lines
