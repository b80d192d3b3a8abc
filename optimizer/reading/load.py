"""From files to a request, or to every problem in them at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from optimizer.catalogue.lookup import also_called, look_up
from optimizer.catalogue.objects import OwnCatalogue
from optimizer.diagnostics.advice import advice
from optimizer.diagnostics.document import Document, Source
from optimizer.models.request import Request, RigRequest, sha256_of
from optimizer.models.targets import Target
from optimizer.reading.checking import checked
from optimizer.reading.evening import Tonight
from optimizer.reading.for_rig import rig_name
from optimizer.reading.include import gather
from optimizer.reading.local_times import zone_left_out
from optimizer.reading.short_forms import write_out
from optimizer.reading.tally import TallyPlace, TallyRead, tally_place, with_tally
from optimizer.words import place_words, safe

EVENING_OPTION = "--evening"


@dataclass(frozen=True)
class Origin:
    """Where a loaded request comes from: its files, itself with `done` as it is written, and its tally.

    `targets` are those of the loaded request.
    """

    document: Document
    as_written: Request
    tally: TallyRead | None
    targets: tuple[Target, ...]


@dataclass(frozen=True)
class LoadedRequest:
    """A valid request, one line for each thing in it worth a second look, and its fingerprint.

    `done` of its goals has what its tally counts too.

    `resolved` says which evening `tonight` stands for, how a spreadsheet of targets was read, which targets
    are for other rigs, and what each catalogue name does, with its place, where the catalogue gave it. `rig`
    is the name of the rig, that of the file where the request gives none.
    """

    request: Request
    warnings: tuple[str, ...]
    sha256: str
    resolved: tuple[str, ...] = ()
    rig: str = ""
    origin: Origin | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True)
class LoadedTargets:
    """A valid request, the same with `done` as it is written, and the user's own catalogue that it names."""

    loaded: LoadedRequest
    as_written: Request
    catalogue: OwnCatalogue | None


def load_request(
    path: Path,
    *,
    allow_outside: bool = False,
    evening: dt.date | Tonight | None = None,
    evening_from: str = EVENING_OPTION,
    targets_needed: bool = True,
) -> LoadedRequest:
    """Read a request (TOML or JSON by ending) with the files it includes.

    `allow_outside` lets it include files from outside its own folder; `evening` replaces `night.evening`,
    and `evening_from` is what messages name as its source; without `targets_needed` it may have no targets.
    Key paths in messages count lists from 0, as `targets[1]`, and say beside it "2nd target".

    Raises InputError with every problem of all files, in file order.
    """
    document = gather(path, allow_outside=allow_outside, evening=evening, evening_from=evening_from)
    written = checked(document, Request if targets_needed else RigRequest)
    return _loaded(path, written, document, evening, allow_outside=allow_outside)


def load_targets(path: Path, *, allow_outside: bool = False) -> LoadedTargets:
    """Read a request for its targets. Raises InputError with every problem of all files, in file order."""
    document = gather(path, allow_outside=allow_outside)
    written = checked(document, Request)
    loaded = _loaded(path, written, document, None, allow_outside=allow_outside)
    return LoadedTargets(loaded, written, document.catalogue)


def _loaded(
    path: Path,
    written: Request,
    document: Document,
    evening: dt.date | Tonight | None,
    *,
    allow_outside: bool,
) -> LoadedRequest:
    request, counted, tally = with_tally(path, written, document, allow_outside=allow_outside)
    tonight = [evening.sentence(request)] if isinstance(evening, Tonight) else []
    resolved = (*tonight, *document.said, *_resolved(request, document))
    warnings = (*map(str, document.doubts), *advice(request, document), *zone_left_out(document), *counted)
    return LoadedRequest(
        request,
        warnings,
        sha256_of(request),
        resolved,
        rig_name(path, request.rig),
        Origin(document, written, tally, request.targets),
    )


def load_as_written(path: Path, *, allow_outside: bool = False) -> tuple[Request, TallyPlace]:
    """Read a request with `done` as it is written, and find the tally that it names.

    Raises InputError with every problem, or where it names no tally.
    """
    document = gather(path, allow_outside=allow_outside)
    request = checked(document, Request)
    return request, tally_place(path, request, document, allow_outside=allow_outside)


def request_from_data(data: dict[str, Any], name: str) -> Request:
    """Make a request from plain data, as `json` reads it; `name` stands for the file in messages.

    Raises InputError with every problem; none of them has a line.
    """
    document = Document(data, {(): Source(safe(name), "json")})
    write_out(document)
    return checked(document, Request)


def _resolved(request: Request, document: Document) -> Iterator[str]:
    for index, target in enumerate(request.targets):
        given = any(document.has(("targets", index, key)) for key in ("ra", "ra_deg", "dec", "dec_deg"))
        if target.object is not None and not given:
            found = look_up(target.object, document.catalogue)
            place = f"{also_called(target.object, found)}: {place_words(found.ra_deg, found.dec_deg)}"
            yield place + (f", from {found.source}" if found.source else "")
