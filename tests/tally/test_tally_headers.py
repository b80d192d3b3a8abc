"""Headers read from raw blocks say what `fits.getheader` says, and how long their file must be."""

from __future__ import annotations

import contextlib
import gzip
import io
import math
import string
import warnings
from pathlib import Path

import astropy
import numpy as np
import pytest
from astropy.io import fits
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.tally.fields import WANTED
from optimizer.tally.fits_header import Header, Unusable, Value, read_header
from tests.support.fits_files import LIGHT, raw_frame, write_frame

ASTROPY = Path(astropy.__file__).parent
INSTALLED = sorted(
    path
    for path in ASTROPY.glob("**/tests/data/**/*")
    if path.name.endswith((".fits", ".fits.gz", ".fits.fz"))
)


def read(path: Path, wanted: frozenset[str] = WANTED) -> Header:
    with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as stream:
        return read_header(stream, wanted)  # type: ignore[arg-type]


def usable(path: Path) -> Header | None:
    try:
        return read(path)
    except Unusable:
        return None


def of_bytes(raw: bytes, *wanted: str) -> Header:
    return read_header(io.BytesIO(raw), frozenset(wanted))


def by_astropy(path: Path, extension: int, keys: frozenset[str]) -> dict[str, Value]:
    """What getheader has for these keywords; those without a value left out."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with fits.open(path, disable_image_compression=True, memmap=False) as units:
            header = units[extension].header
    return {key: header[key] for key in keys if key in header and not isinstance(header[key], fits.Undefined)}


@pytest.mark.parametrize("name", ["a.fits", "a.fit", "a.FTS", "a.fits.gz", "a.fits.fz"])
def test_every_value_is_what_astropy_wrote(tmp_path: Path, name: str) -> None:
    path = write_frame(tmp_path / name)
    header = read(path)
    assert header.cards == by_astropy(path, 1 if name.endswith(".fz") else 0, WANTED) == dict(LIGHT)
    assert header.odd == ()
    if not name.endswith(".gz"):
        assert header.promised_bytes == path.stat().st_size
    assert dict(header.cards) == {
        key: fits.getheader(path, 1 if name.endswith(".fz") else 0)[key] for key in LIGHT
    }


@pytest.mark.skipif(not INSTALLED, reason="astropy is installed without the data of its tests")
def test_files_of_astropys_own_tests_read_as_getheader_reads_them() -> None:
    """Their headers come from archives of a dozen observatories, some of them older than the standard's habits."""
    read_as_well = 0
    for path in INSTALLED:
        header = usable(path)
        if header is None:
            continue
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with fits.open(path, disable_image_compression=True, memmap=False) as units:
                image = next(index for index, unit in enumerate(units) if _holds_image(unit.header, index))
                end = units[image].fileinfo()["datLoc"] + units[image].fileinfo()["datSpan"]
        expected = {**by_astropy(path, 0, WANTED), **by_astropy(path, image, WANTED)}
        assert dict(header.cards) == expected, path
        assert header.promised_bytes == end, path
        read_as_well += 1
    assert read_as_well >= 20


def _holds_image(header: fits.Header, index: int) -> bool:
    size = (
        math.prod(header[f"NAXIS{axis}"] for axis in range(1, header["NAXIS"] + 1)) if header["NAXIS"] else 0
    )
    kind = "IMAGE" if index == 0 else header["XTENSION"].strip()
    return bool(size) and (kind == "IMAGE" or header.get("ZIMAGE", False)) and not header.get("GROUPS", False)


