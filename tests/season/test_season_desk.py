"""A night is the same from wherever it comes: prepared, from the disk, or from memory."""

from __future__ import annotations

import datetime as dt
import os
import pickle
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from optimizer.models.request import Request
from optimizer.problem import Limits
from optimizer.reading.load import request_from_data
from optimizer.season import desk as module
from optimizer.season.asked import without_counts
from optimizer.season.desk import Desk, NightRef, NightsOf, blocks_of, only_rig
from optimizer.season.kept.cache import Cache
from optimizer.season.kept.content_key import content_key
from optimizer.season.kept.stored import NotStoredError, loaded, stored
from optimizer.season.prepared import PreparedNight, prepare
from optimizer.season.pricing import Prices, price
from optimizer.season.projects import projects_of
from tests.support.scenarios.small import small_night

AIMS = ["hours", "depth"]


def request_of(aim: str, seed: int = 3) -> Request:
    data = small_night(seed)
    data["aim"] |= {"value": aim}
    return request_from_data(data, "a small night")


def desk_of(request: Request, folder: Path | None = None) -> Desk:
    projects = projects_of(request)
    cache = None if folder is None else Cache(folder, pytest.fail)
    return Desk((only_rig(request, projects),), projects, cache)


def refs_of(request: Request, count: int) -> list[NightRef]:
    first = request.night.evening
    return [NightRef(0, first + dt.timedelta(days=number)) for number in range(count)]


def content_of(night: PreparedNight) -> tuple[bytes, ...]:
    profits = [each.profit_by_start for each in night.problem.tasks]
    parts = (
        night.problem,
        night.facts,
        night.clock,
        night.dark_s,
        night.moonless_dark_s,
        night.openings,
        profits,
    )
    return tuple(content_key(part) for part in parts)


@pytest.fixture
def nothing_prepared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "prepare", lambda *_: pytest.fail("a night was prepared again"))


