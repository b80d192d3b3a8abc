"""The one law of how long a run of exposures is: frames, tails, dithers, and focus runs inside it.

A run is cut into segments by the focus runs that the cadence makes due. Within a segment a dither follows
every `dither_every` frames if another frame follows; after a focus run inside a run comes one dither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.problem.rules import Rules
from optimizer.problem.tasks import Task

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class RunLengths:
    """Lengths of runs and segments of a task under the rules of a night, in whole seconds.

    A length runs from the first opening of the shutter to its last closing; the last tail is not counted.
    """

    rules: Rules

    @property
    def dither_after_focus_s(self) -> int:
        """Length of the dither that follows a focus run inside a run; 0 where no dithers are wanted."""
        return self.rules.dither_s if self.rules.dither_every else 0

    @property
    def pause_s(self) -> int:
        """Length of a focus run inside a run, with the dither that follows it."""
        return self.rules.focus_s + self.dither_after_focus_s

    def segment_s(self, task: Task, frames: int) -> int:
        """Length of an unbroken segment of so many frames."""
        every = self.rules.dither_every
        dithers = (frames - 1) // every if every else 0
        return frames * task.frame_s - task.tail_s + dithers * self.rules.dither_s

    def most_frames(self, task: Task, seconds: int, lead_s: int = 0) -> int:
        """Most frames of an unbroken segment whose last shutter closes within `seconds - lead_s`."""
        low, high = 0, max(0, (seconds - lead_s + task.tail_s) // task.frame_s)
        while low < high:
            middle = (low + high + 1) // 2
            if self.segment_s(task, middle) <= seconds - lead_s:
                low = middle
            else:
                high = middle - 1
        return low

    def first_segment_most(self, task: Task) -> int:
        """Most frames between a focus run that directly precedes a run and the next one."""
        if self.rules.focus_every_s is None:
            return task.frames_left
        return min(task.frames_left, self.most_frames(task, self.rules.focus_every_s))

    def later_segment_most(self, task: Task) -> int:
        """Most frames between two focus runs inside a run."""
        if self.rules.focus_every_s is None:
            return task.frames_left
        most = self.most_frames(task, self.rules.focus_every_s, self.dither_after_focus_s)
        return min(task.frames_left, most)

    def run_s(self, task: Task, segments: tuple[int, ...]) -> int:
        """Length of a run of these segments, each given in frames."""
        between_s = task.tail_s + self.pause_s
        return sum(self.segment_s(task, frames) for frames in segments) + (len(segments) - 1) * between_s

    def runs_s(self, task: Task, most: int) -> tuple[Ints, Ints]:
        """Lengths of runs of 1, 2, ... up to `most` frames after a focus run, and how many segments each has.

        Each is cut as `cut_into_segments` does; there are fewer where the cadence allows no second segment.
        """
        first_most = self.first_segment_most(task)
        later_most = self.later_segment_most(task) if most > first_most else 1
        if later_most == 0:
            most = first_most
        frames = np.arange(1, most + 1)
        first = np.minimum(frames, first_most)
        whole, last = np.divmod(frames - first, max(1, later_most))
        segments = 1 + whole + (last > 0)
        every = self.rules.dither_every
        dithers = np.zeros_like(frames)
        if every:
            later = (last - 1) // every * (last > 0) + whole * ((max(1, later_most) - 1) // every)
            dithers = (first - 1) // every + later
        open_s = frames * task.frame_s - task.tail_s + dithers * self.rules.dither_s
        return np.asarray(open_s + (segments - 1) * self.pause_s), np.asarray(segments)

    def cut_into_segments(self, task: Task, frames: int, first_most: int) -> tuple[int, ...]:
        """Segments of a run, each focus run as late as the cadence allows.

        They hold fewer frames than asked where the cadence allows no second segment (a dither and a frame
        outlast it). `first_most` is the most frames that the first segment may have.
        """
        first = min(frames, first_most)
        later_most = self.later_segment_most(task) if first < frames else 0
        if later_most == 0:
            return (first,)
        whole, last = divmod(frames - first, later_most)
        return (first, *[later_most] * whole, *([last] if last else []))

    def segment_most(self, task: Task) -> int:
        """Most frames of any segment of a run, the first one or a later one."""
        return max(self.first_segment_most(task), self.later_segment_most(task))

    def fewest_segments(self, task: Task, frames: Ints) -> Ints:
        """Fewest segments of runs of so many frames each, the first of them after a focus run."""
        later = frames - self.first_segment_most(task)
        return np.asarray(1 + np.maximum(0, -(-later // max(1, self.later_segment_most(task)))))

    def least_runs_s(self, task: Task, most: int) -> Ints:
        """Least lengths of runs of 1, 2, ... up to `most` frames, however they are cut into segments.

        That is the length of `runs_s` less the dithers that another cut into as many segments could save at
        most: a segment of x frames has floor((x - 1) / every) dithers, so n frames in k segments have at
        least n / every - k.
        """
        lengths, segments = self.runs_s(task, most)
        if not (every := self.rules.dither_every):
            return lengths
        frames = np.arange(1, len(lengths) + 1)
        dithers = np.maximum(0, -(-frames // every) - segments)
        open_s = frames * task.frame_s - task.tail_s + dithers * self.rules.dither_s
        return np.asarray(open_s + (segments - 1) * self.pause_s)

    def unbroken_place_s(self, task: Task, frame: int) -> int:
        """From a segment's first opening to that of this frame of it, which is counted from 0."""
        return self.segment_s(task, frame + 1) - task.shutter_s

    def places_s(self, task: Task, frame: int) -> tuple[int, int]:
        """Least and greatest time from a run's first opening to that of this frame, counted from 0.

        The frame opens soonest with as few focus runs before it as the cadence allows, and latest with one
        more, which a first segment of one frame brings.
        """
        if self.rules.focus_every_s is None:
            place_s = self.unbroken_place_s(task, frame)
            return place_s, place_s
        fewest = int(self.fewest_segments(task, np.array(frame + 1))) - 1
        most = max(fewest, 1 + (frame - 1) // max(1, self.later_segment_most(task)) if frame else 0)
        every, dither_s = self.rules.dither_every, self.rules.dither_s
        most_dithers = frame // every if every else 0
        least_dithers = max(0, -(-frame // every) - most - 1) if every else 0
        return (
            frame * task.frame_s + fewest * self.pause_s + least_dithers * dither_s,
            frame * task.frame_s + most * self.pause_s + most_dithers * dither_s,
        )
