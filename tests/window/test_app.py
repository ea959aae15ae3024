"""Opening and closing the whole program's window."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time

import pytest
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.readings.virtual import VirtualSource, virtual_machines
from benchtemp.window.app import choice_of, open_window


def main_window():
    return next(window for window in QApplication.topLevelWidgets() if window.windowTitle() == "a demo")


@pytest.mark.usefixtures("qtbot")
def test_a_window_with_a_source_begins_at_once_and_leaves_nothing_behind(monkeypatch, tmp_path):
    source = VirtualSource(virtual_machines()["dual-boiler"], seed=2, speed=16.0)
    hooks = sys.excepthook, threading.excepthook, signal.getsignal(signal.SIGINT)

    def run(*_):
        window = main_window()
        deadline_s = time.monotonic() + 10
        while (window.session.snapshot is None or not len(window.session.snapshot.trace.t_s)) and (
            time.monotonic() < deadline_s
        ):
            QApplication.processEvents()
        assert window.bench.isVisible()
        window.close()
        window.deleteLater()
        return 0

    monkeypatch.setattr(QApplication, "exec", run)
    assert open_window(source=source, logbook=tmp_path / "book", title="a demo") == 0
    assert len(list(Logbook(tmp_path / "book").recordings())) == 1
    assert (sys.excepthook, threading.excepthook, signal.getsignal(signal.SIGINT)) == hooks


def test_sources_made_elsewhere_are_kept_unless_they_are_replays():
    machine = virtual_machines()["dual-boiler"]
    choice = choice_of(VirtualSource(machine))
    assert choice.keep
    assert not choice.hardware
    assert choice.machine == machine.name


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGINT for another process")
def test_ctrl_c_in_the_terminal_closes_the_window_in_order(tmp_path):
    environment = {
        **os.environ,
        "QT_QPA_PLATFORM": "offscreen",
        **{f"BENCHTEMP_{name}": str(tmp_path / name) for name in ("PREFERENCES", "LOGBOOK", "CACHE")},
    }
    script = (
        "from PySide6.QtWidgets import QApplication\n"
        "from benchtemp.window import app\n"
        "run = QApplication.exec\n"
        "QApplication.exec = lambda *_: (print('ready', flush=True), run())[1]\n"
        "print('code', app.open_window())\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", script],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=20)
    assert out == "code 0\n"
    assert "Traceback" not in err
    assert child.returncode == 0
