"""The terminal's view of a moment, held against what is known by words of the judge's own."""

from __future__ import annotations

import datetime as dt
import re
import shlex
import zoneinfo
from collections import Counter
from collections.abc import Iterator

from optimizer.follow.moment import Moment
from optimizer.follow.seen import Seen
from optimizer.models.shots import ShotList, Step
from tests.support.moment_judge import seconds
from tests.support.seen_judge import SeenJudge

LATE_S = 30.0  # less is not called late


def judged_text(shots: ShotList, by_plan: Moment, told: Seen, text: str) -> Iterator[str]:
    """What a person reads, by words of the test's own."""
    zone = zoneinfo.ZoneInfo(shots.request.site.time_zone)
    now = by_plan.now_utc

    def at(instant: dt.datetime) -> str:
        nearest = instant + seconds(0.5)
        return nearest.astimezone(zone).strftime("%H:%M:%S")

    wanted = (
        [f"Seen {len(told.taken)} sub", f"{told.over} are over by the plan"]
        if told.taken
        else ["no image of this list yet"]
    )
    if by_plan.running is not None:
        left = span(round((by_plan.running.end_utc - now).total_seconds()))
        wanted.append(f"; until {at(by_plan.running.end_utc)}, {left} left")
        if by_plan.running.kind == "expose":
            place, many = place_of(shots.steps, by_plan.running)
            wanted.append(
                f"Now sub {place} of {many}, {by_plan.running.filter} {by_plan.running.exposure_s:g} s,"
            )
    for step in (by_plan.next, by_plan.flip):
        if step is not None:
            wanted.append(
                f"at {at(step.start_utc)}, in {span(round((step.start_utc - now).total_seconds()))}"
            )
    if by_plan.flip is not None and by_plan.flip_by == "plan" and by_plan.flip.latest_start_utc is not None:
        wanted.append(f"no later than {at(by_plan.flip.latest_start_utc)}")
    if by_plan.slack_s:
        wanted.append(f"Slack {span(by_plan.slack_s)}: so late the list may run")
    if told.overdue is not None:
        wanted.append(f"one was due at {at(told.overdue.due_utc)}")
        wanted.append("Unless it was skipped or its file is lost, the list is at least")
        wanted.append(f"at least {span(int(told.late_s))} late")
    elif told.late_s >= LATE_S:
        wanted.append(
            f"Late {span(int(told.late_s))}, since the sub planned for {at(late_since(told).start_utc)}"
        )
    elif told.taken:
        wanted.append("Late no: the latest image was taken less than 30 s late")
    if told.lost:
        least = "at least " if told.overdue is not None else ""
        wanted.append(f"Cost {least}{len(told.lost)} sub")
    if told.missing:
        wanted.append(f"Gaps {len(told.missing)} sub")
    if told.images.damaged:
        wanted.append(f"not usable {told.images.damaged[-1].path.name}")
    for words in wanted:
        if words not in text:
            yield f"the view does not say: {words}"


def late_since(told: Seen) -> Step:
    """The first of the subs up to the latest one that are all 30 s late or more."""
    first = told.taken[-1].step
    for each in reversed(told.taken):
        if each.late_s < LATE_S:
            break
        first = each.step
    return first


def span(amount: int) -> str:
    if amount < 60:
        return f"{amount} s"
    if amount < 600:
        return f"{amount // 60} min {amount % 60:02d} s"
    return f"{amount // 60} min" if amount < 3600 else f"{amount // 3600} h {amount // 60 % 60:02d} min"


def place_of(steps: tuple[Step, ...], sub: Step) -> tuple[int, int]:
    """Which sub of its run a sub is, and how many the run has: no other goal's sub between, and no motion."""
    runs: list[list[Step]] = [[]]
    for step in steps:
        if step.kind in ("slew", "flip", "park"):
            runs.append([])
        elif step.kind == "expose":
            if runs[-1] and runs[-1][-1].goal_key != step.goal_key:
                runs.append([])
            runs[-1].append(step)
    run = next(run for run in runs if sub in run)
    return run.index(sub) + 1, len(run)


def judged_command(judge: SeenJudge, text: str, tried: Counter[str]) -> Iterator[str]:
    """The command that is shown, parsed back as a shell has it, says what is done and when the next list begins."""
    _, found, rest = text.partition("\ndarkfill replan ")
    if not found:
        told, gone = judge.told, set(judge.done)
        if judge.now >= judge.steps[-1].end_utc:
            gone |= {step.step for step in told.lost}
        left = any(step.kind == "expose" and step.step not in gone for step in judge.rest)
        if left and (told.missing or told.lost or told.late_s >= LATE_S):
            yield "there is no command although something is not as planned"
        return
    tried["command"] += 1
    words = shlex.split(rest.replace("\\\n", " "))
    options = dict(zip(words[1::2], words[2::2], strict=False))
    if words[0] != "tonight.shots.json" or "Check where the mount is" not in text:
        yield f"the command is {words}"
    done = {
        number
        for part in re.findall(r"(\d+)(?:-(\d+))?(?:,|$)", options.get("--done", ""))
        for number in range(int(part[0]), int(part[1] or part[0]) + 1)
    }
    expected = judge.done | ({each.step.step for each in judge.let_end} if judge.done else set())
    if done != expected:
        yield f"the command says that {sorted(done ^ expected)} were done"
    ends = judge.let_end[-1].end_utc if judge.let_end else None
    if (ends is None) != ("--now" not in options):
        yield f"the command's --now is {options.get('--now')}, and what runs ends at {ends}"
    if ends is not None:
        zone = zoneinfo.ZoneInfo(judge.night.shots.request.site.time_zone)
        whole = (ends - seconds(1e-6)).replace(microsecond=0) + seconds(1)
        if options["--now"] != whole.astimezone(zone).strftime("%H:%M:%S"):
            yield f"the command takes over at {options['--now']}, and what runs ends at {whole}"
