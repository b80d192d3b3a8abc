"""The benchmark of a watched folder watches what it says it watches."""

import os
from pathlib import Path

from benchmarks.fits_headers import write_frames
from benchmarks.follow import one_round, table


def test_each_round_finds_the_folder_as_it_was(tmp_path: Path) -> None:
    paths = write_frames(tmp_path, 502)
    for path in paths:
        os.utime(path, (0, 0))
    rounds = [one_round(tmp_path, paths) for _ in range(2)]
    assert all(each["to_anew"] > 0 < each["to_stats"] for each in rounds)
    assert sorted(tmp_path.rglob("*.fits")) == sorted(paths)
    assert table([{**rounds[0], "to_anew": 0.03}])[-1].startswith("\nquiet / anew in the median 0.030;")
