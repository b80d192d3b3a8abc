"""A plan's views as files of each form: CSV, JSON, calendar, sheet for paper, table of the IVOA."""

from __future__ import annotations

import json
from collections.abc import Callable

from optimizer.export.csv_file import table_text
from optimizer.models.base import as_json_data
from optimizer.views.models import BlockView, PlanView, StepView


def blocks_csv(view: PlanView) -> str:
    """Write a header and one row a block; its columns are the keys of the view."""
    return table_text(tuple(BlockView.model_fields), view.blocks)


def steps_csv(view: PlanView) -> str:
    """Write a header and one row a step; its columns are the keys of the view."""
    return table_text(tuple(StepView.model_fields), view.steps)


def views_json(view: PlanView) -> str:
    """Write all views as one JSON document, indented, with a line end after it."""
    return json.dumps(as_json_data(view), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _calendar(view: PlanView) -> str:
    from optimizer.export.calendar_file import calendar_text

    return calendar_text(view)


def _sheet(view: PlanView) -> str:
    from optimizer.export.sheet_file import sheet_text

    return sheet_text(view)


def _obsplan(view: PlanView) -> str:
    from optimizer.export.obsplan_file import obsplan_text

    return obsplan_text(view)


# Each form by the name that the command line has for it; what is heavy is imported as it is asked for.
FORMS: dict[str, Callable[[PlanView], str]] = {
    "blocks": blocks_csv,
    "steps": steps_csv,
    "json": views_json,
    "ics": _calendar,
    "sheet": _sheet,
    "obsplan": _obsplan,
}
