"""What a folder holds to learn from, and what the header of a damaged file tells all the same."""

from __future__ import annotations

import gzip
import os
from pathlib import Path

import pytest

from optimizer.learn.found import found_in
from optimizer.tally.folder import read_folder, told_all_the_same
from optimizer.tally.frames import Damaged, Frame
from tests.support.fits_files import BLOCK, raw_frame, write_frame
from tests.support.tally_cases import request_of

LONG_AGO = 1_700_000_000
WHOLE = raw_frame("OBJECT  = 'Cradle Nebula'", "FILTER  = 'L       '", "EXPTIME =                120.0")


def damaged(path: Path, content: bytes) -> Damaged:
    path.write_bytes(content)
    os.utime(path, (LONG_AGO, LONG_AGO))
    (found,) = read_folder(path.parent)
    assert isinstance(found, Damaged), found
    return found


@pytest.mark.parametrize("name", ["a.fits", "a.fits.gz"])
def test_the_header_of_a_file_cut_short_tells_its_sub(name: str, tmp_path: Path) -> None:
    content = WHOLE[:-BLOCK]
    found = damaged(tmp_path / name, gzip.compress(content) if name.endswith("gz") else content)
    assert found.fault == "cut_short"
    frame = told_all_the_same(found)
    assert isinstance(frame, Frame)
    assert (frame.object, frame.filter, frame.exposure_s) == ("Cradle Nebula", "L", 120)
    assert frame.path == tmp_path / name


@pytest.mark.parametrize(
    "content",
    [WHOLE[:100], b"no image at all, but text" * 200, gzip.compress(WHOLE[:100], mtime=0)],
    ids=["cut short", "text", "packed"],
)
def test_a_file_without_a_whole_header_tells_nothing(content: bytes, tmp_path: Path) -> None:
    assert told_all_the_same(damaged(tmp_path / "a.fits", content)) is None


def test_a_file_that_has_gone_meanwhile_tells_nothing(tmp_path: Path) -> None:
    found = damaged(tmp_path / "a.fits", WHOLE[:-BLOCK])
    found.path.unlink()
    assert told_all_the_same(found) is None
    found.path.mkdir()
    assert told_all_the_same(found) is None


def test_each_file_is_counted_as_what_it_is(tmp_path: Path) -> None:
    light = {"OBJECT": "Cradle Nebula", "IMAGETYP": "Light Frame", "FILTER": "L", "EXPTIME": 120.0}
    taken = {"DATE-OBS": "2026-11-14T23:10:00"}
    write_frame(tmp_path / "light.fits", {**light, **taken})
    write_frame(tmp_path / "dark.fits", {**light, **taken, "IMAGETYP": "Dark Frame"})
    write_frame(tmp_path / "other.fits", {**light, **taken, "EXPTIME": 30.0})
    (tmp_path / "broken.fits").write_bytes(b"no header at all")
    told: list[tuple[int, int]] = []
    found = found_in(tmp_path, request_of(), lambda *each: told.append(each))
    assert (found.files, found.subs, found.calibration) == (4, 1, 1)
    assert [(path.name, "goals of target" in why) for path, why in found.unmatched] == [("other.fits", True)]
    assert [each.path.name for each, _ in found.damaged] == ["broken.fits"]
    assert [frame.path.name for frame in found.frames] == ["dark.fits", "light.fits", "other.fits"]
    assert told[-1] == (4, 4)
