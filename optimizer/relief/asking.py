"""Each question planned again, and what its answer gives: to whom, at whose cost, and how surely."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from optimizer import ctrl_c
from optimizer.models.request import Request
from optimizer.models.shots import Relief, Unplanned
from optimizer.night import LIMIT_S, Night
from optimizer.packing.schedule import ScheduledVisit, profit_of_visits
from optimizer.problem import Problem, Slot, Span
from optimizer.relief.changes import Change
from optimizer.relief.questions import Question

MOST_QUESTIONS = 12
GAP = 0.0005  # gains of minutes are looked for, so nights are compared to within a few seconds an hour
DECIMALS = 3

Tell = Callable[[str], None]


def relieve(
    night: Night, unplanned: Sequence[Unplanned], questions: Sequence[Question], tell: Tell | None = None
) -> tuple[Unplanned, ...]:
    """The entries with the easier settings that help them, best first; each question takes about a second.

    `tell` is called with the words of each question as it begins. Ctrl-C ends the asking and keeps the
    answers so far. The `relief` of an entry stays None where some of its questions were not asked and none of
    the others helped.
    """
    aim = night.request.aim
    reliefs: dict[int, list[Relief]] = {number: [] for number in range(len(unplanned))}
    asked = 0
    try:
        for question in questions[:MOST_QUESTIONS]:
            ctrl_c.heed()
            if tell is not None:
                tell(_words(question, unplanned))
            changed = question.change.made_in(night.request)
            answer = night.ask(changed, min(LIMIT_S, aim.time_limit_s), min(GAP, aim.gap))
            for number, relief in _gains(night, answer, question, unplanned):
                reliefs[number].append(relief)
            asked += 1
    except KeyboardInterrupt:
        pass
    unasked = {number for question in questions[asked:] for number in question.entries}
    return tuple(
        entry.model_copy(update={"relief": _best_first(reliefs[number])})
        if reliefs[number] or number not in unasked
        else entry
        for number, entry in enumerate(unplanned)
    )


def _words(question: Question, unplanned: Sequence[Unplanned]) -> str:
    targets = dict.fromkeys(unplanned[number].target for number in question.entries)
    return f"{question.change.words} ({', '.join(targets)})"


def _best_first(steps: Sequence[Relief]) -> tuple[Relief, ...]:
    return tuple(sorted(steps, key=lambda step: (-step.value_s, -step.target_open_s)))


def _gains(
    first: Night, answer: Night, question: Question, unplanned: Sequence[Unplanned]
) -> list[tuple[int, Relief]]:
    """What the answer gives to each entry of the question, as far as that is due to the change."""
    change = question.change
    value_s = _value_s(answer, first.request) - first.value
    if change.key != "weight" and (value_s <= 0 or not _used(first, answer, change)):
        return []
    open_s = answer.open_s() - first.open_s()
    gains = []
    for number, entry in enumerate(unplanned):
        own_s = answer.open_s(entry.target) - first.open_s(entry.target)
        # time that the step opens may go to another goal, whose own hours it sets free
        passed_on = change.key != "weight" and _frames(answer, entry) > _frames(first, entry)
        if own_s > 0 and (number in question.entries or passed_on):
            relief = Relief(
                change=change.words,
                of=change.target or change.filter or "",
                key=change.key,
                old=change.old,
                new=change.new,
                target_open_s=round(own_s, DECIMALS),
                open_s=round(open_s, DECIMALS),
                value_s=round(value_s, DECIMALS),
                certain=change.key != "weight" and answer.value > first.bound,
            )
            gains.append((number, relief))
    return gains


def _frames(answer: Night, entry: Unplanned) -> int:
    """Number of exposures of an entry's goal in the answer's plan."""
    goal = entry.target, entry.filter, entry.exposure_s
    runs = (run for visit in answer.solution.plan for run in visit.runs)
    tasks = answer.problem.tasks
    return sum(
        run.frames
        for run in runs
        if (tasks[run.task].target.name, tasks[run.task].goal.filter, tasks[run.task].goal.exposure_s) == goal
    )


def _value_s(answer: Night, request: Request) -> float:
    """Weighted seconds of an answer by the weights of another request.

    A weight scales what its target's exposures are worth together, filter set and all, and nothing else.
    """
    weights = {target.name: target.weight for target in request.targets}
    value_s = answer.value
    for target in answer.request.targets:
        if weights[target.name] != target.weight:
            own = [visit for visit in answer.solution.schedule if visit.slot.target.name == target.name]
            own_s = answer.problem.weighted_seconds(profit_of_visits(answer.problem, own))
            value_s += own_s * (weights[target.name] / target.weight - 1)
    return value_s


def _used(first: Night, answer: Night, change: Change) -> bool:
    """Whether the plan needs the change; one that does not would have fitted the night as it is."""
    visits = answer.solution.schedule
    tasks = answer.problem.tasks
    if change.key == "least_min":
        own = [visit for visit in visits if visit.slot.target.name == change.target]
        seconds = (sum(tasks[task].goal.exposure_s for task, _ in visit.exposures) for visit in own)
        return any(each_s < 60 * float(change.old) for each_s in seconds)
    if change.key == "exposure_s":
        target = first.request.target_named(change.target or "")
        halved = {number for number, goal in enumerate(target.goals) if change.concerns(goal)}
        shot = (tasks[task] for visit in visits for task, _ in visit.exposures)
        return any(task.target.name == target.name and task.goal_index in halved for task in shot)
    return not all(_fits(first.problem, answer.problem, visit) for visit in visits)


def _fits(problem: Problem, other: Problem, visit: ScheduledVisit) -> bool:
    """Whether one slot of a night has room for a visit of another night, at its own times."""
    numbers = {(task.target.name, task.goal_index): task.index for task in problem.tasks}
    worked = [(act.start, act.end) for act in visit.acts if act.kind not in ("slew", "flip")]
    exposed = []
    for index, opens_s in visit.exposures:
        task = other.tasks[index]
        span = opens_s, opens_s + task.shutter_s
        exposed.append((numbers[task.target.name, task.goal_index], span))

    def holds(slot: Slot) -> bool:
        return (
            (slot.target.name, slot.side) == (visit.slot.target.name, visit.slot.side)
            and all(_within(span, [slot.work]) for span in worked)
            and all(_within(span, slot.shutter.get(task, ())) for task, span in exposed)
        )

    return any(holds(slot) for slot in problem.slots)


def _within(span: Span, spans: Sequence[Span]) -> bool:
    return any(first <= span[0] and span[1] <= last for first, last in spans)
