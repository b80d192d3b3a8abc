"""The header of the image in a FITS file: a few keywords read from raw blocks, and how long the file must be.

Sections (§) are those of the FITS Standard 4.0. To make an object of each card is what takes the time when
headers are read. So of the cards wanted, plain texts, numbers and truth values are read here; any other form
of a value, and any card that strays from the common form, is left to astropy. Whichever way, a value is what
`astropy.io.fits.getheader` has for it.
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, BinaryIO

from optimizer.tally.frames import Fault
from optimizer.words import shown

if TYPE_CHECKING:
    from astropy.io.fits.card import Card

Value = str | int | float | complex | bool | None

BLOCK, CARD = 2880, 80  # bytes, §3.1 and §4.1
MOST_BLOCKS = 400  # of one header: 14,400 cards
MOST_CONTINUED = 40  # cards of one text: one of 14,000 would keep astropy busy for an hour
MOST_UNITS = 100  # headers of one file that are looked through for an image
MOST_BYTES = 2**63  # no file is that long
_BITPIX = (8, 16, 32, 64, -32, -64)  # §4.4.1.1
_STRUCTURE = (
    *("SIMPLE", "XTENSION", "BITPIX", "NAXIS", "GCOUNT", "PCOUNT"),
    *("GROUPS", "ZIMAGE"),  # random groups, §6; a compressed image in a table, §10.1
)
_NO_VALUE = (b"        ", b"COMMENT ", b"HISTORY ", b"CONTINUE")
_ASCII = bytes(byte if byte < 128 else ord("?") for byte in range(256))  # as astropy shows what is not ASCII
# A text without quotes in it, a number, or a truth value, and a comment perhaps: §4.2.1, §4.2.3, §4.2.4.
_PLAIN = re.compile(
    rb" *(?:'(?P<text>[ -&(-~]*)'|(?P<number>[+-]?(?:\.\d+|\d+(?:\.\d*)?)(?:[ED][+-]?\d+)?)|(?P<truth>[TF]))"
    rb" *(?:/.*)?"
)
_KEY = re.compile(rb"[A-Z0-9_-]+ *")  # §4.1.2.1
_END = re.compile(rb"END(?:[^A-Z0-9_-]|\Z)")
_BEGINNINGS = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"PK", "a ZIP archive"),
    (b"\x1f\x8b", "gzip"),
    (b"XTENSION", "a FITS extension without the primary header before it"),
    (b"\0\0\0\0", "nothing but zeros"),
)


class Unusable(Exception):  # noqa: N818 - it ends one file, not the run
    """Ends the reading of one file: `fault` and `reason` are those of the `Damaged` that comes of it."""

    def __init__(self, fault: Fault, reason: str) -> None:
        """Keep both; `reason` is a clause without a full stop."""
        super().__init__(reason)
        self.fault, self.reason = fault, reason


@dataclass(frozen=True)
class Header:
    """Wanted keywords of an image: those of its own header, then those of the file's primary header.

    A keyword without a value is left out. `odd` has a sentence for each wanted keyword whose value breaks the
    standard: most cannot be read and are left out as well. `promised_bytes` is where the image's last block
    ends, counted from the file's first byte.
    """

    cards: Mapping[str, Value]
    odd: tuple[str, ...]
    promised_bytes: int


def read_header(stream: BinaryIO, wanted: frozenset[str]) -> Header:
    """Read headers from the beginning of an open file, inflated if need be, as far as the first image.

    The pixels are not read. Raises Unusable where the bytes are not FITS, a header is cut short, has no end
    within `MOST_BLOCKS` blocks or makes no sense, and where there is no image.
    """
    keys = wanted.union(_STRUCTURE)
    cards: Mapping[str, Value] = {}
    odd: Mapping[str, str] = {}
    at = 0
    for unit in range(MOST_UNITS):
        raw = _raw_header(stream, first=unit == 0)
        if raw is None:
            break
        found, own_odd = _values(raw, keys)
        data_bytes = _data_bytes(found, own_odd, first=unit == 0)
        at += _blocks(len(raw) + CARD) + data_bytes
        # only the primary header and the image's own speak of the image
        own: Mapping[str, Value] = {key: value for key, value in found.items() if value is not None}
        if _is_image(found, data_bytes):
            told = {key: value for key, value in {**cards, **own}.items() if key in wanted}
            odd = {**{key: what for key, what in odd.items() if key not in own}, **own_odd}
            return Header(told, tuple(what for key, what in odd.items() if key in wanted), at)
        if unit == 0:
            cards, odd = own, own_odd
        if at >= MOST_BYTES:
            break
        if data_bytes:
            stream.seek(at)
    raise Unusable("no_image", "it holds no image")


def _blocks(size: int) -> int:
    return -(-size // BLOCK) * BLOCK


def _raw_header(stream: BinaryIO, *, first: bool) -> bytes | None:
    """Cards of the next header up to its END, without it; None where no further header follows."""
    raw = bytearray()
    while len(raw) < MOST_BLOCKS * BLOCK:
        block = stream.read(BLOCK)
        if not raw and not first and not block.startswith(b"XTENSION"):
            return None
        if not raw and first and not block.startswith(b"SIMPLE  ="):
            raise _not_fits(block)
        for match in _END.finditer(block):
            if match.start() % CARD == 0:
                return bytes(raw + block[: match.start()])
        if len(block) < BLOCK:
            raise Unusable("cut_short", "it is cut short: it ends within its header")
        raw += block
    raise Unusable("broken_header", f"its header has no END within the first {MOST_BLOCKS} blocks")


def _not_fits(block: bytes) -> Unusable:
    if not block:
        return Unusable("cut_short", "it is empty")
    if len(block) < CARD and b"SIMPLE  =".startswith(block[:9]):
        return Unusable("cut_short", "it is cut short: it ends within its header")
    what = next((what for begin, what in _BEGINNINGS if block.startswith(begin)), "")
    return Unusable("not_fits", "it is no FITS file" + (f" but {what}" if what else ""))


def _values(raw: bytes, wanted: frozenset[str]) -> tuple[dict[str, Value], dict[str, str]]:
    """Values of the wanted keywords and of all NAXISn, by keyword, and what is odd about some of them."""
    values: dict[str, Value] = {}
    odd: dict[str, str] = {}
    for keyword, image, card in _cards(raw, _padded(wanted)):
        if keyword in values or keyword in odd:
            continue  # of two cards, the first counts
        if len(image) > MOST_CONTINUED * CARD:
            odd[keyword] = f"{keyword} is continued over more than {MOST_CONTINUED} cards"
            continue
        try:
            value = values[keyword] = _value(image) if card is None else _value_of_card(card)
        except Exception:  # whatever astropy raises on a card that breaks the standard
            odd[keyword] = f"the value of {keyword} breaks the FITS standard"
            continue
        if isinstance(value, str) and "?" in value and not image.isascii():
            odd[keyword] = f'{keyword} holds what is not ASCII, read as "?"'
    return values, odd


def _cards(raw: bytes, keys: frozenset[bytes]) -> Iterator[tuple[str, bytes, Card | None]]:
    """Keyword and image of each card with such a key; beside them astropy's card, if its form is uncommon."""
    for at in range(0, len(raw), CARD):
        key = raw[at : at + 8]
        if key in _NO_VALUE:
            continue
        common = raw[at + 8 : at + 10] == b"= " and _KEY.fullmatch(key)
        if common and key not in keys and not key.startswith(b"NAXIS"):
            continue
        end = at + CARD
        while raw[end : end + 8] == b"CONTINUE":  # a long string, §4.2.1.2
            end += CARD
        image = raw[at:end]
        if common:
            yield key.decode().rstrip(), image, None
            continue
        keyword, card = _uncommon(image)
        if keyword.ljust(8).encode() in keys or keyword.startswith("NAXIS"):
            yield keyword, image, card


