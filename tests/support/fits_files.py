"""FITS files for tests: whole ones by astropy, and broken ones byte by byte."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

BLOCK = 2880
# What a camera's program writes beside what the standard asks for.
LIGHT: Mapping[str, Any] = {
    "OBJECT": "Cradle Nebula",
    "IMAGETYP": "Light Frame",
    "FILTER": "Ha",
    "EXPTIME": 300.0,
    "DATE-OBS": "2026-11-14T20:31:05.123",
    "RA": 52.297,
    "DEC": 31.31,
    "GAIN": 100,
    "OFFSET": 30,
    "XBINNING": 1,
    "YBINNING": 1,
    "PIERSIDE": "WEST",
}


def write_frame(path: Path, cards: Mapping[str, Any] = LIGHT, pixels: int = 8) -> Path:
    """Write a square image of 16-bit pixels with these keywords, by astropy; its name says how it is packed."""
    import numpy as np
    from astropy.io import fits

    header = fits.Header()
    for key, value in cards.items():
        header[key] = value
    path.parent.mkdir(parents=True, exist_ok=True)
    image = fits.PrimaryHDU(np.arange(pixels**2, dtype=np.int16).reshape(pixels, pixels), header)
    if path.suffix.lower() == ".fz":
        packed = fits.CompImageHDU(image.data, header, compression_type="RICE_1")
        fits.HDUList([fits.PrimaryHDU(), packed]).writeto(path)
    else:
        image.writeto(path)
    return path


def raw_frame(*cards: str | bytes, image: bool = True, data: bytes | None = None) -> bytes:
    """Put together a file of card images as they are given, the mandatory ones of an 8 × 8 image before them."""
    mandatory = (
        "SIMPLE  =                    T",
        "BITPIX  =                   16",
        "NAXIS   =                    2",
    )
    axes = tuple(f"NAXIS{axis}  =                    8" for axis in (1, 2))
    images = [*(mandatory + axes if image else ()), *cards, "END"]
    header = b"".join((card.encode() if isinstance(card, str) else card).ljust(80) for card in images)
    return header.ljust(-(-len(header) // BLOCK) * BLOCK) + (bytes(BLOCK) if data is None else data)
