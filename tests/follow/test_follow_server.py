"""Whatever a client sends, it gets the page, a list or a refusal, and the server is there for the next one."""

from __future__ import annotations

import contextlib
import errno
import http.client
import socket
import struct
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence

import pytest

from optimizer.errors import InputError
from optimizer.follow import ports, server
from optimizer.follow.answers import REFUSALS
from optimizer.follow.server import Contents, Limits, ListServer

CONTENTS = Contents(b"<p>the night</p>" * 500, b'{"schema": "darkfill-shots/1"}\n', b"step,kind\n", "0a1b")
MARK = b"Zq7Mark"  # stands in every hostile request, and must stand in no answer
WAIT_S = 20.0  # a client that waits longer has found a defect
PATIENT = Limits(request_s=WAIT_S, answer_s=WAIT_S, left_s=WAIT_S)  # however busy the machine is
IMPATIENT = Limits(request_s=0.3, answer_s=WAIT_S, left_s=0.3)


@pytest.fixture(scope="module")
def running() -> Iterator[ListServer]:
    with ListServer(lambda: CONTENTS, port=0, limits=PATIENT) as own:
        yield own


@pytest.fixture(scope="module")
def impatient() -> Iterator[ListServer]:
    with ListServer(lambda: CONTENTS, port=0, limits=IMPATIENT) as own:
        yield own


def connected(port: int, host: str = "127.0.0.1") -> socket.socket:
    return socket.create_connection((host, port), timeout=WAIT_S)


def all_of(client: socket.socket) -> bytes:
    """What the server sends until it ends the connection."""
    parts = []
    try:
        while part := client.recv(1 << 16):
            parts.append(part)
    except ConnectionError:  # it ended while there was more to read from us
        ...
    return b"".join(parts)


def spoken(port: int, data: bytes, host: str = "127.0.0.1", *, half_closed: bool = False) -> bytes:
    """Send bytes, and read all that is answered."""
    with connected(port, host) as client:
        try:
            client.sendall(data)
            if half_closed:
                client.shutdown(socket.SHUT_WR)
        except ConnectionError:  # it has refused already
            ...
        return all_of(client)


def judged(answer: bytes) -> int:
    """The status of an answer, which must be the page, a list or a refusal word for word, and nothing else."""
    assert MARK.lower() not in answer.lower()
    head, parted, body = answer.partition(b"\r\n\r\n")
    assert parted, answer
    line, *fields = head.decode("ascii").split("\r\n")
    assert line.startswith("HTTP/1.1 ")
    status = int(line.split(" ")[1])
    named = dict(field.split(": ", 1) for field in fields)
    assert len(named) == len(fields)
    assert named["Server"] == "darkfill"
    assert named["Connection"] == "close"
    assert named["Cache-Control"] == "no-cache"
    assert named["X-Content-Type-Options"] == "nosniff"
    assert named["Referrer-Policy"] == "no-referrer"
    if status == 304:
        assert not body
        return status
    assert int(named["Content-Length"]) == len(body)
    if status == 200:
        assert body in (CONTENTS.page, CONTENTS.json, CONTENTS.csv)
    else:
        assert body.decode() == REFUSALS[status][1] + "\n"
    return status


def get(port: int, path: str = "/", *fields: str, host: str | None = None, method: str = "GET") -> bytes:
    lines = (f"{method} {path} HTTP/1.1", f"Host: {host or f'localhost:{port}'}", *fields, "", "")
    return "\r\n".join(lines).encode("latin-1")


def is_alive(port: int) -> bool:
    return judged(spoken(port, get(port))) == 200


def lines(*rest: bytes) -> Callable[[int], bytes]:
    """A request of these lines, with HOST exchanged for the right Host."""
    return lambda port: b"\r\n".join((*rest, b"", b"")).replace(b"HOST", b"Host: localhost:%d" % port)


