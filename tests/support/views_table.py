"""The tables of the views, as the page on shot lists must have them: `python -m tests.support.views_table`."""

from __future__ import annotations

from pydantic import BaseModel

from optimizer.views.models import (
    BlockView,
    GoalView,
    PlanFacts,
    PlanView,
    StepView,
    ViewTotals,
    VisitView,
)

VIEW_TABLES: dict[str, type[BaseModel]] = {
    "view plan": PlanView,
    "view facts": PlanFacts,
    "view totals": ViewTotals,
    "view goal": GoalView,
    "view visit": VisitView,
    "view block": BlockView,
    "view step": StepView,
}


def view_table(model: type[BaseModel]) -> str:
    """Rows of key and meaning, the meaning being the key's description in the model."""
    rows = [
        f"| `{field.alias or name}` | {field.description} |" for name, field in model.model_fields.items()
    ]
    return "\n".join(["| key | meaning |", "|---|---|", *rows])


if __name__ == "__main__":
    for mark, model in VIEW_TABLES.items():
        print(f"<!-- {mark} -->\n{view_table(model)}\n<!-- /{mark} -->\n")
