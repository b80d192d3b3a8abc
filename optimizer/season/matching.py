"""Is a season a request's own, and still fit for tonight? Another request's is refused, a stale one told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from fractions import Fraction

from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.models.season import SeasonFile, kept_of, request_sha256
from optimizer.models.targets import goal_key
from optimizer.season.tonight import InView
from optimizer.words import listing, quoted, safe

ANEW = "plan the season anew with darkfill season"
OLD_NIGHTS = 14  # nights since its first one, after which a season's values deserve a word
MOST_NAMED = 3


def in_view(
    season: SeasonFile, request: Request, file: str = "the season", rig: str = ""
) -> tuple[InView, tuple[str, ...]]:
    """Take a request's night in view of a season, and say what is worth a second look, one line each.

    `file` names the season in messages; `rig` is the name of a request's rig that gives none. Raises
    InputError where the season is another request's, or the evening is not one of its rig's nights.
    """
    file = safe(file)
    own = _own_rig(season, request, file, request.rig or rig)
    evening = request.night.evening.isoformat()
    evenings = [night.evening for night in season.nights if night.rig == season.rigs[own].name]
    if evening not in evenings:
        span = f"from {evenings[0]} to {evenings[-1]}" if len(evenings) > 1 else f"of {evenings[0]} alone"
        what = f"the evening of {evening} is none of the season's, which is {span}"
        raise InputError([InputProblem(file, "", what, f"{ANEW}, or name an evening of it")])
    view = InView(season, request, own)
    return view, tuple(f"{file}: {each}" for each in _doubts(view))


def _own_rig(season: SeasonFile, request: Request, file: str, name: str) -> int:
    """The number of a request's rig: the only one, that of its name, or the only one with this request."""
    own = request_sha256(request)
    named = [number for number, rig in enumerate(season.rigs) if rig.name == name]
    found = [0] if len(season.rigs) == 1 else named
    if found and season.rigs[found[0]].request_sha256 != own:
        raise InputError([_another(season.rigs[found[0]].request, request, file)])
    found = found or [number for number, rig in enumerate(season.rigs) if rig.request_sha256 == own]
    if len(found) == 1:
        return found[0]
    whose = f"named {quoted(name)}" if name else "without a name"
    rigs = listing((quoted(safe(rig.name)) for rig in season.rigs), "and", most=MOST_NAMED)
    what = f"this season is of the rigs {rigs}, and this request is of a rig {whose}"
    remedy = 'name the rig in the request, like rig = "north", or name the season of this request'
    raise InputError([InputProblem(file, "", what, remedy)])


def _another(planned: Request, request: Request, file: str) -> InputProblem:
    """Say by what the request of a season, as it was planned, is another one."""
    own, other = kept_of(planned), kept_of(request)
    names = [[target["name"] for target in data["targets"]] for data in (own, other)]
    added = [name for name in names[1] if name not in names[0]]
    gone = [name for name in names[0] if name not in names[1]]
    parts = [
        f"{word} {listing(map(safe, those), 'and', most=MOST_NAMED)}"
        for word, those in (("lacks", added), ("has besides", gone))
        if those
    ]
    if parts:
        what = f"it {' and '.join(parts)}"
    else:
        keys = [key for key in own if own[key] != other[key]]
        what = f"they differ in {listing(keys, 'and')}"
    message = f"this season was planned for another request: {what}"
    return InputProblem(file, "", message, f"{ANEW}, or name the season of this request")


def _doubts(view: InView) -> Iterator[str]:
    """What makes a season old: more subs came in hand than a night brings, or its values are of long ago."""
    season, request = view.season, view.request
    then = {goal_key(target, goal): goal.done for target, goal in view.own.request.goals()}
    moved_s = sum(
        abs(goal.done - then[goal_key(target, goal)]) * Fraction(repr(goal.exposure_s))
        for target, goal in request.goals()
    )
    longest_s = max(night.dark_s for night in season.nights if night.rig == view.own.name)
    if moved_s > longest_s:
        moved = f"{float(moved_s) / 3600:.1f} h"
        yield (
            f"since the season was planned, what is in hand has changed by {moved} of open shutter, more "
            f"than its longest night is dark ({longest_s / 3600:.1f} h), so what it says of later nights is "
            f"out of date; {ANEW}"
        )
    gone = (request.night.evening - dt.date.fromisoformat(season.nights[0].evening)).days
    if view.by_values and gone > OLD_NIGHTS:
        yield f"what subs are worth is told for its first night, {gone} nights before this one; {ANEW}"
