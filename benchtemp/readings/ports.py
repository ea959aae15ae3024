"""Serial ports: which there are, by names a person knows, and how to find the same adapter again.

A port's device name may change each time it is plugged in; what stays is the adapter's USB identity.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING, NamedTuple

from serial.tools.list_ports import comports

from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from serial.tools.list_ports_common import ListPortInfo


class PortIdentity(NamedTuple):
    """What stays the same about an adapter wherever it is named.

    Attributes:
        vid: USB vendor number.
        pid: USB product number.
        serial_number: The adapter's own serial number; empty where it has none.
        location: The USB socket it is plugged into, which tells adapters without a serial number apart.
    """

    vid: int
    pid: int
    serial_number: str = ""
    location: str = ""

    def __str__(self) -> str:
        """Return the identity as one word to keep, such as `0123:4567:A1B2@1-2`."""
        return f"{self.vid:04x}:{self.pid:04x}:{self.serial_number}@{self.location}"

    @classmethod
    def parse(cls, written: str) -> PortIdentity:
        """Read an identity that was kept.

        Raises:
            BadInput: The text is none.
        """
        found = re.fullmatch(r"([0-9a-fA-F]{4}):([0-9a-fA-F]{4}):(.*)@([^@]*)", written, re.DOTALL)
        if not found:
            raise BadInput(f"“{written}” does not name a USB adapter; choose the port from the list again.")
        return cls(int(found[1], 16), int(found[2], 16), found[3], found[4])


class PortInfo(NamedTuple):
    """A serial port.

    Attributes:
        device: What it is opened by, such as `/dev/ttyUSB0` or `COM5`.
        name: What a person picks it by.
        identity: Its adapter, or None for a port that is built in.
    """

    device: str
    name: str
    identity: PortIdentity | None = None


def list_ports() -> tuple[PortInfo, ...]:
    """Return the serial ports of this computer, USB adapters first, then in natural order of their names."""
    found = [_port_info(port) for port in comports() if not _is_dial_in(port.device)]
    return tuple(sorted(found, key=lambda port: (port.identity is None, _natural(port.device))))


def find_again(identity: PortIdentity) -> PortInfo | None:
    """Return where an adapter is now, or None where it is not plugged in.

    An adapter with a serial number is known by it; where several carry the same number (cheap ones do), and
    where there is none, by the USB socket.
    """
    return _find(identity, list_ports())


def _find(identity: PortIdentity, ports: tuple[PortInfo, ...]) -> PortInfo | None:
    same_kind = [
        (port, port.identity)
        for port in ports
        if port.identity is not None
        and port.identity[:3] == (identity.vid, identity.pid, identity.serial_number)
    ]
    if identity.serial_number and len(same_kind) == 1:
        return same_kind[0][0]
    return next((port for port, found in same_kind if found.location == identity.location), None)


def port_at(device: str) -> PortInfo:
    """Return what is known about a port by its device name, a link to it, or a URL; never fails."""
    if "://" not in device:
        wanted = _resolved(device)
        for port in list_ports():
            if device == port.device or wanted == _resolved(port.device):
                return PortInfo(device, port.name, port.identity)
    return PortInfo(device, device)


def _resolved(device: str) -> str:
    return os.path.realpath(device) if "/" in device else device.upper()


def _is_dial_in(device: str) -> bool:
    """Tell macOS's `tty.*` names, which wait for a carrier, from their `cu.*` twins."""
    return device.startswith("/dev/tty.")


def _port_info(port: ListPortInfo) -> PortInfo:
    identity = None
    if port.vid is not None and port.pid is not None:
        location = re.sub(r":x\.0\Z", "", port.location or "")
        identity = PortIdentity(port.vid, port.pid, (port.serial_number or "").strip(), location)
    return PortInfo(port.device, _human_name(port), identity)


def _human_name(port: ListPortInfo) -> str:
    """Return the product's name with its maker's where that adds something, and the port it is on."""
    short = re.sub(r"\A/dev/", "", port.device)
    product = _clean(port.product) or _clean(port.description)
    product = re.sub(rf"\s*\({re.escape(short)}\)\s*\Z", "", product)  # Windows names the port there already
    maker = _clean(port.manufacturer)
    if maker and maker.lower() not in product.lower() and port.vid is not None:
        product = f"{maker} {product}".strip()
    if not product or product == short:
        product = "USB serial adapter" if port.vid is not None else "serial port"
    return f"{product} ({short})"


def _clean(text: str | None) -> str:
    text = " ".join((text or "").split())
    return "" if text.lower() in ("n/a", "none", "") else "".join(sign for sign in text if sign.isprintable())


def _natural(device: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"(\d+)", device)]
