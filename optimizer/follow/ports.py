"""The port that a server listens at, the names that its computer has, and its address on the net."""

from __future__ import annotations

import errno
import os
import socket

from optimizer.errors import InputError, InputProblem

PORT = 8777
_LOOPBACK, _ANY = ("127.0.0.1", "::1"), ("0.0.0.0", "::")
_WAITING = 128  # connections that the system keeps until they are taken
_FAR_AWAY = ("192.0.2.1", 9)  # an address that nobody has (RFC 5737)


def listening(port: int, *, lan: bool) -> list[socket.socket]:
    """Open sockets that listen at this port by IPv4 and, where the system has it, by IPv6; they never block.

    Without `lan` they listen to this computer alone. Port 0 stands for any that is free. Raises InputError
    where the port cannot be had.
    """
    addresses = _ANY if lan else _LOOPBACK
    sockets: list[socket.socket] = []
    for family, address in zip((socket.AF_INET, socket.AF_INET6), addresses, strict=True):
        own_port = sockets[0].getsockname()[1] if sockets else port
        try:
            sockets.append(_bound(family, address, own_port))
        except (OSError, OverflowError) as error:
            taken = isinstance(error, OSError) and error.errno == errno.EADDRINUSE
            if sockets and not (taken and port):  # a system without IPv6 is served all the same
                continue
            for each in sockets:
                each.close()
            raise _no_port(port, error) from error
    return sockets


def _bound(family: socket.AddressFamily, address: str, port: int) -> socket.socket:
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        if family == socket.AF_INET6:
            listening.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        # so that it can be had at once after a server has ended; on Windows the option of that name would let
        # two programs have one port
        option = "SO_EXCLUSIVEADDRUSE" if os.name == "nt" else "SO_REUSEADDR"
        listening.setsockopt(socket.SOL_SOCKET, getattr(socket, option), 1)
        listening.bind((address, port))
        listening.listen(_WAITING)
        listening.setblocking(False)
    except BaseException:
        listening.close()
        raise
    return listening


def _no_port(port: int, error: OSError | OverflowError) -> InputError:
    if isinstance(error, OverflowError):
        what, remedy = "is no port", "give a whole number from 1024 to 65535"
    elif error.errno == errno.EADDRINUSE:
        what = "another program has this port already"
        remedy = (
            f"end that program, or name another port, such as --port {port + 1 if port < 65535 else PORT}"
        )
    elif error.errno == errno.EACCES:
        what, remedy = "the system does not give this port away", "name another one from 1024 to 65535"
    else:
        what, remedy = f"the port cannot be had: {error.strerror or error}", "name another one with --port"
    return InputError([InputProblem("command line", "--port", what, remedy, str(port))])


def names(*, lan: bool) -> frozenset[str]:
    """The names and addresses that this computer is always called by, and on a net its own name.

    Others may give its name an address of their choice; where nobody else is served, it is of no use.
    """
    own = {"localhost", "127.0.0.1", "[::1]"}
    if lan:
        host = socket.gethostname().lower()
        short = host.partition(".")[0]
        own |= {host, short, f"{short}.local"}
    return frozenset(own - {"", ".local"})


def own_address() -> str | None:
    """The address by which this computer is reached from its net, or None where it cannot be told."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_FAR_AWAY)  # of a datagram socket: it sends nothing, and says which way it would go
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if address.startswith(("127.", "0.")) else address
