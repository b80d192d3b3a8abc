"""How many focus runs all frames of a target need, as one row for each target.

`focus_age` counts seconds, and pays for frames of 1.8 cadences as for 1.8 focus runs. A stretch is what one
of them serves; a target's frames y, in stretches, fit into the number s of its stretches and are at most Y,
those of all its caps. With r = Y - (ceil(Y) - 1) what a plan can do fulfils y - r s <= (ceil(Y) - 1) (1 - r),
by mixed integer rounding as in `segments`.
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.cuts.focus_age import slots_begun_focused
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.compiled import Floats


def stretches(graph: RunGraph) -> Cut:
    """Stretches of a target's frames less r for each focus run <= what whole stretches leave of all wanted.

    Targets have a row where each of their visits begins with a focus run.
    """
    problem, served = graph.problem, slots_begun_focused(graph)
    rhs, by_focus = list[float](), list[Floats]()
    option_row, taken = np.zeros_like(graph.option_s), np.zeros(len(graph.option_s))
    frame_s = np.array([task.frame_s for task in problem.tasks])
    for target in sorted({slot.target.name for slot in graph.slots}):
        here = np.array([slot.target.name == target for slot in graph.slots])
        tasks = [task for task in problem.tasks if task.target.name == target]
        if not served[here].all():
            continue
        whole_s = (problem.rules.focus_every_s or 0) + max(task.tail_s for task in tasks)
        most = sum(task.frames_left * task.frame_s for task in tasks) / whole_s
        if most * whole_s > graph.end_s + whole_s:
            continue  # more than the night holds: the row would say nothing
        full = math.ceil(most) - 1
        last = most - full
        frames = graph.option_frames * frame_s[graph.option_task] / whole_s
        mine = here[graph.option_slot]
        taken[mine] = (frames - last * (graph.option_segments - 1))[mine]
        option_row[mine] = len(rhs)
        rhs.append(full * (1.0 - last))
        by_focus.append(np.where(here, -last, 0.0))
    of_slots = np.array(by_focus).reshape(len(rhs), len(graph.slots))
    return Cut(
        graph,
        rhs=np.array(rhs),
        scale=np.ones(len(rhs)),
        option_row=option_row,
        by_option=taken,
        by_arrival=of_slots,
        by_refocus=of_slots,
        unit_s=float(problem.rules.focus_s),
    )
