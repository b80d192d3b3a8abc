"""Files by evening: names, older plans of the same evening, other evenings, and which evening tonight is."""

from __future__ import annotations

import contextlib
import datetime as dt
import itertools
import re
from collections.abc import Callable
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

import pytest

from optimizer import load
from optimizer.cli.plan_files import PlanFiles
from optimizer.errors import OutputError
from optimizer.export import atomic
from optimizer.export.atomic import write_beside_older
from optimizer.export.json_file import read_json
from optimizer.export.shot_files import night_name, page_path, shot_paths
from optimizer.models.site import Night, evening_at, night_span
from optimizer.reading import evening
from tests.support.cli_cases import CLEAR, content, darkfill, request

NAMES = [f"request.2026-11-14.{ending}" for ending in ("shots.json", "shots.csv", "html")]
FIRST = dict(zip(NAMES, (b"first list", b"first table", b"first page"), strict=True))
FEWER = ("frames = 50", "frames = 3")
RENAMED = "renamed older files of the same evening: "


def left(folder: Path) -> dict[str, bytes]:
    """All but the request."""
    return {name: held for name, held in content(folder).items() if name != "request.toml"}


def older(held: dict[str, bytes], number: str = "") -> dict[str, bytes]:
    return {f"{name}.old{number}": each for name, each in held.items()}


# --- names -------------------------------------------------------------------------------------------------


def test_stem_with_dots_is_kept_whole() -> None:
    name = night_name(Path("plans/tonight.v2.toml"), dt.date(2026, 11, 4))
    paths = shot_paths(Path("out"), name)
    assert [path.name for path in (*paths, page_path(paths[0]))] == [
        "tonight.v2.2026-11-04.shots.json",
        "tonight.v2.2026-11-04.shots.csv",
        "tonight.v2.2026-11-04.html",
    ]
    assert page_path(Path("2026-11-04.shots.csv")).name == "2026-11-04.html"


def test_names_are_good_on_windows_too(tmp_path: Path) -> None:
    """None of the characters that it refuses, no blank or dot at the end; a drive's colon would be a path."""
    path = request(tmp_path)
    for _ in range(3):
        assert darkfill("plan", path, "--page").code == 0
    names = left(tmp_path)
    assert len(names) == 9
    for name in names:
        assert re.fullmatch(r"[a-z0-9.-]+[a-z0-9]", name)
        assert PureWindowsPath(name).name == PurePosixPath(name).name == name


# --- a second plan of the same evening ---------------------------------------------------------------------


def test_second_plan_keeps_the_first_one_byte_for_byte_and_says_so_in_one_line(tmp_path: Path) -> None:
    path = request(tmp_path)
    plain = darkfill("plan", path, "--page")
    assert RENAMED not in plain.stderr
    first = left(tmp_path)
    assert sorted(first) == sorted(NAMES)
    request(tmp_path, FEWER)
    ran = darkfill("plan", path, "--page")
    assert ran.code == 0
    assert ran.stderr.splitlines() == [
        f"{RENAMED}{NAMES[0]}.old, {NAMES[1]}.old and {NAMES[2]}.old",
        *(f"wrote {tmp_path / name}" for name in NAMES),
    ]
    both = left(tmp_path)
    second = {name: both[name] for name in NAMES}
    assert both == {**second, **older(first)}
    assert all(second[name] != first[name] for name in NAMES)
    assert read_json(tmp_path / NAMES[0]).steps
    assert darkfill("plan", path, "--page").code == 0
    three = left(tmp_path)
    assert {name: held for name, held in three.items() if ".old" in name} == older(first) | older(
        second, ".2"
    )


def test_page_of_the_older_plan_is_not_left_beside_the_new_one(tmp_path: Path) -> None:
    """It tells other steps; with or without a page of its own the new plan puts it aside."""
    path = request(tmp_path)
    darkfill("plan", path, "--page")
    first = left(tmp_path)
    ran = darkfill("plan", path)
    assert sorted(left(tmp_path)) == sorted([*NAMES[:2], *older(first)])
    assert f"and {NAMES[2]}.old\n" in ran.stderr


