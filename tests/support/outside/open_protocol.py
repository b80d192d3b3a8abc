"""A client of the open device protocol, in which a server tells of devices and their properties as a stream of XML.

It keeps every word that the devices say, in order and with the instant at which it came, and sends new values.
"""

from __future__ import annotations

import select
import socket
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast
from xml.etree.ElementTree import Element, SubElement, XMLPullParser, tostring

Kind = Literal["Switch", "Number", "Text"]
PORT = 7624
PATIENCE_S = 3600.0  # by the devices' clock, which is fast, for an answer beyond what was asked for takes


class NoAnswerError(Exception):
    """A device did not do in time what it was asked, or says that it cannot."""


@dataclass(frozen=True)
class Said:
    """What a device said of one of its properties: the state (Idle, Ok, Busy or Alert) and the values by name."""

    at_s: float
    state: str
    values: dict[str, str]


class Client:
    """A connection to the server on this computer, and all that was heard from it so far."""

    def __init__(self) -> None:
        self._socket = _connected()
        self._parser: XMLPullParser[Any] = XMLPullParser(["start", "end"])
        self._parser.feed(b"<stream>")
        self._open: list[Element] = []
        self._said: defaultdict[tuple[str, str], list[Said]] = defaultdict(list)
        self.messages: list[str] = []
        self._socket.sendall(b'<getProperties version="1.7"/>')

    def send(self, kind: Kind, device: str, name: str, values: Mapping[str, str | float]) -> int:
        """Ask for new values; return how much had been said of the property before."""
        heard = len(self._said[device, name])
        vector = Element(f"new{kind}Vector", device=device, name=name)
        for member, value in values.items():
            SubElement(vector, f"one{kind}", name=member).text = str(value)
        self._socket.sendall(tostring(vector))
        return heard

    def listen(self, seconds: float) -> None:
        """Hear what comes within some seconds, and return as soon as something came."""
        if not select.select([self._socket], [], [], max(0.0, seconds))[0]:
            return
        got = self._socket.recv(1 << 16)
        if not got:
            raise NoAnswerError("the server closed the connection")
        self._parser.feed(got)
        for event, element in cast("Iterable[tuple[str, Element]]", self._parser.read_events()):
            if event == "start":
                self._open.append(element)
                continue
            self._open.pop()
            if len(self._open) == 1:
                self._hear(element)
                self._open[0].clear()

    def listen_until(self, at_s: float) -> None:
        """Hear what comes until an instant."""
        while time.time() < at_s:
            self.listen(at_s - time.time())

    def latest(self, device: str, name: str) -> dict[str, str]:
        """The values of the last word about a property."""
        return self._said[device, name][-1].values

    def about(self, device: str, name: str, since: int = 0) -> list[Said]:
        """What was said of a property, from a number of words on."""
        return self._said[device, name][since:]

    def expect(self, what: str, is_so: Callable[[], bool], lasts_s: float = 0.0) -> None:
        """Listen until something is so that takes some seconds by itself."""
        ends_s = time.time() + lasts_s + PATIENCE_S
        while not is_so():
            if time.time() > ends_s:
                raise NoAnswerError(
                    f"not within {lasts_s + PATIENCE_S:.0f} s: {what}; last told: {self.messages[-3:]}"
                )
            self.listen(ends_s - time.time())

    def known(self, device: str, name: str) -> None:
        """Listen until a device has told of a property."""
        self.expect(f"{device} has {name}", lambda: bool(self.about(device, name)))

    def finished(self, device: str, name: str, since: int, lasts_s: float = 0.0) -> float:
        """Listen until a property was Busy and is so no more; return when that was heard.

        An Ok before the Busy belongs to what was asked before.
        """
        found: list[Said] = []

        def is_so() -> bool:
            busy = False
            for each in self.about(device, name, since):
                if each.state == "Alert":
                    raise NoAnswerError(f"{device} refuses {name}; last told: {self.messages[-3:]}")
                if busy and each.state != "Busy":
                    found.append(each)
                    return True
                busy = each.state == "Busy"
            return False

        self.expect(f"{device} ends {name}", is_so, lasts_s)
        return found[0].at_s

    def close(self) -> None:
        self._socket.close()

    def _hear(self, element: Element) -> None:
        device, name = element.get("device", ""), element.get("name", "")
        if element.tag == "message" or element.get("message"):
            self.messages.append(f"{device}: {element.get('message')}")
        if element.tag.endswith("Vector"):
            values = {each.get("name", ""): (each.text or "").strip() for each in element}
            self._said[device, name].append(Said(time.time(), element.get("state", ""), values))


def _connected() -> socket.socket:
    ends_s = time.time() + PATIENCE_S
    while True:
        try:
            return socket.create_connection(("127.0.0.1", PORT))
        except OSError as error:
            if time.time() > ends_s:
                raise NoAnswerError("the server does not listen") from error
            time.sleep(5)
