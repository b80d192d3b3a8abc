"""What the server answers: a page, a list, or a refusal, as bytes of HTTP; nothing here touches the net."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection
from dataclasses import dataclass
from email.utils import formatdate

LONGEST_LINE = 2048  # bytes of the request's first line
LARGEST_HEAD = 16384  # bytes of all lines of a request; browsers send what other local pages left as cookies
MOST_FIELDS = 100
END_OF_HEAD = b"\r\n\r\n"
_REQUEST_LINE = re.compile(rb"([!#$%&'*+.^_`|~0-9A-Za-z-]+) ([!-~]+) (HTTP/[0-9]\.[0-9])")  # RFC 9112, 3
_FIELD = re.compile(rb"([!#$%&'*+.^_`|~0-9A-Za-z-]+):[ \t]*([\t -~\x80-\xff]*)")  # RFC 9112, 5
_TAG = re.compile(r'(?:W/)?"([!#-~]*)"')

REFUSALS = {
    400: ("Bad Request", "This is no request that can be answered."),
    403: ("Forbidden", "This computer is not known by that name here: use the address that was shown."),
    404: ("Not Found", "There is nothing here but the page at / and the lists /list.json and /list.csv."),
    405: ("Method Not Allowed", "Nothing can be done here but GET."),
    408: ("Request Timeout", "The request took too long to arrive."),
    413: ("Content Too Large", "A request here has no body."),
    414: ("URI Too Long", "The address is too long."),
    431: ("Request Header Fields Too Large", "The request has too many header fields, or too long ones."),
    503: ("Service Unavailable", "Too many ask at once, or there is no list yet: try again in a moment."),
    505: ("HTTP Version Not Supported", "Only HTTP/1.0 and HTTP/1.1 are spoken here."),
}
_ALWAYS = (
    "Server: darkfill",
    "Connection: close",
    "Cache-Control: no-cache",
    "X-Content-Type-Options: nosniff",
    "X-Frame-Options: DENY",
    "Referrer-Policy: no-referrer",
    "Cross-Origin-Resource-Policy: same-origin",
    "Content-Security-Policy: frame-ancestors 'none'",  # the page itself says what else it may do
)


@dataclass(frozen=True)
class Contents:
    """What is handed out: the page at `/`, the list at `/list.json` and `/list.csv`.

    `etag` stands for the list, such as the SHA-256 of its JSON; the page has one of its own.
    """

    page: bytes
    json: bytes
    csv: bytes
    etag: str


class Refusal(Exception):  # noqa: N818 - it is the answer to one request
    """Raised where a request is not answered with contents; `status` is one of `REFUSALS`."""

    def __init__(self, status: int) -> None:
        """Keep the status."""
        super().__init__(status)
        self.status = status


@dataclass(frozen=True)
class Asked:
    """A request that may be answered: its path, and which contents it has already."""

    path: str
    known_tags: frozenset[str]


def too_large(begin: bytes) -> int:
    """Which refusal a request deserves that has not come to its end yet; 0: it may go on."""
    if begin and not begin[:1].isalpha():  # TLS, or no text at all: nothing more will make it a request
        return 400
    if begin.count(b"\n") != begin.count(b"\r\n"):
        return 400
    line, ended, _ = begin.partition(b"\r\n")
    if len(line) > LONGEST_LINE:
        return 414
    if ended and not _REQUEST_LINE.fullmatch(line):
        return 400
    return 431 if len(begin) > LARGEST_HEAD else 0


def asked(head: bytes, hosts: Collection[str]) -> Asked:
    """Read the lines of a request, its end left off. `hosts` are what its Host may be, in lower case.

    Raises Refusal.
    """
    line, *fields = head.split(b"\r\n")
    if len(line) > LONGEST_LINE:
        raise Refusal(414)
    if (begun := _REQUEST_LINE.fullmatch(line)) is None:
        raise Refusal(400)
    method, target, version = (part.decode("ascii") for part in begun.groups())
    if version not in ("HTTP/1.0", "HTTP/1.1"):
        raise Refusal(505)
    if len(fields) > MOST_FIELDS or len(head) > LARGEST_HEAD:
        raise Refusal(431)
    told: dict[str, list[str]] = {}
    for field in fields:
        if (match := _FIELD.fullmatch(field)) is None:
            raise Refusal(400)
        told.setdefault(match[1].decode("ascii").lower(), []).append(match[2].decode("latin-1").strip())
    own = told.get("host", [])
    if len(own) != 1:
        raise Refusal(400)
    # a page of another site that has its own name point here must not read what is here
    if own[0].lower() not in hosts:
        raise Refusal(403)
    if method != "GET":
        raise Refusal(405)
    if "transfer-encoding" in told or told.get("content-length", ["0"]) != ["0"]:
        raise Refusal(413)
    tags = frozenset(tag for text in told.get("if-none-match", ()) for tag in _TAG.findall(text))
    return Asked(target, tags)


def answer(request: Asked, contents: Contents) -> bytes:
    """Make the answer to a request: contents, or 304 where they are known already. Raises Refusal."""
    offered = {
        "/": (contents.page, "text/html; charset=utf-8", hashlib.sha256(contents.page).hexdigest()),
        "/list.json": (contents.json, "application/json", contents.etag),
        "/list.csv": (contents.csv, "text/csv; charset=utf-8", contents.etag),
    }
    if request.path not in offered:
        raise Refusal(404)
    body, kind, tag = offered[request.path]
    if tag in request.known_tags:
        return _lines("304 Not Modified", f'ETag: "{tag}"')
    length = f"Content-Length: {len(body)}"
    return _lines("200 OK", f"Content-Type: {kind}", length, f'ETag: "{tag}"') + body


def refusal(status: int) -> bytes:
    """Make the answer that refuses a request; nothing of the request is in it."""
    name, sentence = REFUSALS[status]
    body = f"{sentence}\n".encode("ascii")
    more = {405: ("Allow: GET",), 503: ("Retry-After: 2",)}.get(status, ())
    kind = "Content-Type: text/plain; charset=utf-8"
    return _lines(f"{status} {name}", kind, f"Content-Length: {len(body)}", *more) + body


def _lines(status: str, *fields: str) -> bytes:
    lines = (f"HTTP/1.1 {status}", f"Date: {formatdate(usegmt=True)}", *_ALWAYS, *fields, "", "")
    return "\r\n".join(lines).encode("ascii")