HOSTILE: dict[str, tuple[Callable[[int], bytes], int]] = {
    # paths
    "dots": (lines(b"GET /../Zq7Mark/etc/passwd HTTP/1.1", b"HOST"), 404),
    "dots after the list": (lines(b"GET /list.json/../Zq7Mark HTTP/1.1", b"HOST"), 404),
    "dots, escaped": (lines(b"GET /%2e%2e/%2e%2e/Zq7Mark HTTP/1.1", b"HOST"), 404),
    "dots, backslashes": (lines(b"GET /..\\..\\Zq7Mark HTTP/1.1", b"HOST"), 404),
    "an escaped list": (lines(b"GET /list%2ejson HTTP/1.1", b"HOST"), 404),
    "two slashes": (lines(b"GET //list.json HTTP/1.1", b"HOST"), 404),
    "a slash behind": (lines(b"GET /list.json/ HTTP/1.1", b"HOST"), 404),
    "capitals": (lines(b"GET /LIST.JSON HTTP/1.1", b"HOST"), 404),
    "a query": (lines(b"GET /?Zq7Mark=1 HTTP/1.1", b"HOST"), 404),
    "a fragment": (lines(b"GET /#Zq7Mark HTTP/1.1", b"HOST"), 404),
    "an escaped NUL": (lines(b"GET /list.json%00Zq7Mark HTTP/1.1", b"HOST"), 404),
    "a NUL": (lines(b"GET /list.json\0Zq7Mark HTTP/1.1", b"HOST"), 400),
    "a path that is not ASCII": (lines("GET /Zq7Mark/ä HTTP/1.1".encode(), b"HOST"), 400),
    "a script": (lines(b"GET /<script>Zq7Mark</script> HTTP/1.1", b"HOST"), 404),
    "no path": (lines(b"GET  HTTP/1.1", b"HOST"), 400),
    "a star": (lines(b"GET * HTTP/1.1", b"HOST"), 404),
    "a whole address": (lines(b"GET http://Zq7Mark.example/ HTTP/1.1", b"HOST"), 404),
    "its own whole address": (lines(b"GET http://localhost/list.json HTTP/1.1", b"HOST"), 404),
    "a blank in the path": (lines(b"GET /Zq7Mark list.json HTTP/1.1", b"HOST"), 400),
    # sizes
    "a very long path": (lines(b"GET /" + b"Zq7Mark" * 1000 + b" HTTP/1.1", b"HOST"), 414),
    "a line without end": (lambda _: b"GET /" + b"Zq7Mark" * 100_000, 414),
    "a very long field": (lines(b"GET / HTTP/1.1", b"HOST", b"X: " + b"Zq7Mark" * 10_000), 431),
    "10,000 fields": (lines(b"GET / HTTP/1.1", b"HOST", *(b"X%d: Zq7Mark" % n for n in range(10_000))), 431),
    "101 short fields": (lines(b"GET / HTTP/1.1", b"HOST", *(b"X%d: 1" % n for n in range(100))), 431),
    # methods
    **{
        name: (lines(name.encode() + b" /Zq7Mark HTTP/1.1", b"HOST"), 405)
        for name in (
            "POST",
            "PUT",
            "DELETE",
            "OPTIONS",
            "TRACE",
            "PATCH",
            "PROPFIND",
            "ZQ7MARK",
            "get",
            "Get",
        )
    },
    "HEAD": (lines(b"HEAD / HTTP/1.1", b"HOST"), 405),
    "CONNECT": (lines(b"CONNECT Zq7Mark.example:443 HTTP/1.1", b"HOST"), 405),
    "a method that is none": (lines(b"G(E)T / HTTP/1.1", b"HOST"), 400),
    # bodies
    "a body": (lambda port: get(port, "/", "Content-Length: 7") + MARK, 413),
    "a body that never comes": (lambda port: get(port, "/", "Content-Length: 1000000000"), 413),
    "a body to be asked for": (lambda port: get(port, "/", "Expect: 100-continue", "Content-Length: 7"), 413),
    "a form": (lambda port: get(port, "/", "Content-Length: 7", method="POST") + MARK, 405),
    "chunks": (lambda port: get(port, "/", "Transfer-Encoding: chunked") + b"7\r\nZq7Mark\r\n0\r\n\r\n", 413),
    "two lengths": (lambda port: get(port, "/", "Content-Length: 0", "Content-Length: 7") + MARK, 413),
    "two equal lengths": (lambda port: get(port, "/", "Content-Length: 0", "Content-Length: 0"), 413),
    "a length and chunks": (
        lambda port: get(port, "/", "Content-Length: 0", "Transfer-Encoding: chunked") + b"0\r\n\r\n",
        413,
    ),
    "a length that is none": (lambda port: get(port, "/", "Content-Length: -1"), 413),
    "a list of lengths": (lambda port: get(port, "/", "Content-Length: 0, 7"), 413),
    # hosts
    "no host": (lines(b"GET /Zq7Mark HTTP/1.1"), 400),
    "no host in HTTP/1.0": (lines(b"GET / HTTP/1.0"), 400),
    "two hosts": (lines(b"GET / HTTP/1.1", b"HOST", b"Host: Zq7Mark.example"), 400),
    "the same host twice": (lines(b"GET / HTTP/1.1", b"HOST", b"HOST"), 400),
    "an empty host": (lines(b"GET / HTTP/1.1", b"Host:"), 403),
    "another host": (lines(b"GET / HTTP/1.1", b"Host: Zq7Mark.example"), 403),
    "another host at the port": (lambda port: get(port, host=f"Zq7Mark.example:{port}"), 403),
    "a name that leads here": (lambda port: get(port, host=f"127.0.0.1.Zq7Mark.example:{port}"), 403),
    "a name that begins alike": (lambda port: get(port, host=f"localhost.Zq7Mark.example:{port}"), 403),
    "a name that ends alike": (lambda port: get(port, host=f"Zq7Mark.localhost:{port}"), 403),
    "a user": (lambda port: get(port, host=f"Zq7Mark@localhost:{port}"), 403),
    "a user that looks alike": (lambda port: get(port, host=f"localhost:{port}@Zq7Mark.example"), 403),
    "another port": (lambda port: get(port, host=f"localhost:{port + 1}"), 403),
    "no port": (lambda port: get(port, host="localhost"), 403),
    "another form of the address": (lambda port: get(port, host=f"2130706433:{port}"), 403),
    "the address of everything": (lambda port: get(port, host=f"0.0.0.0:{port}"), 403),
    "a host of blanks": (lambda port: get(port, host=f"localhost:{port} Zq7Mark"), 403),
    # versions and shapes
    "HTTP/0.9": (lambda _: b"GET /\r\n", 400),
    "HTTP/0.9 with blank lines": (lambda _: b"GET /Zq7Mark\r\n\r\n", 400),
    "HTTP/2.0's beginning": (lambda _: b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", 505),
    "HTTP/3.7": (lines(b"GET / HTTP/3.7", b"HOST"), 505),
    "HTTP/11": (lines(b"GET / HTTP/11", b"HOST"), 400),
    "HTTP/1.10": (lines(b"GET / HTTP/1.10", b"HOST"), 400),
    "another protocol": (lines(b"GET / ICY/1.1", b"HOST"), 400),
    "only line feeds": (lambda port: get(port).replace(b"\r\n", b"\n"), 400),
    "a line feed alone": (lines(b"GET / HTTP/1.1", b"HOST", b"X: 1\nHost: Zq7Mark.example"), 400),
    "a carriage return alone": (lines(b"GET / HTTP/1.1", b"HOST", b"X: 1\rZq7Mark: 2"), 400),
    "a folded field": (lines(b"GET / HTTP/1.1", b"X: 1", b" Zq7Mark", b"HOST"), 400),
    "a blank before the colon": (lines(b"GET / HTTP/1.1", b"Host : Zq7Mark.example", b"HOST"), 400),
    "a field without a colon": (lines(b"GET / HTTP/1.1", b"HOST", b"Zq7Mark"), 400),
    "a field with a NUL": (lines(b"GET / HTTP/1.1", b"HOST", b"X: \0Zq7Mark"), 400),
    "an empty line first": (lambda port: b"\r\n" + get(port), 400),
    "a blank first": (lambda port: b" " + get(port), 400),
    "garbage": (lambda _: bytes(range(128, 256)) * 40 + MARK, 400),
    "NULs": (lambda _: bytes(100_000), 400),
    "garbage that begins like text": (lambda _: b"GE" + bytes(range(256)) * 100 + MARK, 400),
    "a TLS hello": (lambda _: bytes.fromhex("16030100c8010000c40303") + bytes(189) + MARK, 400),
    "an SSH hello": (lambda _: b"SSH-2.0-Zq7Mark\r\n", 400),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_request_is_refused(running: ListServer, name: str) -> None:
    make, status = HOSTILE[name]
    assert judged(spoken(running.port, make(running.port))) == status
    assert is_alive(running.port)


def test_requests_are_many_and_hostile() -> None:
    assert len(HOSTILE) > 60
    assert {status for _, status in HOSTILE.values()} == set(REFUSALS) - {408, 503}


@pytest.mark.parametrize("end", [1, 10, -2])
def test_a_request_that_is_given_up_is_refused(running: ListServer, end: int) -> None:
    assert judged(spoken(running.port, get(running.port)[:end], half_closed=True)) == 400
    assert is_alive(running.port)


def test_whoever_says_nothing_gets_no_answer(running: ListServer, impatient: ListServer) -> None:
    assert spoken(running.port, b"", half_closed=True) == b""
    assert spoken(impatient.port, b"") == b""
    assert is_alive(impatient.port)


@pytest.mark.parametrize("end", [1, 10, -2])
def test_half_a_request_is_refused_after_a_while(impatient: ListServer, end: int) -> None:
    assert judged(spoken(impatient.port, get(impatient.port)[:end])) == 408
    assert is_alive(impatient.port)


def test_a_client_that_stops_sending_gets_its_answer(running: ListServer) -> None:
    assert judged(spoken(running.port, get(running.port), half_closed=True)) == 200


def test_of_requests_one_after_the_other_on_a_connection_the_first_is_answered(running: ListServer) -> None:
    port = running.port
    answer = spoken(port, get(port, "/list.csv") + get(port, "/list.json") + get(port, "/Zq7Mark"))
    assert judged(answer) == 200
    assert answer.endswith(CONTENTS.csv)
    hidden = get(port, "/list.csv", "Content-Length: 0") + b"GET /Zq7Mark HTTP/1.1\r\nX: "
    assert spoken(port, hidden + get(port)).endswith(CONTENTS.csv)


def test_a_client_that_sends_a_byte_now_and_then_is_refused(impatient: ListServer) -> None:
    with connected(impatient.port) as client:
        ended = threading.Event()

        def drip() -> None:
            for byte in get(impatient.port, "/list.json", "X: " + "Zq7Mark" * 200):
                if ended.wait(0.02):
                    return
                try:
                    client.send(bytes((byte,)))
                except OSError:
                    return

        dripping = threading.Thread(target=drip)
        dripping.start()
        assert judged(all_of(client)) == 408
        ended.set()
        dripping.join()
    assert is_alive(impatient.port)


def test_a_client_that_vanishes_harms_nobody(running: ListServer) -> None:
    for part in (0, 5, None):
        client = connected(running.port)
        reset = struct.pack("hh" if sys.platform == "win32" else "ii", 1, 0)
        client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, reset)
        client.sendall(get(running.port)[:part])
        client.close()
    assert is_alive(running.port)


def test_whoever_sends_on_after_a_refusal_gets_it_without_a_reset() -> None:
    limits = Limits(left_s=WAIT_S)
    with ListServer(lambda: CONTENTS, port=0, limits=limits) as own, connected(own.port) as client:
        for _ in range(20):
            client.sendall(b"GET /" + b"Zq7Mark" * 10_000)
            time.sleep(0.002)
        client.shutdown(socket.SHUT_WR)
        assert judged(client.recv(1 << 16)) == 414
        assert client.recv(1 << 16) == b""


def test_slow_clients_leave_the_page_to_others() -> None:
    """Most of those that may be connected say nothing, or do not read: the next one gets the page all the same."""
    limits = Limits(connections=12, answers=4, request_s=WAIT_S, left_s=WAIT_S)
    with ListServer(lambda: CONTENTS, port=0, limits=limits) as own, contextlib.ExitStack() as stack:
        for number in range(9):
            client = stack.enter_context(connected(own.port))
            client.sendall(get(own.port)[: None if number % 2 else 7])
        assert is_alive(own.port)


def test_a_hundred_connections_at_once_all_get_an_answer(running: ListServer) -> None:
    with contextlib.ExitStack() as stack:
        clients = [stack.enter_context(connected(running.port)) for _ in range(100)]
        for number, client in enumerate(clients):
            client.sendall(get(running.port, ("/", "/list.json", "/list.csv", "/Zq7Mark")[number % 4]))
        found = []
        for client in clients:
            found.append(judged(all_of(client)))
            client.close()
    assert set(found) <= {200, 404, 503}
    assert 200 in found
    assert is_alive(running.port)


def test_a_hundred_silent_connections_are_ended(impatient: ListServer) -> None:
    with contextlib.ExitStack() as stack:
        clients = [stack.enter_context(connected(impatient.port)) for _ in range(100)]
        assert is_alive(impatient.port)
        assert {all_of(client) for client in clients} == {b""}


def test_whoever_asks_beyond_the_limit_is_refused_and_told_to_come_again() -> None:
    asked, may_go_on = threading.Event(), threading.Event()

    def contents() -> Contents:
        asked.set()
        may_go_on.wait(WAIT_S)
        return CONTENTS

    with ListServer(contents, port=0, limits=Limits(answers=1)) as own, connected(own.port) as first:
        first.sendall(get(own.port))
        assert asked.wait(WAIT_S)
        refused = spoken(own.port, get(own.port))
        assert judged(refused) == 503
        assert b"\r\nRetry-After: 2\r\n" in refused
        may_go_on.set()
        assert judged(all_of(first)) == 200


# --- what is served -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "kind", "body"),
    [
        ("/", "text/html; charset=utf-8", CONTENTS.page),
        ("/list.json", "application/json", CONTENTS.json),
        ("/list.csv", "text/csv; charset=utf-8", CONTENTS.csv),
    ],
)
def test_page_and_list_are_served_to_an_ordinary_client(
    running: ListServer, path: str, kind: str, body: bytes
) -> None:
    client = http.client.HTTPConnection("127.0.0.1", running.port, timeout=WAIT_S)
    client.request("GET", path)
    answer = client.getresponse()
    assert (answer.status, answer.headers["Content-Type"], answer.read()) == (200, kind, body)
    tag = answer.headers["ETag"]
    for known in (tag, f'"other", W/{tag}'):
        client.request("GET", path, headers={"If-None-Match": known})
        again = client.getresponse()
        assert (again.status, again.read(), again.headers["ETag"]) == (304, b"", tag)
    client.request("GET", path, headers={"If-None-Match": '"other"'})
    assert client.getresponse().read() == body
    client.close()


