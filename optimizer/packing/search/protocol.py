"""What a search is to those that call it."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from optimizer.packing.budget import Budget
from optimizer.packing.plan import Plan


class Search(Protocol):
    """A way to make a plan better.

    The plan that comes out keeps every rule and is never of less profit than the one that came in. The search
    ends when the budget is over or halted; with a deterministic budget the same plan, budget and generator
    give the same plan again.
    """

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Look for a better plan within the budget; the plan itself where there is none to be had."""


class TriedSearch(Search, Protocol):
    """A search made of tries, of which as many are made as the budget allows; threads may share it."""

    def work_of_try(self, plan: Plan) -> float:
        """About what one try takes from this plan, in the unit of a budget's work."""