# Legal values by FITS Standard 4.0: printable ASCII texts (4.2.1), logical (4.2.2), integers (4.2.3), reals with
# E (4.2.4), complex numbers (4.2.6), no value at all (4.1.2.3). Texts too long for a card are continued (4.2.1.2).
TEXTS = st.text(string.printable[:95], max_size=160).map(str.rstrip)
VALUES = st.one_of(
    TEXTS,
    st.booleans(),
    st.integers(-(10**18), 10**18),
    st.floats(allow_nan=False, allow_infinity=False),
    st.complex_numbers(allow_nan=False, allow_infinity=False, max_magnitude=1e9),
    st.none(),
)
KEYS = st.text(string.ascii_uppercase + string.digits + "-_", min_size=1, max_size=8).filter(
    lambda key: (
        not key.startswith(
            (
                "NAXIS",
                "END",
                "SIMPLE",
                "BITPIX",
                "COMMENT",
                "HISTORY",
                "CONTINUE",
                "HIERARCH",
                "GROUPS",
                "EXTEND",
            )
        )
    )
)


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(KEYS, VALUES, max_size=12),
    st.dictionaries(KEYS, st.text(string.ascii_letters + " '/", max_size=30)),
)
def test_legal_cards_read_as_getheader_reads_them(values: dict[str, Value], comments: dict[str, str]) -> None:
    header = fits.Header()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # comments that are too long are cut
        for key, value in values.items():
            header[key] = (value, comments.get(key, ""))
        written = io.BytesIO()
        fits.PrimaryHDU(np.zeros(8, np.uint8), header).writeto(written)
    expected: dict[str, Value] = {}
    for card in fits.getheader(io.BytesIO(written.getvalue())).cards:
        value = card.rawvalue if card.keyword else None
        if card.rawkeyword in values and not isinstance(value, fits.Undefined):
            expected.setdefault(card.rawkeyword, value)
    found = of_bytes(written.getvalue(), *values)
    assert dict(found.cards) == expected
    assert {key: type(value) for key, value in found.cards.items()} == {
        k: type(v) for k, v in expected.items()
    }
    assert found.odd == ()


FORMS = [
    ("EXPTIME =                300.0 / seconds", 300.0),
    ("EXPTIME = 300", 300),
    ("EXPTIME =              3.0D+02", 300.0),
    ("EXPTIME =              3.0d+02", 300.0),
    ("EXPTIME =              +3.0E02", 300.0),
    ("EXPTIME = 007", 7),
    ("EXPTIME = .5/half", 0.5),
    ("EXPTIME = (1.0, 2.0)", 1 + 2j),
    ("EXPTIME = 'O''HARA  '           / a quote", "O'HARA"),
    ("EXPTIME = ''", ""),
    ("EXPTIME = '  two before' / it's a comment", "  two before"),
    ("EXPTIME = 'a / b'", "a / b"),
    ("EXPTIME =                    T", True),
    ("EXPTIME =                    F / no", False),
    ("EXPTIME= 300", 300),
    ("exptime = 300", 300),
    ("EXPTIME = 'of no end", None),
    ("EXPTIME = 3 0 0", None),
    ("EXPTIME =", None),
    ("EXPTIME = 'N\xe9'", "N??"),
    ("EXPTIME = 5 / \xb5s", 5),
    ("EXPTIME =" + " " * 21 + "/ nothing", None),
    ("EXPTIME = 'nul\0'", None),
    ("EXPTIME = 'esc\x1b[2J'", None),
]