def test_files_of_one_plan_get_one_number(tmp_path: Path) -> None:
    path = request(tmp_path)
    (tmp_path / f"{NAMES[2]}.old").write_text("a page alone")
    darkfill("plan", path)
    first = left(tmp_path)
    darkfill("plan", path)
    kept = {name: held for name, held in left(tmp_path).items() if ".old" in name}
    page = f"{NAMES[2]}.old"
    assert kept == {page: first.pop(page), **older(first, ".2")}


def test_another_evening_touches_none_of_it(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, ""), ("frames = 50", "frames = 2"))
    darkfill("plan", path, "--page")
    darkfill("plan", path)
    before = left(tmp_path)
    ran = darkfill("plan", path, "--evening", "2026-11-15", "--page")
    assert ran.code == 0
    assert RENAMED not in ran.stderr
    after = left(tmp_path)
    new = [name.replace("11-14", "11-15") for name in NAMES]
    assert {name: held for name, held in after.items() if name not in new} == before
    assert read_json(tmp_path / new[0]).request.night.evening == dt.date(2026, 11, 15)


def test_relief_of_the_same_run_is_no_second_plan(tmp_path: Path) -> None:
    path = request(tmp_path, ("frames = 50", "frames = 500"))
    ran = darkfill("plan", path, "--relief", "--page")
    assert sorted(left(tmp_path)) == sorted(NAMES)
    assert RENAMED not in ran.stderr
    assert read_json(tmp_path / NAMES[0]).unplanned[0].relief is not None


def test_link_goes_on_leading_to_the_newest_list(tmp_path: Path) -> None:
    """Some put the list where their acquisition software looks for it."""
    (tmp_path / "shared").mkdir()
    path = request(tmp_path)
    darkfill("plan", path)
    aim = tmp_path / "shared" / "list.json"
    (tmp_path / NAMES[0]).rename(aim)
    (tmp_path / NAMES[0]).symlink_to(aim)
    first = aim.read_bytes()
    assert darkfill("plan", request(tmp_path, FEWER)).code == 0
    assert (tmp_path / NAMES[0]).is_symlink()
    assert aim.read_bytes() != first
    assert (tmp_path / f"{NAMES[0]}.old").read_bytes() == first


class Died(BaseException):
    """The process is gone: from here on it changes nothing any more."""


