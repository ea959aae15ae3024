from __future__ import annotations

from functools import partial

import msgspec
import pytest

from benchtemp.readings.layout import Channel, Layout, Wire
from benchtemp.readings.opening import open_source
from benchtemp.readings.reading import NoticeKind
from benchtemp.window.sources.lines_tap import LinesTap, same_wire

LAYOUT = Layout(name="one", channels=(Channel(field=1),))


@pytest.fixture
def interface(plug_in):
    return plug_in(lambda number: f"{90 + number % 10}.5\r\n".encode())


@pytest.fixture
def tap(interface):
    made = LinesTap(partial(open_source, interface.device))
    yield made
    made.stop()


def test_only_what_goes_over_the_wire_makes_two_wires():
    assert same_wire(LAYOUT, msgspec.structs.replace(LAYOUT, name="x", separator=";"))
    assert not same_wire(LAYOUT, msgspec.structs.replace(LAYOUT, wire=Wire(baud=115200)))
    assert not same_wire(LAYOUT, msgspec.structs.replace(LAYOUT, request="READ?"))


def test_lines_come_and_the_port_is_free_afterwards(tap, interface, wait_for):
    tap.start(LAYOUT)
    wait_for(lambda: len(tap.lines()) >= 3)
    assert tap.lines()[0].raw.endswith(b".5")
    assert tap.notice is None
    tap.stop()
    assert tap.lines() == ()
    again = open_source(interface.device, LAYOUT)
    again.open()  # would be refused while another reader holds it
    again.close()


def test_a_layout_that_reads_the_same_wire_differently_keeps_the_lines(tap, wait_for):
    tap.start(LAYOUT)
    wait_for(lambda: len(tap.lines()) >= 3)
    thread = tap._thread
    tap.start(msgspec.structs.replace(LAYOUT, channels=(Channel(field=1, unit="degF"),)))
    assert tap._thread is thread
    tap.start(msgspec.structs.replace(LAYOUT, wire=Wire(baud=19200)))
    assert tap._thread is not thread
    wait_for(lambda: bool(tap.lines()))


def test_a_port_that_does_not_open_is_told(wait_for):
    tap = LinesTap(partial(open_source, "/dev/no-such-port"))
    tap.start(LAYOUT)
    wait_for(lambda: tap.notice is not None)
    assert "no-such-port" in tap.notice.text
    tap.stop()


def test_an_unplugged_interface_is_told(tap, interface, wait_for):
    tap.start(LAYOUT)
    wait_for(lambda: bool(tap.lines()))
    interface.unplug()
    wait_for(lambda: tap.notice is not None)
    assert tap.notice.kind is NoticeKind.LOST
