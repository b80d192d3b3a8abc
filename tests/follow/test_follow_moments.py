"""Nights run by a fake clock, with frames late, missing and damaged: what is shown is right at sampled moments.

Camera and executor are simulated and know nothing of what follows them; the files lie in a folder that is polled.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import random
import shlex
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from rich.console import Console

from optimizer.export.shot_files import save_shots
from optimizer.follow.moment import moment
from optimizer.follow.seen import Seen, seen
from optimizer.follow.watch import FolderWatch, Images
from optimizer.report.follow_facts import followed
from optimizer.report.follow_view import follow_view
from tests.support.cli_cases import darkfill
from tests.support.executing import Done
from tests.support.followed_nights import list_of
from tests.support.moment_judge import judged_moment, seconds
from tests.support.run_night import run_night
from tests.support.seen_judge import POLL_S, SeenJudge
from tests.support.shown_judge import judged_command, judged_text
from tests.support.speeds import deep, sampled
from tests.support.troubled_nights import Troubled, troubled_night

MOMENTS = 10  # of each night
# Two nights of each list on which, taken together, all goes wrong that can.
SEEDS = {
    "first-night": (4, 0),
    "long-winter-night": (2, 5),
    "short-summer-night": (4, 0),
    "small": (2, 1),
    "flipping": (4, 1),
    "by mount": (0, 4),
    "by plan": (3, 1),
    "standstill": (3, 0),
    "turned": (2, 4),
    "fork": (0, 1),
}
NIGHTS = [(name, seeds[turn]) for turn in range(2) for name, seeds in SEEDS.items()]
STILL_S = 60.0  # a file may grow again that was changed less than so long ago


@dataclass(frozen=True)
class Told:
    """A moment of a night, what is said of it, and what of that is wrong."""

    now: dt.datetime
    seen: Seen
    text: str
    complaints: tuple[str, ...]


@pytest.mark.parametrize(("name", "seed"), sampled(NIGHTS, quick=len(SEEDS), several=True))
def test_what_is_shown_of_a_troubled_night_is_right(name: str, seed: int) -> None:
    told, tried = told_of(name, seed)
    assert len(told) == tried["moments"] == MOMENTS
    assert [(f"{each.now:%H:%M:%S}", each.complaints) for each in told if each.complaints] == []


@deep
@pytest.mark.parametrize(("name", "seed"), NIGHTS[: len(SEEDS)])
def test_command_that_is_shown_plans_the_rest_of_the_night(
    name: str, seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pasted as it stands, the steps that were done are those that it says, and what runs is let end."""
    shots = list_of(name)
    shown = [each for each in told_of(name, seed)[0] if " --now " in each.text and " --done " in each.text]
    assert shown
    monkeypatch.chdir(tmp_path)
    save_shots(shots, Path("tonight.shots.json"))
    for each in shown[:2]:
        _, *words = shlex.split(
            f"darkfill replan {each.text.partition('darkfill replan ')[2]}".replace("\\\n", "")
        )
        ran = darkfill(*words, "--time-limit", 1, "--json")
        assert ran.code == 0, ran.stderr
        continues = json.loads(ran.stdout)["continues"]
        ends = [each.end_utc for each in each.seen.let_end]
        assert set(continues["steps_done"]) == {
            *each.seen.done,
            *(one.step.step for one in each.seen.let_end),
        }
        begins = dt.datetime.fromisoformat(continues["begin"]["utc"])
        assert dt.timedelta(0) <= begins - ends[-1] < seconds(1)


@deep
def test_moments_are_many_and_show_all_that_can_go_wrong() -> None:
    tried: Counter[str] = Counter()
    for name, seed in NIGHTS:
        tried += told_of(name, seed)[1]
    assert tried["moments"] == 200
    least = {"running": 80, "spare": 100, "missing": 200, "lost": 20, "really lost": 10, "overdue": 15}
    least |= {"late at least": 5, "flip too late": 2, "damaged": 50, "growing": 5, "command": 100}
    assert {what: tried[what] for what in least if tried[what] < least[what]} == {}


def test_flip_that_the_mount_makes_by_itself_costs_nothing_of_what_follows() -> None:
    shots = list_of("by mount")
    flip = next(step for step in shots.steps if step.kind == "flip")
    *_, stalled, last = (step for step in shots.steps if step.kind == "expose" and step.step < flip.step)
    happened = run_night(shots, random.Random(1), stalls={stalled.step: 1200.0})
    now = flip.start_utc + seconds(
        last.seconds + 30
    )  # the last sub may run still, and be over 30 s after the flip
    told = seen(shots, now, Images(frames=tuple(happened.frames(now))))
    assert told.overdue is not None
    assert told.overdue.step == last
    assert told.lost == (last,)