@pytest.mark.parametrize("links", [True, False], ids=["hard links", "no hard links"])
def test_at_every_moment_the_older_list_is_whole_under_one_of_its_names(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whenever the process dies, be it in the middle of tidying up."""
    if not links:
        monkeypatch.setattr(Path, "hardlink_to", unsupported)
    outcomes: list[dict[str, bytes]] = []
    for changes in range(40):
        folder = tmp_path / str(changes)
        folder.mkdir()
        for name, held in FIRST.items():
            (folder / name).write_bytes(held)
        with monkeypatch.context() as patched, contextlib.suppress(Died):
            dies_after(changes, patched)
            write_beside_older({folder / name: b"second" for name in NAMES[:2]}, [folder / NAMES[2]])
            break
        held = {name: each for name, each in content(folder).items() if not name.startswith(".darkfill-")}
        outcomes.append(held)
        for name, each in FIRST.items():
            assert each in (held.get(name), held.get(f"{name}.old")), changes
        assert all(held[name] in (b"second", FIRST[name]) for name in NAMES[:2])
    assert content(folder) == {**dict.fromkeys(NAMES[:2], b"second"), **older(FIRST)}
    assert outcomes[0] == FIRST
    assert {**outcomes[-1], NAMES[1]: b"second"} == content(folder)


def unsupported(*_: object) -> None:
    raise OSError(95, "Operation not supported")


def dies_after(changes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let so many calls change the folder and no more."""
    done = itertools.count()
    linking = [] if Path.hardlink_to is unsupported else [(Path, "hardlink_to")]
    for holder, name in [
        (Path, "replace"),
        (Path, "rename"),
        (Path, "unlink"),
        (atomic, "_write_new"),
        *linking,
    ]:
        right: Callable[..., Any] = getattr(holder, name)

        def counted(*args: Any, right: Callable[..., Any] = right, **kwargs: Any) -> Any:
            if next(done) >= changes:
                raise Died
            return right(*args, **kwargs)

        monkeypatch.setattr(holder, name, counted)


@pytest.mark.parametrize("links", [True, False], ids=["hard links", "no hard links"])
def test_group_that_cannot_be_written_leaves_all_as_it_was(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, held in FIRST.items():
        (tmp_path / name).write_bytes(held)
    if not links:
        monkeypatch.setattr(Path, "hardlink_to", unsupported)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic, "write_group", full)
    with pytest.raises(OutputError, match="the disk is full"):
        write_beside_older(
            {tmp_path / NAMES[0]: b"second", tmp_path / NAMES[1]: b"second"}, [tmp_path / NAMES[2]]
        )
    assert content(tmp_path) == FIRST


def test_interrupt_once_the_new_list_stands_does_not_drop_the_older_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a program of one's own Ctrl-C is thrown at any place, here right after the group was written."""
    (tmp_path / NAMES[0]).write_bytes(b"first")
    right = atomic.write_group

    def interrupted(*args: dict[Path, bytes]) -> None:
        right(*args)
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic, "write_group", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_beside_older({tmp_path / NAMES[0]: b"second"})
    assert content(tmp_path) == {NAMES[0]: b"second", f"{NAMES[0]}.old": b"first"}


def test_what_cannot_be_written_is_found_before_anything_is_renamed(tmp_path: Path) -> None:
    for name in NAMES[:2]:
        (tmp_path / name).write_text("mine")
    (tmp_path / NAMES[1]).chmod(0o444)
    before = content(tmp_path)
    with pytest.raises(OutputError, match="write-protected"):
        PlanFiles(tmp_path, "request.2026-11-14", with_page=False)
    with pytest.raises(OutputError, match="write-protected"):
        write_beside_older({tmp_path / name: b"new" for name in NAMES[:2]})
    assert content(tmp_path) == before


# --- tonight -----------------------------------------------------------------------------------------------

MADRID, SYDNEY, PHOENIX = (-3.11, "Europe/Madrid"), (149.1, "Australia/Sydney"), (-112.0, "America/Phoenix")


@pytest.mark.parametrize(
    ("place", "local", "expected"),
    [
        (MADRID, "2026-11-14T11:59:59+01:00", "2026-11-13"),
        (MADRID, "2026-11-14T12:00:00+01:00", "2026-11-14"),
        (MADRID, "2026-11-14T23:59:59+01:00", "2026-11-14"),
        (MADRID, "2026-11-15T00:00:00+01:00", "2026-11-14"),
        (MADRID, "2027-01-01T01:20:00+01:00", "2026-12-31"),
        (PHOENIX, "2026-11-14T11:59:59-07:00", "2026-11-13"),
        (PHOENIX, "2026-11-14T12:00:00-07:00", "2026-11-14"),
        (PHOENIX, "2026-11-15T00:00:00-07:00", "2026-11-14"),
        (SYDNEY, "2026-12-24T12:00:00+11:00", "2026-12-24"),
        (SYDNEY, "2026-12-25T00:00:00+11:00", "2026-12-24"),
        (SYDNEY, "2026-12-25T11:59:59+11:00", "2026-12-24"),
        # the clock is put forward at 02:00 on 2026-03-29, and back at 03:00 on 2026-10-25
        (MADRID, "2026-03-29T01:59:59+01:00", "2026-03-28"),
        (MADRID, "2026-03-29T03:00:00+02:00", "2026-03-28"),
        (MADRID, "2026-03-29T11:59:59+02:00", "2026-03-28"),
        (MADRID, "2026-03-29T12:00:00+02:00", "2026-03-29"),
        (MADRID, "2026-10-25T02:59:59+02:00", "2026-10-24"),
        (MADRID, "2026-10-25T02:00:00+01:00", "2026-10-24"),
        (MADRID, "2026-10-25T11:59:59+01:00", "2026-10-24"),
        (MADRID, "2026-10-25T12:00:00+01:00", "2026-10-25"),
    ],
)
def test_tonight_lasts_from_noon_to_noon_in_the_site_s_zone(
    place: tuple[float, str], local: str, expected: str
) -> None:
    """Whatever zone the instant itself is given in."""
    now = dt.datetime.fromisoformat(local)
    for instant in (now, now.astimezone(dt.UTC)):
        assert evening_at(instant, *place).isoformat() == expected


@pytest.mark.parametrize("longitude_deg", [-170.0, -120.0, -60.0, 0.0, 60.0, 120.0, 149.1, 175.0])
@pytest.mark.parametrize("hour", range(24))
def test_tonight_is_never_over_even_in_a_zone_far_from_the_site_s_own(
    longitude_deg: float, hour: int
) -> None:
    """Whoever gives no time zone has UTC, in which 20:00 in Australia is the morning."""
    now = dt.datetime(2026, 11, 14, hour, 30, tzinfo=dt.UTC)
    asked = Night(evening=evening_at(now, longitude_deg, "UTC"))
    begin, end = night_span(asked, longitude_deg, "UTC")
    assert begin - dt.timedelta(hours=12) <= now < end


@pytest.mark.parametrize(
    ("now", "line", "date"),
    [
        ("2026-11-14T20:30:00+01:00", "tonight: the night of 2026-11-14, as it is 20:30 at Heron Flat", "14"),
        (
            "2026-11-15T01:20:00+01:00",
            "tonight: the night of 2026-11-14, as it is 01:20 at Heron Flat, from 12:00 on that of 2026-11-15",
            "14",
        ),
    ],
)
def test_plan_of_tonight_tells_the_evening_and_names_its_files_by_it(
    now: str, line: str, date: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime.fromisoformat(now).astimezone(dt.UTC))
    path = request(tmp_path, ("evening = 2026-11-14", "evening = 2026-03-01"))
    ran = darkfill("plan", path, "--evening", "tonight")
    assert ran.code == 0
    assert ran.stderr.splitlines()[0] == line
    assert ran.stdout.startswith(f"Night of 2026-11-{date} at Heron Flat\n")
    assert sorted(left(tmp_path)) == sorted(f"request.2026-11-{date}.shots.{end}" for end in ("json", "csv"))


@pytest.mark.parametrize("command", ["flip", "windows", "sides"])
def test_other_commands_know_tonight_as_well(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(2026, 11, 14, 20, tzinfo=dt.UTC))
    path = request(tmp_path, ("evening = 2026-11-14", "evening = 2026-03-01"))
    ran = darkfill(command, path, "--evening", "tonight")
    assert ran.stderr.splitlines()[0] == "tonight: the night of 2026-11-14, as it is 21:00 at Heron Flat"
    assert ran.stdout == darkfill(command, path, "--evening", "2026-11-14").stdout


def test_tonight_is_a_word_for_python_too_and_needs_no_evening_in_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(2026, 11, 15, 10, 59, tzinfo=dt.UTC))
    path = request(tmp_path, ("evening = 2026-11-14\n", ""))
    assert load(path, evening="tonight").request.night.evening == dt.date(2026, 11, 14)


def test_request_whose_zone_is_wrong_is_told_that_alone(tmp_path: Path) -> None:
    path = request(tmp_path, ("Europe/Madrid", "Europe/Madrit"))
    ran = darkfill("plan", path, "--evening", "tonight")
    assert ran.code == 2
    (line,) = ran.stderr.splitlines()
    assert "time_zone" in line


def test_computer_whose_clock_was_never_set_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A small computer at the mount without a network begins in 1970."""
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(1970, 1, 1, 20, tzinfo=dt.UTC))
    ran = darkfill("plan", request(tmp_path), "--evening", "tonight")
    assert ran.code == 2
    assert "--evening" in ran.stderr
    assert "1970" in ran.stderr
    assert "the year is out of reach" in ran.stderr
