"""A source that waits for keys is told of every key when it is done, also of one that comes to nothing."""

import time

import pytest

from benchtemp.bench.sitting import start_sitting
from benchtemp.bench.snapshot import Refused
from benchtemp.readings.reading import MarkKind
from benchtemp.readings.virtual import VirtualSource, virtual_machines

DEADLINE_S = 10.0


@pytest.fixture
def live(monkeypatch):
    """Return a sitting at a virtual machine without a scale that would wait very long for a key."""
    monkeypatch.setattr("benchtemp.readings.virtual.source._KEPT_FOR_KEY_S", 3.0 * DEADLINE_S)
    bench = start_sitting(VirtualSource(virtual_machines()["dual-boiler"], speed=20.0), logbook=None)
    bench.start()
    yield bench
    bench.stop()


def pass_s(live, seconds):
    until_s = live.source.now_s() + seconds
    deadline_s = time.monotonic() + DEADLINE_S
    while live.snapshot is None or (live.snapshot.last_s or 0.0) < until_s:
        assert time.monotonic() < deadline_s, "readings wait for a key that is done"
        time.sleep(0.003)


@pytest.mark.parametrize(
    "press",
    [
        lambda live: live.press(),
        lambda live: live.tare(),
        lambda live: live.mark(MarkKind.UNDO),
        lambda live: live.mark(MarkKind.PUMP_OFF),
    ],
    ids=["pump", "tare without a scale", "nothing to take back", "pump off that was never on"],
)
def test_readings_go_on_after_any_key(live, press):
    pass_s(live, 2.0)
    press(live)
    pass_s(live, 4.0)


def test_a_key_without_anything_to_take_back_is_refused(live):
    pass_s(live, 2.0)
    live.mark(MarkKind.UNDO)
    pass_s(live, 4.0)
    assert [event for event in live.drain_events() if isinstance(event, Refused)]