@cache
def told_of(name: str, seed: int) -> tuple[tuple[Told, ...], Counter[str]]:
    """What is said of a night at moments of it, in their order, and how often what was held against the truth."""
    night, tried = troubled_night(name, seed), Counter[str]()
    told = []
    with TemporaryDirectory() as place:
        folder = Path(place, "images of tonight")
        clock = Clock()
        watch = FolderWatch(folder, clock)
        for now in sorted(moments_of(night, random.Random(f"moments of {name} {seed}"))):
            for ago_s in (2 * POLL_S, POLL_S, 0.0):
                clock.now = now - seconds(ago_s)
                night.happened.write_until(folder, clock.now)
                images = watch.poll()
            told.append(told_at(night, now, images, folder, tried))
    return tuple(told), tried


class Clock:
    """A clock that stands where it is set."""

    def __init__(self) -> None:
        self.now = dt.datetime.min.replace(tzinfo=dt.UTC)

    def __call__(self) -> float:
        return self.now.timestamp()


def moments_of(night: Troubled, rng: random.Random) -> list[dt.datetime]:
    """Five anywhere, three as the list becomes late or soon after, one with the flip near, one while a file grows."""
    shots, happened = night.shots, night.happened
    begins, ends = shots.steps[0].start_utc, happened.done[-1].end_utc
    found = [begins + seconds(rng.uniform(-300, (ends - begins).total_seconds() + 600)) for _ in range(5)]
    late = [each for each in happened.done if _took_longer_s(each) > 60.0] or list(happened.done)
    flip = next((step for step in shots.steps if step.kind == "flip"), shots.steps[-1])
    before = [each for each in late if each.step.step < flip.step] or late
    for done in (rng.choice(late), rng.choice(late), before[-1]):
        found.append(done.end_utc + seconds(rng.uniform(-300, 400)))
    found.append(flip.start_utc + seconds(rng.uniform(-900, 200)))
    written = rng.choice(happened.files)
    found.append(written.appears_utc + 0.5 * (written.whole_utc - written.appears_utc))
    return [each.replace(microsecond=0) + seconds(1) for each in found]


def _took_longer_s(done: Done) -> float:
    return (done.end_utc - done.start_utc).total_seconds() - done.step.seconds


def told_at(night: Troubled, now: dt.datetime, images: Images, folder: Path, tried: Counter[str]) -> Told:
    """Ask for a moment, and judge the answer."""
    shots, happened = night.shots, night.happened
    by_plan, told = moment(shots, now), seen(shots, now, images)
    judge = SeenJudge(night, now, told, happened.whole(now - seconds(POLL_S)), tried)
    shown = followed(shots, now, name="tonight.shots.json", told=told, folder=str(folder))
    out = io.StringIO()
    Console(file=out, width=110, highlight=False, no_color=True).print(follow_view(shots, by_plan, shown))
    tried["moments"] += 1
    complaints = [
        *judged_images(night, now, images, folder, tried),
        *judged_moment(shots, now, by_plan),
        *judge.complaints(),
        *judged_text(shots, by_plan, told, " ".join(out.getvalue().split())),
        *judged_command(judge, out.getvalue(), tried),
    ]
    return Told(now, told, out.getvalue(), tuple(complaints))


def judged_images(
    night: Troubled, now: dt.datetime, images: Images, folder: Path, tried: Counter[str]
) -> Iterator[str]:
    """Frames count that were whole at the look before this one; nothing sound is called damaged."""
    happened = night.happened
    frames = happened.frames(now - seconds(POLL_S), folder)
    if sorted(images.frames, key=lambda frame: frame.path) != sorted(frames, key=lambda frame: frame.path):
        yield f"{len(images.frames)} frames count, not {len(frames)}"
    damaged = {each.path for each in images.damaged}
    bad = {folder / file.name: file.whole_utc for file in happened.files if file.damage is not None}
    settled = {path for path, whole in bad.items() if whole < now - seconds(STILL_S + 2 * POLL_S)}
    if not settled <= damaged or not damaged <= set(bad):
        yield f"damaged are {sorted(path.name for path in damaged)}"
    there = {folder / file.name for file in happened.files if file.appears_utc <= now}
    if set(images.being_written) != there - damaged - {frame.path for frame in images.frames}:
        yield f"{images.being_written} are said to be written still"
    tried["damaged"] += len(damaged)
    tried["growing"] += any(file.appears_utc <= now < file.whole_utc for file in happened.files)
