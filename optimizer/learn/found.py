"""What a folder holds to learn from: its frames, and the files that cannot be used, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.tally.counts import CALIBRATION, matched_goal
from optimizer.tally.folder import Tell, read_folder, told_all_the_same
from optimizer.tally.frames import Damaged, Frame
from optimizer.tally.matching import Matcher
from optimizer.words import listing, safe

MOST_REASONS = 3  # that are told where there is no sub at all


@dataclass(frozen=True)
class Found:
    """The files of a folder. `frames` are all that can be read, in the order of their names.

    `subs` is the number of those that are of a goal of the request, `calibration` of dark, flat and bias
    frames, `unmatched` holds the others, each with why it is of no goal. `damaged` are files that cannot be
    used, each with what its header tells all the same (None: nothing).
    """

    frames: tuple[Frame, ...]
    subs: int
    calibration: int
    unmatched: tuple[tuple[Path, str], ...]
    damaged: tuple[tuple[Damaged, Frame | None], ...]

    @property
    def files(self) -> int:
        """All files that were read."""
        return len(self.frames) + len(self.damaged)


def found_in(folder: Path, request: Request, tell: Tell | None = None) -> Found:
    """Read the headers of a folder's images and those in its folders; nothing there is changed.

    `tell` is called after each file with the files done and the files in all. Raises InputError where the
    folder cannot be read, and where no file in it is a sub of a goal of the request.
    """
    matcher = Matcher(request)
    frames: list[Frame] = []
    damaged: list[tuple[Damaged, Frame | None]] = []
    unmatched: list[tuple[Path, str]] = []
    subs = calibration = 0
    for each in read_folder(folder, tell=tell):
        if isinstance(each, Damaged):
            damaged.append((each, told_all_the_same(each)))
            continue
        frames.append(each)
        if each.kind in CALIBRATION:
            calibration += 1
            continue
        goal = matched_goal(matcher, each)
        if isinstance(goal, str):
            unmatched.append((each.path, goal))
        else:
            subs += 1
    found = Found(tuple(frames), subs, calibration, tuple(unmatched), tuple(damaged))
    if not subs:
        raise InputError([InputProblem(safe(str(folder)), "", *_nothing(found))])
    return found


def _nothing(found: Found) -> tuple[str, str]:
    """What to say of a folder without a sub of any goal, and the remedy."""
    if not found.files:
        return "there is no FITS file in the folder", "name the folder that holds the images of the night"
    told = "; ".join(_reasons(found))
    return (
        f"no file in the folder is a sub of a goal of the request: {told}",
        "name the request that these images were taken for, or give its targets and filters aliases",
    )


def _reasons(found: Found) -> Iterator[str]:
    """Each kind of file that is there, with how many, and why it says nothing."""
    if found.calibration:
        yield f"{found.calibration} calibration frames"
    for whole, word in (
        (Counter(reason for _, reason in found.unmatched), "of no goal"),
        (Counter(each.reason for each, _ in found.damaged), "damaged"),
    ):
        if whole:
            told = (f"{reason} ({count})" for reason, count in whole.most_common(MOST_REASONS))
            more = f", and {len(whole) - MOST_REASONS} other reasons" if len(whole) > MOST_REASONS else ""
            yield f"{sum(whole.values())} {word}: {listing(map(safe, told), 'and')}{more}"
