"""The page on seasons names every column and key that the models have, and the schema says what it says."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from optimizer.export.season_files import COLUMNS
from optimizer.models.season import ProjectStep, SeasonProof
from optimizer.words import unit_of
from tests.support.docs_files import SEASON, first_cells, marked
from tests.support.season_words import TABLES, WORDS_FILE, words_text


@pytest.mark.parametrize("mark", TABLES)
def test_table_names_the_keys_of_its_model_in_order(mark: str) -> None:
    fields = TABLES[mark].model_fields
    assert first_cells(SEASON, mark) == [field.alias or name for name, field in fields.items()]


def test_columns_of_the_csv_are_told_with_their_units() -> None:
    assert tuple(first_cells(SEASON, "season columns")) == COLUMNS
    rows = re.findall(r"^\| `(\w+)` \| ([^|]*) \|", marked(SEASON, "season columns"), re.MULTILINE)
    assert {name: unit.strip() for name, unit in rows} == {name: unit_of(name) for name in COLUMNS}


@pytest.mark.parametrize(
    ("model", "key", "mark"),
    [
        (SeasonProof, "by", "season proof"),
        (SeasonProof, "ended", "season proof"),
        (ProjectStep, "change", "season step"),
    ],
)
def test_values_of_a_closed_list_are_told_in_full(model: type[SeasonProof], key: str, mark: str) -> None:
    row = re.search(rf"^\| `{key}` \| (.+) \|$", marked(SEASON, mark), re.MULTILINE)
    assert row
    assert re.findall(r"`(\w+)`:", row[1]) == list(get_args(model.model_fields[key].annotation))


def test_words_of_the_schema_are_those_of_the_page() -> None:
    """`python -m tests.support.season_words` writes them anew."""
    assert WORDS_FILE.read_text(encoding="utf-8") == words_text()