@pytest.mark.parametrize(("card", "value"), FORMS, ids=[form for form, _ in FORMS])
def test_forms_of_a_value_read_as_getheader_reads_them(tmp_path: Path, card: str, value: Value) -> None:
    path = tmp_path / "a.fits"
    path.write_bytes(raw_frame("OBJECT  = 'Cradle Nebula'", card, "FILTER  = 'Ha'"))
    header = read(path)
    assert dict(header.cards) == {"OBJECT": "Cradle Nebula", "FILTER": "Ha"} | (
        {} if value is None else {"EXPTIME": value}
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = fits.getheader(path)
        try:
            found = theirs["EXPTIME"]
        except fits.VerifyError:
            assert header.odd == ("the value of EXPTIME breaks the FITS standard",)
            return
    assert (None if isinstance(found, fits.Undefined) else found) == value
    assert header.odd == (('EXPTIME holds what is not ASCII, read as "?"',) if value == "N??" else ())


def test_a_text_is_continued_as_far_as_the_standard_says() -> None:
    cards = ("OBJECT  = 'Cradle &'", "CONTINUE  'Nebula&'", "CONTINUE  ' and all' / done", "FILTER  = 'Ha'")
    assert of_bytes(raw_frame(*cards), "OBJECT", "FILTER").cards == {
        "OBJECT": "Cradle Nebula and all",
        "FILTER": "Ha",
    }


def test_a_comment_on_a_continued_card_does_not_end_the_text() -> None:
    raw = raw_frame("OBJECT  = 'Cradle &' / a first", "CONTINUE  'Nebula' / and a second comment")
    assert of_bytes(raw, "OBJECT").cards == {"OBJECT": "Cradle Nebula"}
    assert fits.Header.fromstring(raw[:2880])["OBJECT"] == "Cradle Nebula"


def test_a_number_that_is_continued_breaks_the_standard() -> None:
    raw = raw_frame("EXPTIME = 300 / s", "CONTINUE  '5'")
    header = of_bytes(raw, "EXPTIME")
    assert (header.cards, header.odd) == ({}, ("the value of EXPTIME breaks the FITS standard",))
    with pytest.raises(fits.VerifyError):
        fits.Header.fromstring(raw[:2880])["EXPTIME"]


def test_a_text_of_too_many_cards_is_left_out() -> None:
    """Blanks that are continued over and over would keep the pattern of astropy's cards busy for an hour."""
    blanks, rest = "CONTINUE  '" + " " * 60 + "&'", ("CONTINUE  'x'", "FILTER  = 'Ha'")
    header = of_bytes(raw_frame("OBJECT  = 'x&'", *[blanks] * 10_000, *rest), "OBJECT", "FILTER")
    assert (header.cards, header.odd) == ({"FILTER": "Ha"}, ("OBJECT is continued over more than 40 cards",))
    header = of_bytes(raw_frame("OBJECT  = 'x&'", *[blanks] * 38, *rest), "OBJECT", "FILTER")
    assert (header.cards["OBJECT"], header.odd) == ("x" + " " * 60 * 38 + "x", ())


def test_keywords_under_hierarch_are_those_that_astropy_sees() -> None:
    raw = raw_frame("HIERARCH ESO OBJECT = 'other'", "HIERARCH FILTER = 'Ha' / as some cameras write it")
    assert of_bytes(raw, "OBJECT", "FILTER").cards == {"FILTER": "Ha"}
    assert fits.Header.fromstring(raw[:2880])["FILTER"] == "Ha"


def test_a_name_with_a_colon_and_a_number_stays_a_name() -> None:
    """By `getheader` it would be the number 39: astropy takes it for a record of a distortion table."""
    raw = raw_frame("OBJECT  = 'Abell: 39'")
    assert of_bytes(raw, "OBJECT").cards == {"OBJECT": "Abell: 39"}
    assert of_bytes(raw_frame("OBJECT  = 'Abell: 39'", "object2 = 1"), "OBJECT").cards == {
        "OBJECT": "Abell: 39"
    }


def test_the_first_of_two_cards_counts() -> None:
    raw = raw_frame("FILTER  = 'Ha'", "FILTER  = 'OIII'")
    assert of_bytes(raw, "FILTER").cards == {"FILTER": "Ha"}
    assert fits.Header.fromstring(raw[:2880])["FILTER"] == "Ha"


def test_the_images_own_header_comes_before_the_primary_one(tmp_path: Path) -> None:
    primary, empty, image = fits.PrimaryHDU(), fits.ImageHDU(), fits.ImageHDU(np.zeros((4, 4), np.uint8))
    table = fits.BinTableHDU.from_columns([fits.Column("t", "J", array=np.arange(2000))])
    primary.header["OBJECT"], primary.header["FILTER"] = "Cradle Nebula", "L"
    table.header["EXPTIME"] = 5.0
    image.header["FILTER"] = "Ha"
    path = tmp_path / "a.fits"
    fits.HDUList([primary, empty, table, image, table.copy()]).writeto(path)
    header = read(path)
    assert header.cards == {"OBJECT": "Cradle Nebula", "FILTER": "Ha"}
    assert header.promised_bytes == path.stat().st_size - (2880 + 8640)  # without the second table


SENSELESS = [
    ("NAXIS   =                   -1", "NAXIS = -1 in its header makes no sense"),
    ("NAXIS   =                 1000", "NAXIS = 1000 in its header makes no sense"),
    (f"NAXIS   = {10**30}", "NAXIS = about 10^30 in its header makes no sense"),
    ("NAXIS   =                  2.0", "NAXIS = 2.0 in its header makes no sense"),
    ("NAXIS   = '2'", 'NAXIS = "2" in its header makes no sense'),
    ("NAXIS   = (2.0, 1.0)", "NAXIS = (2+1j) in its header makes no sense"),
    ("NAXIS   =                    3", "its header lacks NAXIS3"),
    ("NAXIS   = 2 2", "the value of NAXIS in its header cannot be read"),
    ("NAXIS1  =                   -8", "NAXIS1 = -8 in its header makes no sense"),
    (f"NAXIS1  = {10**30}", "its header promises about 10^31 bytes, more than any disk holds"),
    ("NAXIS1  =                    T", "NAXIS1 = true in its header makes no sense"),
    ("BITPIX  =                   17", "BITPIX = 17 in its header makes no sense"),
    ("BITPIX  =", "its header lacks BITPIX"),
    ("SIMPLE  =                    F", "its header itself says that it does not keep to the FITS standard"),
]


@pytest.mark.parametrize(("card", "reason"), SENSELESS, ids=[card for card, _ in SENSELESS])
def test_headers_that_make_no_sense_are_told(card: str, reason: str) -> None:
    raw = raw_frame("FILTER  = 'Ha'")
    key = card[:8].encode()
    at = raw.index(key)
    with pytest.raises(Unusable) as caught:
        of_bytes(raw[:at] + card.encode().ljust(80) + raw[at + 80 :], "FILTER")
    assert (caught.value.fault, caught.value.reason) == ("broken_header", reason)


def test_a_header_ends_within_400_blocks_or_is_refused() -> None:
    def blocks(count: int) -> bytes:
        cards = ["COMMENT"] * (36 * count - 6)  # with the five mandatory ones and END
        return raw_frame(*cards)

    assert of_bytes(blocks(400), "FILTER").promised_bytes == 401 * 2880
    with pytest.raises(Unusable, match="no END within the first 400 blocks"):
        of_bytes(blocks(401), "FILTER")


SPOILT = raw_frame(
    "OBJECT  = 'Cradle Nebula'",
    "EXPTIME =                300.0 / s",
    "FILTER  = 'Ha&' / of two",
    "CONTINUE  'x'",
)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 900), st.integers(0, 255)), max_size=6),
    st.lists(st.tuples(st.integers(400, 720), st.sampled_from(b" '=&/0EDT-:.x\t\0")), max_size=6),
    st.integers(0, 2 * len(SPOILT)),
)
def test_spoilt_bytes_read_as_getheader_reads_them_or_say_why_not(
    anywhere: list[tuple[int, int]], in_cards: list[tuple[int, int]], cut: int
) -> None:
    """Whatever a disk makes of a header, nothing but Unusable is raised, and no value is one's own invention."""
    raw = bytearray(SPOILT)
    for at, byte in (*anywhere, *in_cards):
        raw[at] = byte
    with contextlib.suppress(Unusable), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        header = of_bytes(bytes(raw[:cut]), *WANTED)
        assert header.promised_bytes % 2880 == 0
        assert dict(header.cards) == _readable(fits.Header.fromfile(io.BytesIO(raw[:cut]), padding=False))


def _readable(header: fits.Header) -> dict[str, Value]:
    """All wanted values that astropy can read, of two cards with the same keyword the first."""
    found: dict[str, Value] = {}
    for card in header.cards:
        key = card.rawkeyword.strip().upper()
        if key in WANTED and key not in found:
            try:
                found[key] = None if isinstance(card.value, fits.Undefined) else card.rawvalue
            except fits.VerifyError:
                found[key] = None
    return {key: value for key, value in found.items() if value is not None}
