"""The keys of a request to change by what was learned: which, and from what to what."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace

from optimizer.learn.acts import ActName, Learned, LearnedAct
from optimizer.models.request import Request
from optimizer.words import number, unit_of

TENTHS = 1  # decimals of a number that is written: a plan counts whole seconds, rounded up
LEAST_S = 1.0  # a smaller difference changes no plan that counts whole seconds
LEAST_RUN_S = 0.1  # of an autofocus, whose length must be above 0
FILTERS = "filters"


@dataclass(frozen=True)
class Change:
    """A key of the request whose number differs from what was measured, in seconds.

    `key` is like `camera.dither_s`; for `filters.change_s` `filter` is the filter's name, else None. `count`
    is how many times the act was seen. `together` are the acts of which only the sum is known, and for all of
    which the key then stands; empty where the act is known by itself.
    """

    key: str
    old: float
    new: float
    count: int
    filter: str | None = None
    together: tuple[ActName, ...] = ()

    @property
    def unit(self) -> str:
        """The unit in words, as in messages."""
        return unit_of(self.key)

    @property
    def line(self) -> str:
        """The line as a TOML file has it: `dither_s = 14.5`."""
        return f"{self.key.rpartition('.')[2]} = {number(self.new)}"


def changes_of(request: Request, learned: Learned) -> tuple[Change, ...]:
    """The keys to change: those whose act surely takes longer or shorter than planned, by a second or more.

    What a sub takes beside its exposure goes to `overhead_s` as far as it is more than the download, what a
    slew takes beyond the planned motion of the axes to `centre_s`. A flip's numbers are never changed. Acts
    that are known only together get one key changed for all of them, if they surely take longer.
    """
    alone = tuple(_changes(request, learned))
    return (*alone, *_together(request, learned, {each.key for each in alone}))


def sure(act: LearnedAct | None) -> bool:
    """Whether an act surely takes longer or shorter than planned, by so much that it matters."""
    if act is None or not act.known or act.longer_s is None:
        return False
    if act.longer_from_s is None or act.longer_to_s is None:
        return False
    return abs(act.longer_s) >= LEAST_S and (act.longer_from_s > 0 or act.longer_to_s < 0)


def _changes(request: Request, learned: Learned) -> Iterator[Change]:
    camera = request.camera
    slew = learned.of("slew")
    if slew is not None and sure(slew):
        old = request.mount.centre_s
        yield from _change("mount.centre_s", old, max(0.0, old + (slew.longer_s or 0.0)), slew)
    between = learned.of("between_subs")
    if between is not None and sure(between):
        over = rounded((between.median_s or 0.0) - camera.download_s)
        if over < 0:
            download = max(0.0, between.median_s or 0.0)
            yield from _change("camera.download_s", camera.download_s, download, between)
        yield from _change("camera.overhead_s", camera.overhead_s, max(0.0, over), between)
    for key, old, act in (
        ("camera.dither_s", camera.dither_s, learned.of("dither")),
        ("focus.run_s", request.focus.run_s, learned.of("focus")),
    ):
        if act is not None and sure(act):
            yield from _change(key, old, act.median_s or 0.0, act)
    for each in request.filters:
        act = _filter_act(request, learned, each.name)
        if act is not None and sure(act):
            yield from _change("filters.change_s", each.change_s, act.median_s or 0.0, act, each.name)


def _together(request: Request, learned: Learned, taken: Collection[str]) -> Iterator[Change]:
    """The changes for acts of which only the sum is known; the sum seen most often goes first.

    The plan is then right where the acts come together, whichever of them it is that takes longer. It is
    never made shorter: where one of them comes by itself that might be too short.
    """
    told: set[ActName] = set()
    for each in sorted(learned.sums, key=lambda row: -row.count):
        key = _key_of_sum(each, learned)
        if key is None or key in taken or not sure(each) or told & set(each.acts):
            continue
        if (each.longer_s or 0.0) <= 0 or any(_known_alone(learned, act) for act in each.acts):
            continue
        told |= set(each.acts)
        taken = {*taken, key}
        table, _, leaf = key.partition(".")
        old = float(getattr(getattr(request, table), leaf))
        for change in _change(key, old, old + (each.longer_s or 0.0), each):
            yield replace(change, together=each.acts)


def _key_of_sum(row: LearnedAct, learned: Learned) -> str | None:
    """The key that can take what some acts take longer together; None where no key can."""
    acts = set(row.acts)
    if acts == {"between_subs", "dither"}:
        return "camera.dither_s"
    if len(acts) < 2 or not acts <= {"slew", "filter", "focus"}:
        return None
    flip = learned.of("flip")
    as_planned = flip is not None and flip.known and not (sure(flip) and (flip.longer_s or 0.0) > 0)
    if "slew" in acts and not as_planned:
        return "mount.centre_s"
    return "focus.run_s" if "focus" in acts else None  # a flip is centred like a slew, and takes no longer


def _known_alone(learned: Learned, act: ActName) -> bool:
    return any(row.known for row in learned.acts if row.acts == (act,))


def _filter_act(request: Request, learned: Learned, name: str) -> LearnedAct | None:
    """What tells of the changes to a filter: its own row or, where that is not known, the row of all filters.

    The latter only for a filter that was put in, and where all that were are planned alike.
    """
    own, every = learned.of("filter", name), learned.of("filter")
    if own is None or own.known or every is None:
        return own
    planned = {each.change_s for each in request.filters if learned.of("filter", each.name) is not None}
    return every if len(planned) == 1 else own


def _change(
    key: str, old: float, new: float, act: LearnedAct, filter_name: str | None = None
) -> Iterator[Change]:
    """The change of a key, unless it comes to the same number; an act of no length is one of a tenth."""
    new = rounded(max(new, LEAST_RUN_S if key == "focus.run_s" else 0.0))
    if new != old:
        yield Change(key, old, new, act.count, filter_name)


def rounded(seconds: float) -> float:
    """A learned length as it is written into a file."""
    return round(seconds, TENTHS)


def changed_request(request: Request, changes: Iterable[Change]) -> Request:
    """Return the request with the learned numbers in place of its own, and nothing else changed."""
    tables: dict[str, dict[str, float]] = {}
    filters = {each.filter: each.new for each in changes if each.filter is not None}
    for each in changes:
        if each.filter is None:
            table, _, leaf = each.key.partition(".")
            tables.setdefault(table, {})[leaf] = each.new
    updated: dict[str, object] = {
        table: getattr(request, table).model_copy(update=keys) for table, keys in tables.items()
    }
    if filters:
        updated[FILTERS] = tuple(
            each.model_copy(update={"change_s": filters[each.name]}) if each.name in filters else each
            for each in request.filters
        )
    return request.model_copy(update=updated)
