"""For all tests: the same examples every time, no limit on a loaded machine, nobody's own files."""

import os
import sys
import threading

import pytest
from hypothesis import HealthCheck, settings

from benchtemp.readings import opening
from benchtemp.readings.serial_source import SerialSource
from benchtemp.readings.virtual.pot import PROBES, Bath, VirtualPot

if sys.platform != "win32":
    import fcntl
    import termios
    import tty

settings.register_profile(
    "steady",
    deadline=None,
    derandomize=True,
    database=None,
    max_examples=60,
    # A fixture of ours that a property test shares over its examples is only ever a folder or a maker.
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.load_profile("steady")


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    """Keep every test away from the user's preferences, logbook and cache."""
    for name in ("LOGBOOK", "PREFERENCES", "CACHE"):
        monkeypatch.setenv(f"BENCHTEMP_{name}", str(tmp_path / f"own-{name.lower()}"))
    return tmp_path


class TimedLines(SerialSource):
    """Reads the pot's lines, and lets its clock go on only once a line has got its time."""

    def __init__(self, wire, *args, **more):
        super().__init__(*args, clock=wire.clock, wall=wire.clock, **more)
        self._wire = wire

    def _connect(self, device):
        port = super()._connect(device)
        self._wire.opened()  # which throws away what waited
        return port

    def _note_heard(self):
        super()._note_heard()
        self._wire.heard()


class PotOnAWire:
    """A virtual pot whose readings come as lines over a real pseudo-terminal.

    Its clock waits for the program: it goes on to the next reading once the last line was taken off the wire
    and timed, and never further than `LEAD_S` beyond what the bench and whoever looks at it last asked the
    clock. So a thread that has to wait for its turn never looks like an interface that fell silent or sends
    in bursts, and a bath of minutes passes in a second or two.
    """

    LEAD_S = 10.0

    def __init__(self, probes, water=Bath.POT, pulled_after_s=float("inf")):
        self._pulled_after_s = pulled_after_s
        self._pulled = False
        self._taken_up_s = float("inf")
        self._controller, self._terminal = os.openpty()
        tty.setraw(self._controller)
        tty.setraw(self._terminal)
        self.device = os.ttyname(self._terminal)
        self.pot = VirtualPot(water, probes, seed=7)
        self.now_s = 0.0
        self._asked_s = {}
        self._is_open = False
        self._timed = threading.Event()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._talk, name="pot on a wire")
        self._thread.start()

    def clock(self):
        if self._pulled:
            self.now_s += 0.5
        asking = threading.current_thread().name
        if asking in self._asked_s:
            self._asked_s[asking] = self.now_s
        return self.now_s

    def source(self, *args, **more):
        """Open it as a source: a cable that is to be pulled is pulled so long after that."""
        self._taken_up_s = self.now_s
        self._asked_s = dict.fromkeys((threading.main_thread().name, "bench"), self.now_s)
        return TimedLines(self, *args, **more)

    def opened(self):
        self._is_open = True
        self._timed.set()

    def heard(self):
        """Note that what came off the wire has its time; the end of a line may still wait there."""
        if not self._unread():
            self._timed.set()

    def _unread(self):
        waiting = bytearray(4)
        fcntl.ioctl(self._terminal, termios.FIONREAD, waiting)
        return any(waiting)

    def _talk(self):
        while not self._over.is_set() and not self._pulled:
            reading = self.pot.next_reading()
            if reading.t_s > self._taken_up_s + self._pulled_after_s:
                self._unplug()
                return
            values = ";".join(f"T{place}={value:.1f}" for place, value in enumerate(reading.temps_degc, 1))
            self._timed.clear()
            self.now_s = reading.t_s
            os.write(self._controller, f"{values}\n".encode())
            while not self._over.is_set() and (self._is_awaited() or self._is_ahead()):
                self._over.wait(0.0005)

    def _is_awaited(self):
        """Tell whether the last line was not taken yet, or has no time yet."""
        return self._unread() or (self._is_open and not self._timed.is_set())

    def _is_ahead(self):
        return self.now_s > min(self._asked_s.values(), default=self.now_s) + self.LEAD_S

    def _unplug(self):
        self._pulled = True
        # Our hold on the other end keeps its name from whoever opens the next pseudo-terminal.
        os.close(self._controller)

    def close(self):
        self._over.set()
        self._thread.join()
        os.close(self._terminal)
        if not self._pulled:
            os.close(self._controller)


@pytest.fixture
def pot_on_a_wire(monkeypatch):
    """Return a maker of boiling pots on serial ports; the program takes their clock as its own."""
    if sys.platform == "win32":
        pytest.skip("Windows has no pseudo-terminals")
    made = []

    def make(probes=PROBES[:1], **more):
        pot = PotOnAWire(probes, **more)
        made.append(pot)
        monkeypatch.setattr(opening, "SerialSource", pot.source)
        return pot

    yield make
    for pot in made:
        pot.close()
