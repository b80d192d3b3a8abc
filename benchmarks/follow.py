"""A folder of thousands of frames, watched: a look at which nothing is new, beside what else it could cost.

    python -m benchmarks.follow [--files N] [--rounds N]

The files are those of `benchmarks.fits_headers`. In each round one after the other: the least that any look
must do, each file's size and time of change asked of the system; the first look, which reads all headers; a
look at which nothing is new; one at which a frame is new and one is gone; and all headers read anew. The
disk's cache is warm. Compare within one run only. Prints a table and keeps it, and the raw figures as JSON,
under benchmarks/results/.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from benchmarks.fits_headers import write_frames
from benchmarks.surroundings import RESULTS, keep, load, surroundings
from optimizer.follow.watch import FolderWatch
from optimizer.tally.folder import read_folder

T = TypeVar("T")
LOOKS = 5  # of which the median counts
TARGET = 0.1  # of reading all headers anew


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--files", type=int, default=5000)
    arguments.add_argument("--rounds", type=int, default=3)
    wanted = arguments.parse_args()
    figures = {"files": wanted.files, **surroundings(("astropy", "numpy"))}
    with tempfile.TemporaryDirectory() as folder:
        paths = write_frames(Path(folder), wanted.files)
        for path in paths:
            os.utime(path, (0, 0))
        rounds = [one_round(Path(folder), paths) for _ in range(wanted.rounds)]
    figures |= {"load_after": load(), "rounds": rounds}
    text = "\n".join(table(rounds))
    print(text)
    (RESULTS / "follow.md").write_text(text + "\n", encoding="utf-8")
    keep("follow.json", figures)


def one_round(folder: Path, paths: list[Path]) -> dict[str, float]:
    """Seconds of each, and what a quiet look is of the others; what is told is held to the files there."""
    watching = FolderWatch(folder)
    first_s, told = _timed(watching.poll)
    assert len(told.frames) == len(paths)
    quiet_s = []
    for _ in range(LOOKS):
        seconds, again = _timed(watching.poll)
        assert again is told
        quiet_s.append(seconds)
    content, away, new = paths[0].read_bytes(), paths[0], folder / "new.fits"
    away.unlink()
    new.write_bytes(content)
    changed_s, told = _timed(watching.poll)
    assert (len(told.frames), told.being_written) == (len(paths) - 1, (new,))
    new.unlink()
    away.write_bytes(content)
    os.utime(away, (0, 0))
    stats_s = statistics.median(_timed(lambda: _stats(folder))[0] for _ in range(LOOKS))
    anew_s, frames = _timed(lambda: list(read_folder(folder)))
    assert len(frames) == len(paths)
    look_s = statistics.median(quiet_s)
    return {
        "stats_s": round(stats_s, 4),
        "first_s": round(first_s, 3),
        "quiet_s": round(look_s, 4),
        "changed_s": round(changed_s, 4),
        "anew_s": round(anew_s, 3),
        "to_stats": round(look_s / stats_s, 2),
        "to_anew": round(look_s / anew_s, 4),
    }


def _timed(work: Callable[[], T]) -> tuple[float, T]:
    began = time.perf_counter()
    result = work()
    return time.perf_counter() - began, result


def _stats(folder: Path) -> int:
    """Ask for size and time of change of each file, folder by folder."""
    size_bytes = 0
    waiting = [str(folder)]
    while waiting:
        with os.scandir(waiting.pop()) as entries:
            for entry in entries:
                if entry.is_dir():
                    waiting.append(entry.path)
                else:
                    size_bytes += entry.stat().st_size
    return size_bytes


def table(rounds: list[dict[str, Any]]) -> list[str]:
    """One row a round, then the median ratios."""
    lines = [
        "| stats alone s | first look s | quiet look s | one new, one gone s | all anew s "
        "| quiet / stats | quiet / anew |",
        "|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {each['stats_s']:.3f} | {each['first_s']:.2f} | {each['quiet_s']:.3f} | {each['changed_s']:.3f} "
        f"| {each['anew_s']:.2f} | {each['to_stats']:.1f} | {each['to_anew']:.3f} |"
        for each in rounds
    ]
    ratio = statistics.median(each["to_anew"] for each in rounds)
    lines.append(f"\nquiet / anew in the median {ratio:.3f}; at most {TARGET:.2f} is wanted")
    return lines


if __name__ == "__main__":
    main()
