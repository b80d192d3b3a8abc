"""The benchmark of headers reads what it says it reads."""

from pathlib import Path

from astropy.io import fits

from benchmarks.fits_headers import CARDS, one_round, table, write_frames


def test_frames_are_many_different_ones_and_both_readers_agree(tmp_path: Path) -> None:
    paths = write_frames(tmp_path, 502)
    headers = [fits.getheader(path) for path in (paths[0], paths[1], paths[500])]
    assert [len(header) for header in headers] == [CARDS] * 3
    assert len({header["DATE-OBS"] for header in headers}) == 3
    assert paths[500].parent != paths[0].parent
    told = one_round(tmp_path, paths)
    assert told["ratio"] > 0
    assert table([{"ours_s": 1.0, "getheader_s": 4.0, "ratio": 0.25}] * 3)[-1].startswith(
        "\nratio in the median 0.25;"
    )
