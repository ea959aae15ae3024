from __future__ import annotations

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from serial.tools.list_ports_common import ListPortInfo

from benchtemp.errors import BadInput
from benchtemp.readings import ports
from benchtemp.readings.ports import PortIdentity, PortInfo, find_again, list_ports, port_at


def adapter(
    device: str, serial_number: str | None = "A1", location: str | None = "1-2", **rest
) -> ListPortInfo:
    info = ListPortInfo(device, skip_link_detection=True)
    info.vid, info.pid = 0x1209, 0x0001
    info.serial_number, info.location = serial_number, location
    info.description = "n/a"
    for name, value in rest.items():
        setattr(info, name, value)
    return info


@pytest.fixture
def plugged_in(monkeypatch):
    found: list[ListPortInfo] = []
    monkeypatch.setattr(ports, "comports", lambda: list(found))
    return found


def test_ports_have_human_names_and_come_adapters_first_in_natural_order(plugged_in):
    built_in = ListPortInfo("/dev/ttyS0", skip_link_detection=True)
    plugged_in += [
        built_in,
        adapter("/dev/ttyUSB10", product="Probe Bridge", manufacturer="Invented Works"),
        adapter("/dev/ttyUSB2", product=None, location="1-3"),
        adapter("/dev/cu.usb1", product="Probe Bridge", manufacturer="Probe"),
        adapter("/dev/tty.usb1", product="Probe Bridge"),
        adapter("COM5", description="USB Serial Port (COM5)", manufacturer="Invented\x00 Works"),
    ]
    assert [(port.device, port.name) for port in list_ports()] == [
        ("/dev/cu.usb1", "Probe Bridge (cu.usb1)"),
        ("/dev/ttyUSB2", "USB serial adapter (ttyUSB2)"),
        ("/dev/ttyUSB10", "Invented Works Probe Bridge (ttyUSB10)"),
        ("COM5", "Invented Works USB Serial Port (COM5)"),
        ("/dev/ttyS0", "serial port (ttyS0)"),
    ]


def test_an_adapter_is_found_by_its_serial_number_whatever_its_port(plugged_in):
    plugged_in += [adapter("/dev/ttyUSB3", "A1", "9-9"), adapter("/dev/ttyUSB0", "A2", "1-2")]
    found = find_again(PortIdentity(0x1209, 1, "A1", "1-2"))
    assert found is not None
    assert found.device == "/dev/ttyUSB3"
    assert find_again(PortIdentity(0x1209, 1, "A3", "1-2")) is None
    assert find_again(PortIdentity(0x1209, 2, "A1", "1-2")) is None


def test_adapters_without_a_number_of_their_own_are_told_apart_by_their_socket(plugged_in):
    plugged_in += [adapter("/dev/ttyUSB0", None, "1-1"), adapter("/dev/ttyUSB1", None, "1-2")]
    found = find_again(PortIdentity(0x1209, 1, "", "1-2"))
    assert found is not None
    assert found.device == "/dev/ttyUSB1"
    assert find_again(PortIdentity(0x1209, 1, "", "1-3")) is None


def test_adapters_that_share_a_number_are_told_apart_by_their_socket(plugged_in):
    plugged_in += [adapter("COM3", "0001", "1-1:x.0"), adapter("COM4", "0001", "1-2:x.0")]
    found = find_again(PortIdentity(0x1209, 1, "0001", "1-2"))
    assert found is not None
    assert found.device == "COM4"
    assert find_again(PortIdentity(0x1209, 1, "0001", "1-3")) is None


@pytest.mark.skipif(sys.platform == "win32", reason="links to ports are a POSIX matter")
def test_a_link_to_a_port_is_recognised(plugged_in, tmp_path):
    device = tmp_path / "ttyUSB0"
    device.touch()
    link = tmp_path / "thermometer"
    link.symlink_to(device)
    plugged_in.append(adapter(str(device), product="Probe Bridge"))
    found = port_at(str(link))
    assert found.device == str(link)
    assert found.identity == PortIdentity(0x1209, 1, "A1", "1-2")


@pytest.mark.usefixtures("plugged_in")
def test_an_unknown_port_is_called_what_it_is_called():
    assert port_at("socket://host:5000") == PortInfo("socket://host:5000", "socket://host:5000")
    assert port_at("/dev/ttyUSB7") == PortInfo("/dev/ttyUSB7", "/dev/ttyUSB7")


def test_this_computer_can_be_asked():
    assert all(port.device and port.name for port in list_ports())


@given(
    st.builds(
        PortIdentity,
        st.integers(0, 0xFFFF),
        st.integers(0, 0xFFFF),
        st.text(max_size=12),
        st.text(max_size=8).filter(lambda text: "@" not in text),
    ),
)
def test_an_identity_reads_back_as_it_was_kept(identity):
    assert PortIdentity.parse(str(identity)) == identity


@pytest.mark.parametrize("written", ["", "COM3", "12:34:a@b", "xxxx:0001:a@b"])
def test_what_is_no_identity_is_refused(written):
    with pytest.raises(BadInput, match="choose the port"):
        PortIdentity.parse(written)
