"""The page on shot lists names every column, key and value that the models have, and says truly where they stand."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from optimizer.export.json_file import read_json
from optimizer.findings import CheckReport, Comparison, Finding
from optimizer.models.shots import (
    Proof,
    ReliefKey,
    Step,
    StepKind,
    UnplannedReason,
)
from tests.support.docs_files import PLANS, SHOTS, first_cells, marked, stored_list
from tests.support.shots_words import TABLES as OF_LISTS
from tests.support.views_table import VIEW_TABLES, view_table

TABLES: dict[str, type[BaseModel]] = {
    **OF_LISTS,
    "json check": CheckReport,
    "json finding": Finding,
    "json comparison": Comparison,
}


@pytest.mark.parametrize("mark", TABLES)
def test_table_names_the_keys_of_its_model_in_order(mark: str) -> None:
    fields = TABLES[mark].model_fields
    assert first_cells(SHOTS, mark) == [field.alias or name for name, field in fields.items()]


@pytest.mark.parametrize("mark", VIEW_TABLES)
def test_table_of_a_view_is_that_of_its_model(mark: str) -> None:
    """Keys, order and meaning; `python -m tests.support.views_table` prints them."""
    assert marked(SHOTS, mark) == view_table(VIEW_TABLES[mark])


def test_kinds_and_reasons_are_told_in_full() -> None:
    assert sorted(first_cells(SHOTS, "kinds")) == sorted(get_args(StepKind))
    assert first_cells(SHOTS, "reasons") == list(get_args(UnplannedReason))


def test_values_of_a_closed_list_are_told_in_full() -> None:
    relief = re.search(
        r"^\| `key` \| the key that it changes: (.+) \|$", marked(SHOTS, "json relief"), re.MULTILINE
    )
    status = re.search(r"^\| `status` \| (.+) \|$", marked(SHOTS, "json proof"), re.MULTILINE)
    assert relief
    assert status
    assert re.findall(r"`(\w+)`", relief[1]) == list(get_args(ReliefKey))
    assert re.findall(r"`(\w+)`:", status[1]) == list(get_args(Proof.model_fields["status"].annotation))


def filled_in() -> dict[str, str]:
    """Of each column the cell that says in which rows it is filled."""
    rows = re.findall(r"^\| `(\w+)` \|[^|]*\| ([^|]+) \|", marked(SHOTS, "columns"), re.MULTILINE)
    return dict(rows)


def is_filled(words: str, step: Step) -> bool | None:
    """What the cell says of a step; None where it leaves it open."""
    if words == "every row":
        return True
    if words.startswith("with a target"):
        return step.kind != "park" and not (step.kind == "wait" and not step.tracking)
    kinds = re.findall(r"`(\w+)`", words)
    if not kinds:
        return None
    if step.kind not in kinds:
        return False
    return None if ", if " in words else True


@pytest.mark.parametrize("folder", PLANS, ids=lambda folder: folder.name)
def test_columns_are_filled_in_the_rows_that_the_page_names(folder: Path) -> None:
    """In the stored plans, whose mounts are German."""
    cells = filled_in()
    assert list(cells) == list(Step.model_fields)
    for step in read_json(stored_list(folder)).steps:
        for column, words in cells.items():
            told = is_filled(words, step)
            assert told is None or told == (getattr(step, column) is not None), (step.step, column)


def test_most_columns_are_asked_of_the_stored_plans() -> None:
    """A page that left them open would make the test above say nothing."""
    steps = read_json(stored_list(PLANS[0])).steps
    left_open = {
        column for column, words in filled_in().items() if any(is_filled(words, s) is None for s in steps)
    }
    assert left_open == {"latest_start_utc", "gain", "offset", "note"}
