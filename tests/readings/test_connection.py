from __future__ import annotations

import errno
import socket
import sys

import pytest
import serial

from benchtemp.errors import BadInput, PortBusy, PortDenied, PortMissing
from benchtemp.readings import connection
from benchtemp.readings.connection import open_port, opening_error
from benchtemp.readings.layout import Wire

posix = pytest.mark.skipif(sys.platform == "win32", reason="device files are a POSIX matter")


@posix
def test_a_missing_port_says_what_to_do():
    with pytest.raises(PortMissing, match=r"no port /dev/none.*plug the interface in"):
        open_port("/dev/none", Wire())


@posix
@pytest.mark.parametrize("device", ["/dev/null", "/tmp", __file__])
def test_what_is_no_serial_port_is_called_that(device):
    with pytest.raises(BadInput, match="is not a serial port"):
        open_port(device, Wire())


def test_a_port_in_use_says_so(interface):
    first = open_port(interface.path, Wire())
    with pytest.raises(PortBusy, match="Another program uses"):
        open_port(interface.path, Wire())
    first.close()
    open_port(interface.path, Wire()).close()


@posix
def test_a_refused_port_names_the_group_to_join(tmp_path, monkeypatch):
    device = tmp_path / "ttyUSB0"
    device.touch()
    monkeypatch.setattr(connection.Path, "group", lambda _path: "uucp")
    exc = opening_error(PermissionError(errno.EACCES, "Permission denied"), str(device), Wire())
    assert isinstance(exc, PortDenied)
    assert "usermod -a -G uucp" in str(exc)
    monkeypatch.setattr(connection.Path, "group", lambda _path: "root")
    assert "dialout" in str(opening_error(PermissionError(errno.EPERM, "no"), str(device), Wire()))


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)", PortBusy),
        ("could not open port 'COM3': FileNotFoundError(2, 'not found', None, 2)", PortMissing),
        ("could not open port 'COM3': OSError(22, 'A device is not functioning.', None, 31)", PortMissing),
    ],
)
def test_windows_messages_are_understood(said, kind):
    exc = opening_error(serial.SerialException(said), "COM3", Wire())
    assert isinstance(exc, kind)
    assert "COM3" in str(exc)


def test_settings_a_port_does_not_know_are_named():
    exc = opening_error(ValueError("Invalid baud rate: 4000000"), "/dev/ttyUSB0", Wire(baud=4_000_000))
    assert isinstance(exc, BadInput)
    assert "4000000 baud" in str(exc)


@pytest.mark.parametrize("address", ["nothing://x", "socket://x", "socket://localhost:99999999"])
def test_what_is_no_address_is_called_that(address):
    with pytest.raises(BadInput, match="not an address"):
        open_port(address, Wire())


def test_an_address_where_nothing_answers_says_so():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound, but not listening
        with pytest.raises(PortMissing, match="Nothing answers"):
            open_port(f"socket://127.0.0.1:{taken.getsockname()[1]}", Wire())
