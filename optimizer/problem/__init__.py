"""The integer problem: request and windows come in, one frozen description in whole seconds goes out.

It may import sky, mount and models. Nothing in a `Problem` depends on the request any more: its `Rules` hold
every number that the packing needs, its `RunLengths` the law of how long a run of exposures is.
"""

from optimizer.problem.problem import (
    Problem,
    build_problem,
    only_slots,
    only_tasks,
    with_sides_of,
    without_slack,
)
from optimizer.problem.rules import Limits, Rules
from optimizer.problem.run_lengths import RunLengths
from optimizer.problem.slots import VISITS_PER_SIDE, Slot, Span
from optimizer.problem.start import Start
from optimizer.problem.tasks import Task

__all__ = [
    "VISITS_PER_SIDE",
    "Limits",
    "Problem",
    "Rules",
    "RunLengths",
    "Slot",
    "Span",
    "Start",
    "Task",
    "build_problem",
    "only_slots",
    "only_tasks",
    "with_sides_of",
    "without_slack",
]
