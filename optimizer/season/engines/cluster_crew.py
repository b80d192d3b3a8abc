"""The workers of a cluster that are there, checked and begun, and what is asked of them.

All of this runs in the event loop of one thread; others read `seats`, `members`, `lost` and `sentences`.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
import uuid
import warnings
from collections import deque
from collections.abc import Callable, Coroutine
from concurrent.futures import BrokenExecutor, CancelledError
from dataclasses import dataclass, field
from typing import Any

from optimizer.errors import ClusterError
from optimizer.season.engines import cluster_worker
from optimizer.season.engines.cluster_check import differences
from optimizer.season.engines.cluster_local import local_cluster
from optimizer.season.engines.seats import TaskFailedError

BEGIN_TRIES = 3  # of a worker that joins, to take the season
CONNECT_S = 10.0  # for a scheduler to answer
WAIT_S = 60.0  # for a worker, while there is none
BEGIN_S = 10.0  # for the first workers to begin; those that have to compile take longer and join later
LOOK_S = 0.5  # between two looks at which workers there are
END_S = 3.0  # for the workers to forget the season; then it is left to them
SAME = "every machine needs the same versions of Python, darkfill and its libraries"


@dataclass(eq=False)
class Member:
    """A worker that has been checked."""

    address: str
    threads: int
    gone: asyncio.Event = field(default_factory=asyncio.Event)
    why: str = "has gone"  # what to say of it once it is `gone`


class Crew:
    """The workers of a season at one scheduler.

    `members` are those that have been checked, by address; `seats` those where the season has begun, one for
    each thread, and `places` all seats that there ever were. `sentences` are for people. `lost` says why
    there is no crew any more; empty: there is one.
    """

    def __init__(self, name: str, desk_data: bytes, folder: str, count: int) -> None:
        """Take the address of a scheduler or `dask`, a pickled desk, the folder of a local cluster's cache,
        and how many workers to use, 0: all.
        """
        self.dashboard, self.lost = "", ""
        self.members: dict[str, Member] = {}
        self.seats: dict[int, Member] = {}
        self.places: dict[int, Member] = {}
        self.sentences: deque[str] = deque()
        self._name, self._is_local, self._count = name, name == "dask", count
        self._desk_data, self._folder = desk_data, folder if name == "dask" else None
        self._token = uuid.uuid4().hex
        self._refused: set[str] = set()
        self._begin_tries: dict[str, int] = {}
        self._closing = contextlib.AsyncExitStack()
        self._client: Any = None
        self._tasks: set[asyncio.Task[None]] = set()
        self._joining: asyncio.Task[Any] | None = None

    async def join(self) -> None:
        """Reach the scheduler, check its workers and begin there; raises ClusterError where it cannot."""
        self._joining = asyncio.current_task()
        try:
            from distributed import Client
            from distributed.versions import VersionMismatchWarning
        except ImportError as error:
            raise ClusterError(
                f"--engine {self._name}: this needs Dask, which is not installed here ({error}):"
                " python -m pip install 'darkfill[cluster]' brings it"
            ) from None
        address = self._name
        if self._is_local:
            address = await self._closing.enter_async_context(local_cluster(self._count))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", VersionMismatchWarning)  # it is checked below, in our words
            try:
                client = Client(address, asynchronous=True, timeout=CONNECT_S, set_as_default=False)
                self._closing.push_async_callback(client.close)  # also where Ctrl-C ends what follows
                await client
            except OSError as error:
                raise ClusterError(
                    f"--engine {self._name}: no scheduler answers there within {CONNECT_S:g} s ({error});"
                    " `dask scheduler` starts one and says its address"
                ) from None
        self._client = client
        self.dashboard = await self._page()
        await self._first_workers()
        self._start(self._watched())

    async def _page(self) -> str:
        """The address of the scheduler's page."""
        port = (await self._client.scheduler.identity(n_workers=0))["services"].get("dashboard")
        host = self._client.scheduler.address.rpartition("://")[2].rpartition(":")[0]
        return f"http://{host}:{port}/status" if port else ""

    async def _first_workers(self) -> None:
        """Check the workers that are there; wait for one if there is none. Raises ClusterError."""
        until = time.monotonic() + WAIT_S
        while not (there := await self._ready()):
            if time.monotonic() > until:
                raise ClusterError(
                    f"--engine {self._name}: the scheduler answers, but no worker has joined it within"
                    f" {WAIT_S:g} s; `dask worker {self._name} --nthreads 1 --nworkers auto` starts some"
                )
            await asyncio.sleep(LOOK_S)
        wrong = await self._begun_at(there)
        if wrong:
            first, *others = wrong.values()
            more = f" (and {len(others)} more)" if others else ""
            raise ClusterError(f"--engine {self._name}: {first}{more}; {SAME}")
        if self._tasks:  # else the first one to begin would get all of the first tasks
            await asyncio.wait(self._tasks, timeout=BEGIN_S)

    async def _ready(self) -> dict[str, int]:
        """How many threads each worker has, of those that begin tasks."""
        there: dict[str, int] = await self._client.scheduler.ncores_running()
        return there

    async def _watched(self) -> None:
        """Look again and again which workers there are, as long as the scheduler answers."""
        while True:
            await asyncio.sleep(LOOK_S)
            try:
                there = await self._ready()
                known = there if there.keys() >= self.members.keys() else await self._client.nthreads()
            except Exception as error:  # whatever a broken connection comes to
                self.lost = (
                    f"the scheduler of {self._name} no longer answers ({type(error).__name__}: {error}); what"
                    " was answered is kept: the same command goes on once it runs"
                )
                for member in list(self.members.values()):
                    self._dropped(member)
                return
            for member in [each for each in self.members.values() if each.address not in there]:
                if member.address in known:
                    member.why = "begins no more tasks, as one that closes or is short of memory"
                self._dropped(member)
            self._refused &= there.keys()
            with contextlib.suppress(Exception):  # a worker that has gone meanwhile; the next look tells
                for words in (await self._begun_at(there)).values():
                    self.sentences.append(f"{words}, so that it is not used")

    async def _begun_at(self, there: dict[str, int]) -> dict[str, str]:
        """Check the workers that are new, and begin at those that pass; what is wrong with the others."""
        room = self._count - len(self.members) if self._count else len(there)
        new = [each for each in there if each not in self.members and each not in self._refused]
        new = new[: max(0, room)]
        wrong = await differences(self._client, new) if new else {}
        self._refused |= wrong.keys()
        passed = [each for each in new if each not in wrong]
        if not passed or self._client.scheduler.address in wrong:
            return wrong
        data = await self._client.scatter(self._desk_data, workers=passed, broadcast=True, hash=False)
        for address in passed:
            member = self.members[address] = Member(address, there[address])
            self._start(self._begun(member, data))
        return wrong

    async def _begun(self, member: Member, data: Any) -> None:
        """Begin at a worker, which takes long if it has to compile; then it has seats."""
        try:
            if self._is_local:
                await self._client.run(cluster_worker.deafen, workers=[member.address])
            place = self._token, member.address
            await self._at(member, cluster_worker.begin, place, data, self._folder)
        except (BrokenExecutor, CancelledError):
            self._dropped(member)
        except Exception as error:  # whatever it raised
            self._dropped(member)
            tries = self._begin_tries[member.address] = self._begin_tries.get(member.address, 0) + 1
            if tries >= BEGIN_TRIES:
                self._refused.add(member.address)
                words = f"{type(error).__name__}: {error}"
                self.sentences.append(
                    f"the worker {member.address} cannot begin ({words}), so that it is not used"
                )
        else:
            for _ in range(member.threads):
                seat = len(self.places)
                self.places[seat] = self.seats[seat] = member

    def _dropped(self, member: Member) -> None:
        """Give out no more tasks to a worker, and wait no more for what it does."""
        member.gone.set()
        if self.members.get(member.address) is member:
            del self.members[member.address]
        self.seats = {seat: each for seat, each in self.seats.items() if each is not member}

    async def answer(self, member: Member, turn: int, call: bytes, key: bytes | None) -> tuple[Any, ...]:
        """The worker, the key, and what a pickled call came to there: `carried` bytes, and sentences.

        Raises BrokenExecutor where the worker has gone, TaskFailedError where the call raised something.
        """
        place = self._token, member.address
        packet = await asyncio.to_thread(cluster_worker.carried, call)  # it takes long where the call is
        try:
            answer = await self._at(member, cluster_worker.do, place, turn, packet)
        except (BrokenExecutor, CancelledError):
            raise
        except cluster_worker.NotBegunError:  # started again under its old address
            member.why = "has forgotten the season, as one does that was started anew"
            self._dropped(member)
            raise BrokenExecutor from None
        except Exception as error:
            raise TaskFailedError from error
        return member, key, *answer

    async def _at(self, member: Member, function: Callable[..., Any], *arguments: Any) -> Any:
        """What a function returns at a worker, nowhere else; raises BrokenExecutor once it has gone."""
        from distributed.scheduler import KilledWorker

        if member.gone.is_set():
            raise BrokenExecutor
        future = self._client.submit(
            function,
            *arguments,
            key=f"{function.__name__}-{uuid.uuid4().hex}",
            workers=[member.address],
            allow_other_workers=False,
            pure=False,
        )
        gone = asyncio.ensure_future(member.gone.wait())
        answer = asyncio.ensure_future(future.result())
        try:
            await asyncio.wait({gone, answer}, return_when=asyncio.FIRST_COMPLETED)
            if not answer.done():
                raise BrokenExecutor
            try:
                return answer.result()
            except (CancelledError, KilledWorker) as error:
                raise BrokenExecutor from error
        finally:
            gone.cancel()
            answer.cancel()
            future.release()  # what has not begun never will

    async def halt(self, turn: int) -> None:
        """Have the jobs of a turn end at the next night that they ask for."""
        if self._client is not None:
            await self._tell_all(cluster_worker.halt, self._token, turn)

    async def leave(self) -> None:
        """Have the workers forget the season, and leave the scheduler; a local cluster ends."""
        for task in self._tasks:
            task.cancel()
        if self._joining is not None:  # Ctrl-C may have come while it went on
            await asyncio.wait({self._joining})
        if self._client is not None and not self._is_local and not self.lost:
            with contextlib.suppress(Exception):
                await asyncio.wait_for(self._tell_all(cluster_worker.end, self._token), END_S)
        await self._closing.aclose()

    async def _tell_all(self, function: Callable[..., Any], *arguments: Any) -> None:
        if self.members:
            await self._client.run(function, *arguments, workers=list(self.members), on_error="ignore")

    def _start(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)  # the loop itself would forget it
        task.add_done_callback(self._tasks.discard)