def _uncommon(image: bytes) -> tuple[str, Card]:
    """What astropy takes for the keyword of a card, and the card."""
    from astropy.io.fits.card import Card

    card = Card.fromstring(image.translate(_ASCII))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return card.rawkeyword.strip().upper(), card


@cache
def _padded(keys: frozenset[str]) -> frozenset[bytes]:
    return frozenset(key.ljust(8).encode() for key in keys)


def _value(image: bytes) -> Value:
    """The value of a card, continued or not; raises what astropy raises where it breaks the standard."""
    plain = _PLAIN.fullmatch(image, 10) if len(image) == CARD else None
    if plain is None:
        from astropy.io.fits.card import Card

        return _value_of_card(Card.fromstring(image.translate(_ASCII)))
    text, digits, truth = plain.groups()
    if text is not None:
        return str(text, "ascii").rstrip()
    if truth is not None:
        return bool(truth == b"T")
    try:
        return int(digits)
    except ValueError:
        return float(digits.replace(b"D", b"E"))


def _value_of_card(card: Card) -> Value:
    from astropy.io.fits.card import Undefined

    # By `value`, astropy takes the text 'Abell: 39' for the number 39 of a field named Abell. The raw value
    # is that text as it stands, once the card has been told to look for its keyword.
    value: Value = card.rawvalue if card.keyword else None
    return None if isinstance(value, Undefined) else value


