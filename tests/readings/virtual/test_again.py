"""A sitting had again from its recording, through the bench, a file and back."""

from __future__ import annotations

import time

import numpy as np
import pytest

from benchtemp.bench.sitting import start_sitting
from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import MarkKind, Stream
from benchtemp.readings.virtual import Order, OrderKind, VirtualSource, virtual_machines
from benchtemp.readings.virtual.again import sitting_again

DEADLINE_S = 20.0


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    """Return the recording of a sitting on the real clock, with threads, keys and orders at any moment."""
    source = VirtualSource(virtual_machines()["heat-exchanger"], seed=12, speed=40.0)
    live = start_sitting(source, logbook=Logbook(tmp_path_factory.mktemp("logbook")))
    live.start()

    def wait_until(condition):
        deadline_s = time.monotonic() + DEADLINE_S
        while not (live.snapshot is not None and condition(live.snapshot)):
            assert time.monotonic() < deadline_s
            assert live.running
            time.sleep(0.003)

    def pass_s(seconds):
        until_s = source.now_s() + seconds
        wait_until(lambda shown: (shown.last_s or 0.0) > until_s)

    wait_until(lambda shown: shown.last_s is not None)
    source.order(Order(OrderKind.DOSE, 16.0))
    source.order(Order(OrderKind.SETPOINT, 116.0))
    pass_s(4.0)
    live.tare()
    for grind, flush_s in ((90.0, 3.0), (110.0, 5.0)):
        source.order(Order(OrderKind.FLUSH, flush_s))
        source.order(Order(OrderKind.GRIND, grind))
        pass_s(22.0)
        live.press()
        wait_until(lambda shown: shown.pump_running)
        pass_s(23.0)
        live.press()
        wait_until(lambda shown: not shown.pump_running)
    pass_s(12.0)
    source.order(Order(OrderKind.IDLE, 3.0))
    pass_s(170.0)
    path = live.snapshot.recording
    live.stop()
    assert live.failure is None
    return read_stream(path)


def test_a_recording_made_live_gives_its_sitting_again_to_the_last_bit(recording):
    again = sitting_again(recording)
    assert len(recording.t_s) > 2500
    np.testing.assert_array_equal(again.t_s[: len(recording.t_s)], recording.t_s)
    np.testing.assert_array_equal(again.temps_degc[: len(recording.t_s)], recording.temps_degc)
    np.testing.assert_array_equal(again.weight_g[: len(recording.t_s)], recording.weight_g)
    by_itself = [mark for mark in recording.marks if mark.kind in {MarkKind.NOTE, MarkKind.SET}]
    assert list(again.marks) == by_itself


@pytest.mark.parametrize(
    "source", [None, {"kind": "serial"}, {"kind": "virtual machine", "name": "Nobody"}], ids=str
)
def test_what_was_not_recorded_on_a_virtual_machine_is_refused(source):
    stream = Stream(("T1",), np.zeros(1), np.zeros((1, 1)), meta={"source": source})
    with pytest.raises(BadInput, match="not recorded on a virtual machine"):
        sitting_again(stream)


def test_a_header_that_was_changed_is_refused(recording):
    told = {**recording.meta["source"], "places": "basket"}
    stream = Stream(("T1",), np.zeros(1), np.zeros((1, 1)), meta={"source": told})
    with pytest.raises(BadInput, match="header does not say"):
        sitting_again(stream)