def test_the_list_is_known_by_its_tag_and_the_page_by_its_own(running: ListServer) -> None:
    """The page tells what was seen by then, so it changes though the list stays."""
    tag = b'\r\nETag: "0a1b"\r\n'
    port = running.port
    assert [tag in spoken(port, get(port, path)) for path in ("/", "/list.json", "/list.csv")] == [
        *(False, True, True)
    ]
    assert judged(spoken(port, get(port, "/", 'If-None-Match: "0a1b"'))) == 200


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST", "127.0.0.1", "[::1]"])
def test_own_names_are_served(running: ListServer, host: str) -> None:
    assert judged(spoken(running.port, get(running.port, host=f"{host}:{running.port}"))) == 200


def test_without_the_net_a_name_that_others_may_give_away_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "Hut.example")
    with ListServer(lambda: CONTENTS, port=0, limits=PATIENT) as own:
        for host in ("hut", "hut.local", "hut.example"):
            assert judged(spoken(own.port, get(own.port, host=f"{host}:{own.port}"))) == 403
    with ListServer(lambda: CONTENTS, port=0, lan=True, limits=PATIENT) as own:
        for host in ("hut", "Hut.local", "hut.example", "localhost"):
            assert judged(spoken(own.port, get(own.port, host=f"{host}:{own.port}"))) == 200
        assert judged(spoken(own.port, get(own.port, host=f"other.local:{own.port}"))) == 403


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have one address of their own")
def test_the_address_that_a_request_came_in_on_is_served_and_no_other() -> None:
    with ListServer(lambda: CONTENTS, port=0, lan=True, limits=PATIENT) as own:
        port = own.port
        assert judged(spoken(port, get(port, host=f"127.0.0.2:{port}"), "127.0.0.2")) == 200
        assert judged(spoken(port, get(port, host=f"127.0.0.3:{port}"), "127.0.0.2")) == 403
    with ListServer(lambda: CONTENTS, port=0, limits=PATIENT) as own, pytest.raises(ConnectionRefusedError):
        connected(own.port, "127.0.0.2")


