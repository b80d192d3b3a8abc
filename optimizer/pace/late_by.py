"""What happens to a list if all of it runs late by so many minutes, from its begin or from a time on."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Literal

from optimizer.models.base import FromList, Frozen
from optimizer.models.shots import Step
from optimizer.models.site import Utc
from optimizer.pace.late import late_run, slack_by_step


class LateLeave(Frozen):
    """A flip or the park that would begin too late for the target that is tracked until then.

    `beyond_s` is by how many seconds it would begin after its latest start, if nothing were left out for it.
    """

    kind: Literal["flip", "park"]
    target: str
    planned_utc: Utc
    latest_utc: Utc
    begins_utc: Utc
    beyond_s: int


class LostSubs(Frozen):
    """Subs of one target and filter that a list loses if it runs late."""

    target: str
    filter: str
    exposure_s: float
    subs: int


class LateBy(Frozen):
    """How a list goes that runs late by `late_s` seconds from `from_utc` on.

    `subs` are those from there on, `subs_lost` those that must be skipped since their latest start has passed
    or their visit comes too late, in `lost` by target and filter. `in_danger` are the moves that would begin
    too late if nothing were skipped. `most_late_s` is how late the list may be there and still break and lose
    nothing; None where nothing of the rest can be too late.
    """

    late_s: int
    from_utc: Utc
    most_late_s: int | None
    subs: int
    subs_lost: int
    lost: Annotated[tuple[LostSubs, ...], FromList]
    in_danger: Annotated[tuple[LateLeave, ...], FromList]


def late_by(
    steps: Sequence[Step], late_s: int, *, by_mount: bool, from_utc: dt.datetime | None = None
) -> LateBy | None:
    """Run a list so many seconds late from the first step on that begins at `from_utc` or later.

    The steps must carry their latest starts. Waits take up what is late. `by_mount`: the mount flips by
    itself, and is on time however late the list is. None where no step begins so late.
    """
    place = next(
        (place for place, step in enumerate(steps) if from_utc is None or step.start_utc >= from_utc), None
    )
    if place is None:
        return None
    rest = steps[place:]
    run = late_run(rest, rest[0].start_utc + dt.timedelta(seconds=late_s))
    lost = Counter((step.target or "", step.filter or "", step.exposure_s or 0.0) for step in run.lost)
    return LateBy(
        late_s=late_s,
        from_utc=rest[0].start_utc,
        most_late_s=slack_by_step(rest, by_mount=by_mount)[0],
        subs=sum(step.kind == "expose" for step in rest),
        subs_lost=len(run.lost),
        lost=tuple(
            LostSubs(target=target, filter=filter_name, exposure_s=exposure_s, subs=subs)
            for (target, filter_name, exposure_s), subs in lost.items()
        ),
        in_danger=tuple(_in_danger(rest, late_s, by_mount=by_mount)),
    )


def _in_danger(steps: Sequence[Step], late_s: int, *, by_mount: bool) -> list[LateLeave]:
    """Flips and the park that begin after their latest start where all runs on as it is, but for waits."""
    found: list[LateLeave] = []
    late, target = late_s, ""
    for step in steps:
        target = step.target or target
        if step.kind == "wait":
            late = max(0, late - step.seconds)
        kind: Literal["flip", "park"] | None = (
            "park" if step.kind == "park" else "flip" if step.kind == "flip" and not by_mount else None
        )
        if kind is None or step.latest_start_utc is None:
            continue
        begins = step.start_utc + dt.timedelta(seconds=late)
        beyond_s = round((begins - step.latest_start_utc).total_seconds())
        if beyond_s > 0:
            found.append(
                LateLeave(
                    kind=kind,
                    target=target,
                    planned_utc=step.start_utc,
                    latest_utc=step.latest_start_utc,
                    begins_utc=begins,
                    beyond_s=beyond_s,
                )
            )
    return found
