"""Headers of thousands of frames read by darkfill and by `astropy.io.fits.getheader`, one after the other.

    python -m benchmarks.fits_headers [--files N] [--rounds N]

Each file has 65 keywords, as a camera's program writes them, and a few pixels: headers are all that is read.
darkfill walks the folder, reads, checks sizes and makes frames of what it reads; getheader is given the paths
and reads alone. The disk's cache is warm. Compare within one run only. Prints a table and keeps it, and the
raw figures as JSON, under benchmarks/results/.
"""

from __future__ import annotations

import argparse
import datetime as dt
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.surroundings import RESULTS, keep, load, surroundings
from optimizer.tally.folder import read_folder
from optimizer.tally.frames import Frame

TARGET = 2 / 3  # of getheader's time
CARDS = 65
BEGIN = dt.datetime(2026, 11, 14, 18, tzinfo=dt.UTC)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--files", type=int, default=5000)
    arguments.add_argument("--rounds", type=int, default=3)
    wanted = arguments.parse_args()
    figures = {"files": wanted.files, "cards": CARDS, **surroundings(("astropy", "numpy"))}
    with tempfile.TemporaryDirectory() as folder:
        paths = write_frames(Path(folder), wanted.files)
        rounds = [one_round(Path(folder), paths) for _ in range(wanted.rounds)]
    figures |= {"load_after": load(), "rounds": rounds}
    text = "\n".join(table(rounds))
    print(text)
    (RESULTS / "fits-headers.md").write_text(text + "\n", encoding="utf-8")
    keep("fits-headers.json", figures)


def write_frames(folder: Path, count: int) -> list[Path]:
    """Write so many frames of four filters, 500 in a subfolder, each begun at a time of its own."""
    from astropy.io import fits

    paths: list[Path] = []
    patterns: list[bytes] = []
    for index in range(count):
        if index % 500 == 0:
            evening = folder / f"night-{index // 500:03}"
            evening.mkdir()
        if index < 4:
            header = fits.Header()
            header["SIMPLE"], header["BITPIX"], header["NAXIS"] = True, 16, 2
            header["NAXIS1"], header["NAXIS2"] = 8, 8
            header["OBJECT"], header["IMAGETYP"] = "Cradle Nebula", "Light Frame"
            header["FILTER"] = ("L", "Ha", "OIII", "SII")[index]
            header["EXPTIME"], header["DATE-OBS"] = 300.0, BEGIN.isoformat()[:19] + ".000"
            header["RA"], header["DEC"], header["GAIN"], header["OFFSET"] = 52.29, 31.31, 100, 30
            header["XBINNING"], header["YBINNING"], header["PIERSIDE"] = 1, 1, "EAST"
            for number in range(CARDS - len(header)):
                header[f"CAMERA{number:02}"] = (number / 7, "whatever a program tells of its camera")
            patterns.append(header.tostring().encode() + bytes(2880))
        begun = BEGIN + dt.timedelta(seconds=300 * index)
        text = patterns[index % 4].replace(BEGIN.isoformat()[:19].encode(), begun.isoformat()[:19].encode())
        path = evening / f"sub_{index:05}.fits"
        path.write_bytes(text)
        paths.append(path)
    return paths


def one_round(folder: Path, paths: list[Path]) -> dict[str, Any]:
    """Seconds of both on the same files; what they read is compared, so neither can leave work out."""
    from astropy.io import fits

    began = time.perf_counter()
    frames = list(read_folder(folder))
    ours_s = time.perf_counter() - began
    began = time.perf_counter()
    headers = [fits.getheader(path) for path in paths]
    theirs_s = time.perf_counter() - began
    for frame, path, header in zip(frames, paths, headers, strict=True):
        assert isinstance(frame, Frame), frame
        told = (frame.path, frame.object, frame.filter, frame.exposure_s, frame.date_obs)
        assert told == (path, *(header[key] for key in ("OBJECT", "FILTER", "EXPTIME", "DATE-OBS"))), frame
    return {
        "ours_s": round(ours_s, 3),
        "getheader_s": round(theirs_s, 3),
        "ratio": round(ours_s / theirs_s, 4),
    }


def table(rounds: list[dict[str, Any]]) -> list[str]:
    """One row a round, then the median ratio."""
    lines = ["| darkfill s | getheader s | ratio |", "|---|---|---|"]
    lines += [
        f"| {each['ours_s']:.2f} | {each['getheader_s']:.2f} | {each['ratio']:.2f} |" for each in rounds
    ]
    ratio = statistics.median(each["ratio"] for each in rounds)
    lines.append(f"\nratio in the median {ratio:.2f}; at most {TARGET:.2f} is wanted")
    return lines


if __name__ == "__main__":
    main()
