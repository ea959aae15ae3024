"""Streams, interfaces on a pseudo-terminal, and a screen to show sources on."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time

import numpy as np
import pytest
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from benchtemp.logbook.ecsv import write_stream
from benchtemp.readings.ports import PortInfo
from benchtemp.readings.reading import Mark, MarkKind, Stream


@pytest.fixture
def show(qtbot):
    """Return a function that shows a panel with something else beside it that can take the focus."""
    hosts = []

    def put(panel, width_px=640, height_px=None):
        host = QWidget()
        hosts.append(host)
        qtbot.addWidget(host)
        column = QVBoxLayout(host)
        column.addWidget(panel)
        column.addWidget(QPushButton("elsewhere"))
        panel.setFixedWidth(width_px)
        if height_px:
            panel.setFixedHeight(height_px)
        host.show()
        qtbot.waitExposed(host)
        host.activateWindow()
        qtbot.waitUntil(host.isActiveWindow)
        return panel

    yield put
    for host in hosts:
        host.hide()


@pytest.fixture
def stream():
    """Return 200 s of one channel at 10 Hz with two pulls marked."""
    t_s = np.round(np.arange(0.0, 200.0, 0.1), 4)
    marks = (
        Mark(20.0, MarkKind.PUMP_ON),
        Mark(45.2, MarkKind.PUMP_OFF),
        Mark(60.0, MarkKind.NOTE, "cup changed"),
        Mark(100.0, MarkKind.PUMP_ON),
        Mark(127.0, MarkKind.PUMP_OFF),
    )
    rows = tuple(int(np.searchsorted(t_s, mark.t_s)) for mark in marks)
    meta = {
        "machine": "Kestle Bench",
        "started": "2025-11-24T10:15:00+01:00",
        "tags": {"coffee": "house blend"},
    }
    return Stream(("T1",), t_s, np.full((len(t_s), 1), 93.0), marks=marks, mark_rows=rows, meta=meta)


@pytest.fixture
def recording(tmp_path, stream):
    """Return the path of that stream as a file."""
    path = tmp_path / "morning.ecsv"
    write_stream(path, stream)
    return path


class Interface:
    """An interface on a pseudo-terminal that sends lines until it is unplugged."""

    def __init__(self, make_line, period_s=0.02):
        import tty  # noqa: PLC0415 - not on Windows

        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        self.device = os.ttyname(self._slave)
        self.port = PortInfo(self.device, "Test interface")
        self._make_line = make_line
        self._period_s = period_s
        self._stopping = threading.Event()
        self._heard = bytearray()
        self._thread = threading.Thread(target=self._send, name="test interface", daemon=True)
        self._thread.start()

    def _send(self):
        number = 0
        os.set_blocking(self._master, False)
        while not self._stopping.wait(self._period_s):
            try:
                os.write(self._master, self._make_line(number))
            except BlockingIOError:  # nobody reads at present
                continue
            number += 1

    def heard(self):
        """Return what has been sent to the interface so far."""
        with contextlib.suppress(BlockingIOError):
            self._heard += os.read(self._master, 4096)
        return bytes(self._heard)

    def unplug(self):
        if not self._stopping.is_set():
            self._stopping.set()
            self._thread.join(2.0)
            os.close(self._master)

    def close(self):
        self.unplug()
        # Held until now, so that nobody else's pseudo-terminal was given its name.
        os.close(self._slave)


@pytest.fixture
def plug_in():
    """Return a function that plugs in an interface sending what `make_line(number)` gives."""
    if sys.platform == "win32":
        pytest.skip("Windows has no pseudo-terminals")
    interfaces = []

    def plug(make_line, period_s=0.02):
        interfaces.append(Interface(make_line, period_s))
        return interfaces[-1]

    yield plug
    for interface in interfaces:
        interface.close()


@pytest.fixture
def wait_for():
    """Return a wait for something that happens in another thread, without an event loop."""

    def wait(condition, seconds=10.0):
        deadline_s = time.monotonic() + seconds
        while not condition():
            assert time.monotonic() < deadline_s, "it did not happen"
            time.sleep(0.005)

    return wait
