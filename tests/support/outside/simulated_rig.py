"""The simulated German mount, camera and filter wheel of the open device protocol, set up and asked to act.

Slews and exposures return when they began and ended, by the clock that the devices share with whoever asks.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from tests.support.outside.open_protocol import Client

MOUNT, CAMERA, WHEEL = "Telescope Simulator", "CCD Simulator", "Filter Simulator"
DRIVERS = ("indi_simulator_telescope", "indi_simulator_ccd", "indi_simulator_wheel")
POSITION, PIER_SIDE, EXPOSURE = "EQUATORIAL_EOD_COORD", "TELESCOPE_PIER_SIDE", "CCD_EXPOSURE"
AXES = "MOUNT_AXES"
Span = tuple[float, float]  # when it was asked for and when it was done, in seconds since 1970
PIXELS = 32  # of the picture's side: what is in it is of no interest


class SimulatedRig:
    """The devices behind a server of their own, which ends with the `with` block."""

    def __init__(self, site: dict[str, float], filters: Sequence[str], folder: Path) -> None:
        self.site, self.filters, self.folder = site, list(filters), folder

    def __enter__(self) -> SimulatedRig:
        with (self.folder / "devices.txt").open("wb") as told:
            self.server = subprocess.Popen(
                ("indiserver", *DRIVERS),
                stdout=told,
                stderr=told,
                env={**os.environ, "HOME": str(self.folder)},
            )
        try:
            self.client = Client()
            self._set_up()
        except BaseException:
            self.server.kill()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.client.close()
        self.server.terminate()
        self.server.wait()

    def _set_up(self) -> None:
        client = self.client
        for device in (MOUNT, CAMERA, WHEEL):
            client.known(device, "CONNECTION")
        client.send("Switch", WHEEL, "CONNECTION", {"CONNECT": "On"})
        client.known(WHEEL, "FILTER_NAME")
        names = list(client.latest(WHEEL, "FILTER_NAME"))
        texts = dict(zip(names, self.filters, strict=False))  # the wheel has more places
        client.send("Text", WHEEL, "FILTER_NAME", texts)
        client.expect(
            "the filters have names", lambda: client.latest(WHEEL, "FILTER_NAME").items() >= texts.items()
        )
        for device, needs in ((MOUNT, (PIER_SIDE,)), (CAMERA, ("FILTER_NAME", EXPOSURE))):
            client.send("Switch", device, "CONNECTION", {"CONNECT": "On"})
            for name in needs:
                client.known(device, name)
        # The camera has a wheel of its own, whose filters it writes of unless told of another wheel afterwards.
        client.send("Text", CAMERA, "ACTIVE_DEVICES", {"ACTIVE_TELESCOPE": MOUNT, "ACTIVE_FILTER": WHEEL})
        client.send("Number", MOUNT, "POLLING_PERIOD", {"PERIOD_MS": 1000})
        place = {
            "LAT": self.site["latitude_deg"],
            "LONG": self.site["longitude_deg"] % 360,
            "ELEV": self.site["elevation_m"],
        }
        client.send("Number", MOUNT, "GEOGRAPHIC_COORD", place)
        client.send("Number", CAMERA, "CCD_FRAME", {"X": 0, "Y": 0, "WIDTH": PIXELS, "HEIGHT": PIXELS})
        client.send("Switch", CAMERA, "UPLOAD_MODE", {"UPLOAD_LOCAL": "On"})
        client.send("Switch", MOUNT, "TELESCOPE_PARK", {"UNPARK": "On"})
        client.listen_until(time.time() + 10)

    def goto(self, ra_h: float, dec_deg: float) -> Span:
        """Go to a place, in right ascension and declination of date, and track."""
        self.client.send("Switch", MOUNT, "ON_COORD_SET", {"TRACK": "On", "SLEW": "Off", "SYNC": "Off"})
        begins = time.time()
        since = self.client.send("Number", MOUNT, POSITION, {"RA": f"{ra_h:.8f}", "DEC": f"{dec_deg:.8f}"})
        return begins, self.client.finished(MOUNT, POSITION, since)

    def stand(self) -> None:
        """Stop tracking."""
        self.client.send("Switch", MOUNT, "TELESCOPE_TRACK_STATE", {"TRACK_OFF": "On", "TRACK_ON": "Off"})

    def park(self) -> Span:
        """Go to the mount's own park position."""
        begins = time.time()
        since = self.client.send("Switch", MOUNT, "TELESCOPE_PARK", {"PARK": "On", "UNPARK": "Off"})
        return begins, self.client.finished(MOUNT, "TELESCOPE_PARK", since)

    def put_in(self, name: str) -> Span:
        """Change the filter; one that is in already is left there."""
        slot = self.filters.index(name) + 1
        begins = time.time()
        if float(self.client.latest(WHEEL, "FILTER_SLOT")["FILTER_SLOT_VALUE"]) == slot:
            return begins, begins
        since = self.client.send("Number", WHEEL, "FILTER_SLOT", {"FILTER_SLOT_VALUE": slot})
        return begins, self.client.finished(WHEEL, "FILTER_SLOT", since)

    def expose(self, seconds: float, target: str, name: str) -> Span:
        """Take one picture, which the camera writes into the folder."""
        self.client.send("Text", CAMERA, "FITS_HEADER", {"FITS_OBSERVER": "", "FITS_OBJECT": target})
        self.client.send(
            "Text", CAMERA, "UPLOAD_SETTINGS", {"UPLOAD_DIR": str(self.folder), "UPLOAD_PREFIX": name}
        )
        begins = time.time()
        since = self.client.send("Number", CAMERA, EXPOSURE, {"CCD_EXPOSURE_VALUE": seconds})
        return begins, self.client.finished(CAMERA, EXPOSURE, since, seconds)

    def sides(self) -> list[tuple[float, str | None]]:
        """All that the mount said of its pier side, with the instant of each word."""
        return [(each.at_s, side_of(each.values)) for each in self.client.about(MOUNT, PIER_SIDE)]

    def axes(self) -> tuple[float, float]:
        """Where the mount last said that its axes are turned to, primary and secondary, in degrees."""
        values = self.client.latest(MOUNT, AXES)
        return float(values["PRIMARY"]), float(values["SECONDARY"])

    def axes_next(self) -> tuple[float, float]:
        """Where it says so next: it does whenever its axes turn, and so while it tracks."""
        heard = len(self.client.about(MOUNT, AXES))
        self.client.expect("the mount tells of its axes", lambda: bool(self.client.about(MOUNT, AXES, heard)))
        return self.axes()


def side_of(values: dict[str, str]) -> str | None:
    """The pier side in words; the protocol's `west` is a tube west of the pier that looks east."""
    for member, side in (("PIER_WEST", "west"), ("PIER_EAST", "east")):
        if values.get(member) == "On":
            return side
    return None
