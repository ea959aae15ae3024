"""Opening a serial port, and a sentence with the cure for everything that can go wrong with that."""

from __future__ import annotations

import contextlib
import errno
import sys
from pathlib import Path

import serial

from benchtemp.errors import BadInput, PortBusy, PortDenied, PortLost, PortMissing, SourceError
from benchtemp.readings.layout import Wire

READ_TIMEOUT_S = 0.2
_WRITE_TIMEOUT_S = 1.0
_PARITY = {"none": "N", "even": "E", "odd": "O", "mark": "M", "space": "S"}

Port = serial.Serial
"""An open port; what opens a URL answers to the same names."""

try:
    import termios

    _TERMINAL_ERRORS: tuple[type[Exception], ...] = (termios.error,)
except ImportError:  # Windows
    _TERMINAL_ERRORS = ()

UNPLUGGED: tuple[type[Exception], ...] = (OSError, *_TERMINAL_ERRORS, PortLost, PortMissing)
"""What a port that goes away raises: pyserial's errors are OSErrors, those of termios are not."""
_OPENING: tuple[type[Exception], ...] = (OSError, ValueError, *_TERMINAL_ERRORS)


def open_port(device: str, wire: Wire, *, timeout_s: float = READ_TIMEOUT_S) -> Port:
    """Open a port for this program alone.

    Args:
        device: A device name, a link to one, or a pyserial URL (`socket://…`, `rfc2217://…`, `loop://`).
        wire: Baud rate and the like.
        timeout_s: How long a read waits at most, s.

    Raises:
        SourceError: It cannot be opened; the kind and the sentence say why.
        BadInput: It is not a serial port, or it does not know these settings.
    """
    try:
        port: Port = serial.serial_for_url(
            device,
            baudrate=wire.baud,
            bytesize=wire.data_bits,
            parity=_PARITY[wire.parity],
            stopbits=wire.stop_bits,
            timeout=timeout_s,
            write_timeout=_WRITE_TIMEOUT_S,
            exclusive=True,
        )
    except _OPENING as exc:
        raise opening_error(exc, device, wire) from exc
    if hasattr(port, "set_low_latency_mode"):
        with contextlib.suppress(*_OPENING):  # most drivers know no such mode
            port.set_low_latency_mode(True)
    return port


def opening_error(exc: Exception, device: str, wire: Wire) -> SourceError | BadInput:
    """Return what to tell about a port that did not open."""
    said = str(exc)
    number = exc.errno if isinstance(exc, OSError) else None
    if "://" in device:
        return _address_error(exc, device)
    if number in (errno.ENOENT, errno.ENXIO, errno.ENODEV) or "FileNotFoundError" in said:
        return PortMissing(
            f"There is no port {device}; plug the interface in, and pick one that “benchtemp ports” lists."
        )
    if number == errno.EBUSY or "exclusively lock" in said:
        return _busy(device)
    if "PermissionError" in said or (sys.platform == "win32" and number == errno.EACCES):
        return _busy(device)  # Windows says "access denied" of a port that another program has open
    if number in (errno.EACCES, errno.EPERM):
        return PortDenied(
            f"The system does not let you open {device}; join the group “{_group_of(device)}” "
            f"(sudo usermod -a -G {_group_of(device)} $USER), then log out and in again."
        )
    if (
        number in (errno.EISDIR, errno.ENOTTY)
        or "Inappropriate ioctl" in said
        or "configure port: (25" in said
    ):
        return BadInput(f"{device} is not a serial port; pick one that “benchtemp ports” lists.")
    if isinstance(exc, ValueError) or number == errno.EINVAL or "configure port" in said:
        return BadInput(
            f"{device} cannot be set to {wire.baud} baud, {wire.data_bits} data bits, parity {wire.parity}, "
            f"{wire.stop_bits} stop bits ({said}); check the layout against the interface's manual."
        )
    return PortMissing(f"{device} could not be opened ({said}); unplug the interface and plug it in again.")


def _address_error(exc: Exception, device: str) -> SourceError | BadInput:
    said = str(exc)
    if isinstance(exc, ValueError) or any(
        hint in said for hint in ("expected a string", "NoneType", "debug|")
    ):
        return BadInput(
            f"{device} is not an address that readings can come from; write for instance socket://host:5000."
        )
    return PortMissing(f"Nothing answers at {device} ({said}); check the address and that the device is on.")


def _busy(device: str) -> PortBusy:
    return PortBusy(
        f"Another program uses {device}; close it (a serial monitor, for instance) and try again."
    )


def _group_of(device: str) -> str:
    """Return the group whose members may open a port: dialout on most systems, uucp on some."""
    with contextlib.suppress(NotImplementedError, OSError, KeyError):
        name = Path(device).group()
        if name != "root":
            return name
    return "dialout"