@pytest.mark.parametrize("aim", AIMS)
def test_night_from_the_disk_is_the_one_that_was_prepared(
    aim: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    asked = request_of(aim)
    desk, refs = desk_of(asked, tmp_path), refs_of(asked, 2)
    fresh = [desk.night(ref) for ref in refs]
    request.getfixturevalue("nothing_prepared")
    kept = [desk_of(asked, tmp_path).night(ref) for ref in refs]
    plain = [prepare(asked, ref.evening) for ref in refs]
    assert [*map(content_of, fresh)] == [*map(content_of, kept)] == [*map(content_of, plain)]
    count = len(asked.goals())
    prices, left = Prices(np.ones(count), np.zeros(count)), desk.projects.left
    found = [[price(night, prices, left, most=3) for night in each] for each in (fresh, kept, plain)]
    assert content_key(found[0]) == content_key(found[1]) == content_key(found[2])


@pytest.mark.usefixtures("nothing_prepared")
@pytest.mark.parametrize("aim", AIMS)
def test_counts_and_limits_leave_the_nights_that_are_kept(
    aim: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, evening = request_of(aim), refs_of(request_of(aim), 2)[1]
    with monkeypatch.context() as patch:
        patch.setattr(module, "prepare", prepare)
        desk_of(without_counts(asked), tmp_path).night(evening)
    targets = tuple(
        each.model_copy(update={"goals": tuple(goal.model_copy(update={"done": 1}) for goal in each.goals)})
        for each in asked.targets
    )
    other = asked.with_aim(gap=0.5, seed=7).model_copy(update={"targets": targets})
    night = desk_of(other, tmp_path).night(evening)
    assert night.problem.limits == Limits.of(other) != Limits.of(asked)
    assert [task.frames_left for task in night.problem.tasks] == [
        goal.frames for _, goal in sorted(asked.goals(), key=lambda each: each[0].name)
    ]


@pytest.mark.parametrize(
    "changes",
    [{"site": {"floor_deg": 31.0}}, {"aim": {"slack_s": 77}}, {"camera": {"download_s": 9.5}}],
    ids=lambda each: next(iter(each)),
)
def test_whatever_a_night_depends_on_makes_another_one(
    changes: dict[str, dict[str, object]], tmp_path: Path
) -> None:
    asked = request_of("hours")
    ref = refs_of(asked, 1)[0]
    desk_of(asked, tmp_path).night(ref)
    ((part, values),) = changes.items()
    other = asked.model_copy(update={part: getattr(asked, part).model_copy(update=values)})
    assert content_of(desk_of(other, tmp_path).night(ref)) == content_of(prepare(other, ref.evening))


def test_changed_program_prepares_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked, calls = request_of("hours"), list[dt.date]()

    def counted(request: Request, evening: dt.date) -> PreparedNight:
        calls.append(evening)
        return prepare(request, evening)

    monkeypatch.setattr(module, "prepare", counted)
    (ref,) = refs_of(asked, 1)
    for program in (b"one", b"one", b"other"):
        monkeypatch.setattr(module, "program_key", lambda program=program: program)
        desk_of(asked, tmp_path).night(ref)
    assert calls == [ref.evening] * 2


def test_damaged_night_is_prepared_anew(tmp_path: Path) -> None:
    asked = request_of("hours")
    (ref,) = refs_of(asked, 1)
    fresh = content_of(desk_of(asked, tmp_path).night(ref))
    cache = Cache(tmp_path, pytest.fail)
    assert cache._base is not None
    ((key,),) = cache._base.execute("SELECT key FROM kept").fetchall()
    cache.put(key, b"no night")
    assert content_of(desk_of(asked, tmp_path).night(ref)) == fresh


def test_memory_holds_so_much_and_no_more() -> None:
    asked = request_of("depth")
    desk, refs = desk_of(asked), refs_of(asked, 5)
    desk.most_bytes = 2 * desk.night(refs[0]).held_bytes
    desk.nights.clear()
    for ref in refs:
        desk.night(ref)
    desk.night(refs[3])
    assert list(desk.nights) == [refs[4], refs[3]]
    desk.most_bytes = 1
    desk.night(refs[0])
    assert list(desk.nights) == [refs[0]]


def test_threads_prepare_a_night_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked, calls = request_of("hours"), list[dt.date]()

    def counted(request: Request, evening: dt.date) -> PreparedNight:
        calls.append(evening)
        return prepare(request, evening)

    monkeypatch.setattr(module, "prepare", counted)
    desk, (ref,) = desk_of(asked), refs_of(asked, 1)
    found: list[PreparedNight] = []
    threads = [threading.Thread(target=lambda: found.append(desk.night(ref))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(calls) == 1
    assert len({id(night) for night in found}) == 1


def test_copy_of_a_desk_is_light() -> None:
    asked = request_of("hours")
    desk = desk_of(asked)
    before = len(pickle.dumps(desk))
    desk.night(refs_of(asked, 1)[0])
    copy = pickle.loads(pickle.dumps(desk))
    assert len(pickle.dumps(desk)) == before
    assert copy.key == desk.key
    assert not copy.nights


def test_nights_by_place() -> None:
    asked = request_of("hours")
    desk, refs = desk_of(asked), refs_of(asked, 3)
    nights = NightsOf(desk, refs)
    assert len(nights) == 3
    assert [night.evening for night in nights[1:]] == [ref.evening for ref in refs[1:]]
    assert nights[0] is desk.night(refs[0])


def test_blocks_are_of_one_size() -> None:
    refs = refs_of(request_of("hours"), 14)
    blocks = blocks_of(refs)
    assert [len(block) for block in blocks] == [6, 6, 2]
    assert [ref for block in blocks for ref in block] == refs


@pytest.mark.parametrize(
    "array",
    [
        np.arange(5000) ** 2,
        np.array([*range(2000), -(2**62), 2**62, 0]),
        np.array([-(2**63), 2**63 - 1] * 600),
        np.random.default_rng(1).integers(-(2**31), 2**31, 3000),
        np.zeros(1000, dtype=np.int64),
        np.arange(1000.0),
        np.arange(2000).reshape(2, 1000),
    ],
    ids=lambda each: f"{each.dtype}{each.shape}{each.flat[-1]}",
)
def test_arrays_come_back_as_they_were(array: NDArray[Any]) -> None:
    (back,) = loaded(stored((array,)))
    assert back.dtype == array.dtype
    assert np.array_equal(back, array)
    assert back.flags.c_contiguous


class _Calls:
    def __reduce__(self) -> tuple[object, ...]:
        return os.getpid, ()


def test_nothing_is_called_by_what_is_read() -> None:
    for value in (_Calls(), os.system, dt.datetime.now, prepare, pytest.fail, Path()):
        with pytest.raises(NotStoredError):
            loaded(pickle.dumps(value))
    for text in (b"cos\nsystem\n.", b"coptimizer.season.kept.stored\npickle.loads\n.", b"junk", b""):
        with pytest.raises(NotStoredError):
            loaded(text)
    dotted = b"\x80\x04\x8c\x1coptimizer.season.kept.stored\x94\x8c\x0cpickle.loads\x94\x93."
    with pytest.raises(NotStoredError, match="is not read"):
        loaded(dotted)
