"""Some wheels of Qt's binding use up None and True on Python below 3.12: in time any window dies of it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

SCRIPT = """
import sys
from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication
app = QApplication([])
import numpy as np
from benchtemp.window.theme import LIGHT
from benchtemp.window.trace_plot import TracePlot
class Sender(QObject):
    said = Signal(bool)
sender, heard = Sender(), []
sender.said.connect(lambda value: None)
plot = TracePlot()
plot.set_theme(LIGHT)
plot.resize(640, 360)
plot.show()
plot.curves.set_channels(("T1",), 0)
def turn(times):
    for tick in range(times):
        plot.curves.show(np.arange(300.0), np.full((300, 1), 90.0 + tick % 5))
        plot.canvas.repaint()
        sender.said.emit(True)
        app.processEvents()
turn(20)
before = sys.getrefcount(None), sys.getrefcount(True)
turn(300)
after = sys.getrefcount(None), sys.getrefcount(True)
print(after[0] - before[0], after[1] - before[1])
"""


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None and True are immortal from Python 3.12 on")
def test_none_and_true_are_not_used_up_by_repainting():
    run = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
    )
    none_change, true_change = map(int, run.stdout.split())
    assert none_change > -20, f"{none_change} references to None over 300 repaints"
    assert true_change > -20, f"{true_change} references to True over 300 signals"
