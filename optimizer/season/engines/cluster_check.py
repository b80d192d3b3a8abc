"""Whether the machines of a cluster have the same software as this one, before anything is sent there.

Answers computed by other versions may differ in a bit, and a season must not depend on who worked at it.
First the cluster's own messages tell the versions of libraries, without any of our code being called; then
each worker tells the key of its modules' text.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from optimizer.season.engines.cluster_worker import text_key
from optimizer.season.kept.program import LIBRARIES
from optimizer.words import listing

OF_SCHEDULER = ("dask", "distributed")
OF_WORKER = ("python", "darkfill", *LIBRARIES, *OF_SCHEDULER)
KEY_DIGITS = 12  # of a key, as far as people need it to tell two apart

Versions = Mapping[str, str | None]


async def differences(client: Any, addresses: Sequence[str]) -> dict[str, str]:
    """What is other than here, in words, by the address of the worker or of the scheduler; empty: nothing.

    `client` is one of Dask for coroutines; only these workers are asked.
    """
    told = await client.get_versions(packages=OF_WORKER)
    here = told["client"]["packages"]
    found: dict[str, str] = {}
    scheduler = client.scheduler.address
    if words := difference(f"the scheduler {scheduler}", OF_SCHEDULER, told["scheduler"]["packages"], here):
        found[scheduler] = words
    for address in addresses:
        packages = told["workers"].get(address, {}).get("packages")
        if packages is None:
            found[address] = f"the worker {address} does not answer"
        elif words := difference(f"the worker {address}", OF_WORKER, packages, here):
            found[address] = words
    if rest := [address for address in addresses if address not in found]:
        found |= await _other_texts(client, rest)
    return found


def difference(who: str, names: Sequence[str], there: Versions, here: Versions) -> str:
    """What is other there than here, in words; empty where nothing is."""
    parts = []
    for name in names:
        if there.get(name) != here.get(name):
            theirs, ours = _version(name, there.get(name)), _version(name, here.get(name))
            parts.append(f"{name} {theirs} where this machine has {ours}")
    return f"{who} has {listing(parts, 'and')}" if parts else ""


async def _other_texts(client: Any, addresses: Sequence[str]) -> dict[str, str]:
    ours, found = text_key(), {}
    for address, theirs in (await client.run(text_key, workers=list(addresses), on_error="return")).items():
        if isinstance(theirs, OSError):
            found[address] = f"the worker {address} does not answer"
        elif isinstance(theirs, Exception):
            found[address] = (
                f"the worker {address} cannot load darkfill as it is here ({type(theirs).__name__}: {theirs})"
            )
        elif theirs != ours:
            found[address] = (
                f"the worker {address} has other files of darkfill than this machine: their key is"
                f" {theirs[:KEY_DIGITS]} there and {ours[:KEY_DIGITS]} here"
            )
    return found


def _version(name: str, version: str | None) -> str:
    """A version in words; Python tells its own in five parts, of which three are a version."""
    if version is None:
        return "missing"
    return ".".join(version.split(".")[:3]) if name == "python" else version