def test_version_6_of_the_net_is_served_too() -> None:
    with ListServer(lambda: CONTENTS, port=0, limits=PATIENT) as own:
        try:
            answer = spoken(own.port, get(own.port, host=f"[::1]:{own.port}"), "::1")
        except OSError as error:
            pytest.skip(f"this system has none: {error}")
        assert judged(answer) == 200


def test_contents_are_made_once_and_never_twice_at_once() -> None:
    made: list[int] = []
    at_once: list[int] = []
    lock = threading.Lock()

    def contents() -> Contents:
        at_once.append(lock.acquire(blocking=False))
        time.sleep(0.002)
        lock.release()
        made.append(1)
        return CONTENTS

    def ask_often(port: int) -> None:
        threads = [threading.Thread(target=is_alive, args=(port,)) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    with ListServer(contents, port=0, limits=Limits(fresh_s=3600.0)) as own:
        ask_often(own.port)
        assert len(made) == 1
    with ListServer(contents, port=0, limits=Limits(fresh_s=0.0)) as own:
        ask_often(own.port)
    assert len(made) == 9
    assert all(at_once)


def test_contents_that_cannot_be_made_do_not_end_the_server() -> None:
    works = False

    def contents() -> Contents:
        if not works:
            raise RuntimeError("Zq7Mark")
        return CONTENTS

    with ListServer(contents, port=0, limits=Limits(fresh_s=0.0)) as own:
        assert judged(spoken(own.port, get(own.port))) == 503
        assert own.trouble == "RuntimeError: Zq7Mark"
        works = True
        assert is_alive(own.port)
        assert own.trouble is None
        works = False
        assert is_alive(own.port)  # what could be made last
        assert own.trouble


# --- beginning and end --------------------------------------------------------------------------------------


def own_threads() -> set[threading.Thread]:
    return {each for each in threading.enumerate() if each.name in ("server", "connection")}


def is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
            probe.listen()
        except OSError:
            return False
    return True


@pytest.mark.parametrize("error", [KeyboardInterrupt, ValueError, None])
def test_it_ends_with_all_its_threads_whoever_is_connected(error: type[BaseException] | None) -> None:
    before = own_threads()
    limits = Limits(connections=10, request_s=3600.0, answer_s=3600.0, left_s=3600.0)
    own = ListServer(lambda: CONTENTS, port=0, limits=limits)
    with contextlib.ExitStack() as stack:
        with pytest.raises(error) if error else contextlib.nullcontext(), own:
            clients = [stack.enter_context(connected(own.port)) for _ in range(14)]
            for number, client in enumerate(clients):
                client.sendall(get(own.port)[: None if number % 3 else 9])
            assert clients[1].recv(8) == b"HTTP/1.1"
            assert not is_free(own.port)
            if error is not None:
                raise error
        own.stop()  # again
        assert own_threads() <= before
        assert is_free(own.port)
        for client in clients:
            all_of(client)  # it ends


def test_it_may_be_started_again(running: ListServer) -> None:
    del running
    own = ListServer(lambda: CONTENTS, port=0, limits=PATIENT)
    for _ in range(2):
        own.start()
        assert is_alive(own.port)
        own.stop()


@pytest.mark.parametrize("lan", [False, True])
def test_a_port_that_is_taken_is_told_with_a_remedy(running: ListServer, lan: bool) -> None:
    with pytest.raises(InputError) as caught:
        ListServer(lambda: CONTENTS, port=running.port, lan=lan).start()
    (problem,) = caught.value.problems
    assert str(problem) == (
        f"command line: --port = {running.port}: another program has this port already; "
        f"end that program, or name another port, such as --port {running.port + 1}"
    )
    assert is_alive(running.port)


@pytest.mark.parametrize(
    ("refusal", "message"),
    [
        (PermissionError(errno.EACCES, "Permission denied"), "the system does not give this port away"),
        (OverflowError("port must be 0-65535"), "is no port"),
        (OSError(errno.EADDRNOTAVAIL, "No address"), "the port cannot be had: No address"),
    ],
)
def test_a_port_that_cannot_be_had_is_told(
    monkeypatch: pytest.MonkeyPatch, refusal: Exception, message: str
) -> None:
    def refuse(*_: object) -> Sequence[socket.socket]:
        raise refusal

    monkeypatch.setattr(ports, "_bound", refuse)
    with pytest.raises(InputError) as caught:
        ListServer(lambda: CONTENTS).start()
    (problem,) = caught.value.problems
    assert (problem.key, problem.value, problem.message) == ("--port", "8777", message)
    assert problem.remedy


def test_it_tells_where_a_browser_finds_it(monkeypatch: pytest.MonkeyPatch) -> None:
    own = "On this computer: http://localhost:8777/"
    assert ListServer(lambda: CONTENTS).addresses == (own,)
    on_net = ListServer(lambda: CONTENTS, lan=True)
    monkeypatch.setattr(server, "own_address", lambda: "192.168.7.5")
    assert on_net.addresses == (own, "On a phone in the same network: http://192.168.7.5:8777/")
    monkeypatch.setattr(server, "own_address", lambda: None)
    assert on_net.addresses[1].startswith("On a phone in the same network: http://ADDRESS:8777/ where ")


@pytest.mark.parametrize(("way", "address"), [("10.1.2.3", "10.1.2.3"), ("127.0.0.1", None), (None, None)])
def test_the_own_address_is_that_of_the_way_out(
    monkeypatch: pytest.MonkeyPatch, way: str | None, address: str | None
) -> None:
    class Probe(socket.socket):
        def connect(self, _: object) -> None:
            if way is None:
                raise OSError(errno.ENETUNREACH, "Network is unreachable")

        def getsockname(self) -> object:
            return way, 1

    monkeypatch.setattr(socket, "socket", Probe)
    assert ports.own_address() == address