def _data_bytes(cards: Mapping[str, Value], odd: Mapping[str, str], *, first: bool) -> int:
    """Bytes of the data after a header, whole blocks of them (§4.4.1.1 equation 1, §4.4.1.2 equation 2)."""
    for key in odd:
        if key in _STRUCTURE or key.startswith("NAXIS"):
            raise Unusable("broken_header", f"the value of {key} in its header cannot be read")
    if first and cards.get("SIMPLE") is not True:
        raise Unusable("broken_header", "its header itself says that it does not keep to the FITS standard")
    bits = _whole(cards, "BITPIX", None)
    if bits not in _BITPIX:
        raise _senseless("BITPIX", bits)
    axes = _whole(cards, "NAXIS", None)
    if not 0 <= axes <= 999:
        raise _senseless("NAXIS", axes)
    lengths = [_whole(cards, f"NAXIS{axis}", None) for axis in range(1, axes + 1)]
    if not lengths:
        return 0
    if first and cards.get("GROUPS") is True and lengths[0] == 0:  # random groups, §6
        raise Unusable("no_image", "it holds no image")
    count, more = (1, 0) if first else (_whole(cards, "GCOUNT", 1), _whole(cards, "PCOUNT", 0))
    size = _blocks(abs(bits) // 8 * count * (more + math.prod(lengths)))
    if size >= MOST_BYTES:
        raise Unusable("broken_header", f"its header promises {shown(size)} bytes, more than any disk holds")
    return size


def _whole(cards: Mapping[str, Value], key: str, absent: int | None) -> int:
    value = cards.get(key)
    if value is None:
        if absent is None:
            raise Unusable("broken_header", f"its header lacks {key}")
        return absent
    if isinstance(value, bool) or not isinstance(value, int) or (value < 0 and key != "BITPIX"):
        raise _senseless(key, value)
    return value


def _senseless(key: str, value: Value) -> Unusable:
    text = str(value) if isinstance(value, complex) else shown(value)
    return Unusable("broken_header", f"{key} = {text} in its header makes no sense")


def _is_image(cards: Mapping[str, Value], data_bytes: int) -> bool:
    if not data_bytes:
        return False
    kind = cards.get("XTENSION", "IMAGE")
    return (isinstance(kind, str) and kind.strip() == "IMAGE") or cards.get("ZIMAGE") is True
