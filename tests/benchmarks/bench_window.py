"""What the window costs, against bare programs: `python tests/benchmarks/bench_window.py`.

1. Time from the start of the process to the first paint, against an empty PySide6 + pyqtgraph window; and to
   the moment when the rest of our window, made after its first paint, is there too.
2. Processor time, and the time from a line's sending to the paint that shows it, at 4 channels × 10 Hz over a
   pseudo-terminal, against a minimal script of pyserial and pyqtgraph.

Both sides take turns within one run, so the machine's speed drops out. Needs a POSIX system.
"""

from __future__ import annotations

import contextlib
import os
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import tty
from pathlib import Path

import psutil

ROOT = Path(__file__).parents[2]
STARTS = 7
SETTLE_S, WATCH_S = 4.0, 20.0
GOAL_START, GOAL_RUN = 1.3, 1.0
RATE_HZ = 10.0

FIRST_PAINT = """
from PySide6.QtCore import QEvent, QObject
class FirstPaint(QObject):
    def __init__(self, app, widget):
        super().__init__(widget)
        self.app = app
        widget.installEventFilter(self)
    def eventFilter(self, watched, event):
        if event.type() is QEvent.Type.Paint:
            watched.removeEventFilter(self)
            print("painted", flush=True)
            self.app.quit()
        return False
"""

BARE_WINDOW = """
from PySide6.QtWidgets import QApplication, QMainWindow
import pyqtgraph as pg
app = QApplication([])
window = QMainWindow()
plot = pg.PlotWidget()
window.setCentralWidget(plot)
window.resize(1280, 840)
{first_paint}
watch = FirstPaint(app, plot.viewport())
window.show()
app.exec()
"""

OUR_WINDOW = """
from benchtemp.window.app import make_application, make_window
app = make_application()
window = make_window(app)
window.resize(1280, 840)
{first_paint}
watch = FirstPaint(app, window.start.title)
window.show()
app.exec()
window.complete()
print("complete", flush=True)
window.close()
"""

# What both readers report: when a paint was over, and the newest value it showed.
PAINTS = """
import sys, time
from PySide6.QtCore import QEvent, QObject
class Paints(QObject):
    def __init__(self, viewport, newest):
        super().__init__(viewport)
        self.newest, self.last = newest, None
        viewport.installEventFilter(self)
    def eventFilter(self, watched, event):
        if event.type() is QEvent.Type.Paint:
            value = self.newest()
            if value is not None and value != self.last:
                self.last = value
                sys.stdout.write(f"{time.perf_counter():.6f} {value:.3f}\\n")
                sys.stdout.flush()
        return False
"""

MINIMAL_SCRIPT = """
import sys
import serial
import pyqtgraph as pg
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
{paints}
app = QApplication([])
port = serial.Serial(sys.argv[1], 115200, timeout=0)
plot = pg.PlotWidget()
plot.resize(1000, 600)
curves = [plot.plot(pen=colour) for colour in "rgby"]
times, temps, rest = [], [[], [], [], []], b""
def read():
    global rest
    lines = (rest + port.read(port.in_waiting or 0)).split(b"\\n")
    rest = lines.pop()
    for line in lines:
        values = [float(part) for part in line.split(b",")]
        times.append(len(times) / 10)
        for channel, value in enumerate(values):
            temps[channel].append(value)
    if lines:
        for curve, values in zip(curves, temps):
            curve.setData(times, values)
timer = QTimer()
timer.timeout.connect(read)
timer.start(50)
plot.show()
watch = Paints(plot.viewport(), lambda: temps[0][-1] if temps[0] else None)
app.exec()
"""

OUR_BENCH = """
import sys
from benchtemp.readings.layout import shipped_layout
from benchtemp.readings.opening import open_source
from benchtemp.window.app import make_application, make_window
from benchtemp.window.panel import SourceChoice
{paints}
app = make_application()
window = make_window(app)
window.resize(1280, 840)
window.show()
source = open_source(sys.argv[1], shipped_layout("csv-four-channels"))
window.session.begin(SourceChoice(source, hardware=True))
curves = window.bench.plot.curves
def newest():
    if not curves.channels:
        return None
    temps = curves.curve(0).getOriginalDataset()[1]
    return None if temps is None or not len(temps) else float(temps[-1])
watch = Paints(window.bench.plot.canvas.viewport(), newest)
app.exec()
"""


def environment(folder: str) -> dict[str, str]:
    named = {f"BENCHTEMP_{name}": f"{folder}/{name.lower()}" for name in ("PREFERENCES", "LOGBOOK", "CACHE")}
    platform = os.environ.get("QT_QPA_PLATFORM", "offscreen")
    return {**os.environ, **named, "QT_QPA_PLATFORM": platform, "PYTHONPATH": str(ROOT)}


def first_paint_s(script: str) -> tuple[float, float]:
    """Return the times to the first paint and until everything is there, s."""
    with tempfile.TemporaryDirectory() as folder:
        began_s = time.perf_counter()
        child = subprocess.Popen(
            [sys.executable, "-c", script.format(first_paint=FIRST_PAINT)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment(folder),
            text=True,
        )
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "painted"
        painted_s = time.perf_counter() - began_s
        whole_s = time.perf_counter() - began_s if child.stdout.readline() else painted_s
        child.wait(20)
        return painted_s, whole_s


class Interface(threading.Thread):
    """Prints four temperatures ten times a second; the first of them tells which line it is."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.ours, theirs = os.openpty()
        for end in (self.ours, theirs):
            tty.setraw(end)
        os.set_blocking(self.ours, False)
        self.port = os.ttyname(theirs)
        self._theirs = theirs
        self.sent_s: dict[str, float] = {}
        self._over = threading.Event()

    def run(self) -> None:
        number = 0
        jitter = random.Random(3)
        next_s = time.perf_counter()
        while not self._over.is_set():
            number += 1
            first = f"{60 + number / 100:.3f}"
            line = f"{first},91.25,{92 + number % 7 / 10:.2f},24.00\r\n"
            self.sent_s[first] = time.perf_counter()
            with contextlib.suppress(BlockingIOError):
                os.write(self.ours, line.encode())
            # Not quite even, or the readers' timers would meet every line at the same phase.
            next_s += (0.75 + 0.5 * jitter.random()) / RATE_HZ
            time.sleep(max(0.0, next_s - time.perf_counter()))

    def stop(self) -> None:
        self._over.set()
        self.join()
        os.close(self.ours)
        os.close(self._theirs)


def running(script: str) -> tuple[float, list[float]]:
    """Return processor time as a share of one core, and delays from sending to paint in s."""
    interface = Interface()
    with tempfile.TemporaryDirectory() as folder:
        child = subprocess.Popen(
            [sys.executable, "-c", script.format(paints=PAINTS), interface.port],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment(folder),
            text=True,
        )
        assert child.stdout is not None
        painted: list[tuple[float, str]] = []

        def collect() -> None:
            for line in child.stdout or ():
                at, value = line.split()
                painted.append((float(at), value))

        collector = threading.Thread(target=collect, daemon=True)
        collector.start()
        interface.start()
        time.sleep(SETTLE_S)
        process = psutil.Process(child.pid)
        before, began_s = process.cpu_times(), time.perf_counter()
        time.sleep(WATCH_S)
        after, ended_s = process.cpu_times(), time.perf_counter()
        child.terminate()
        child.wait(20)
        collector.join(5)
        interface.stop()
    used_s = after.user + after.system - before.user - before.system
    delays = [
        at_s - interface.sent_s[value]
        for at_s, value in painted
        if began_s <= at_s <= ended_s and value in interface.sent_s
    ]
    return used_s / (ended_s - began_s), delays


def main() -> None:
    starts: dict[str, list[tuple[float, float]]] = {"bare": [], "ours": []}
    first_paint_s(BARE_WINDOW)
    first_paint_s(OUR_WINDOW)  # both once unmeasured: bytecode and disk caches
    for _ in range(STARTS):
        starts["bare"].append(first_paint_s(BARE_WINDOW))
        starts["ours"].append(first_paint_s(OUR_WINDOW))
    bare_s = statistics.median(painted_s for painted_s, _ in starts["bare"])
    ours_s, whole_s = (statistics.median(times) for times in zip(*starts["ours"], strict=True))
    print(
        f"first paint: bare {bare_s * 1e3:.0f} ms, ours {ours_s * 1e3:.0f} ms, whole {whole_s * 1e3:.0f} ms"
    )
    print(f"ratio {ours_s / bare_s:.2f} (goal {GOAL_START}), with everything {whole_s / bare_s:.2f}")
    results = {}
    for name, script in (("minimal", MINIMAL_SCRIPT), ("ours", OUR_BENCH)):
        share, delays = running(script)
        delays.sort()
        results[name] = share, statistics.median(delays)
        print(
            f"{name}: {share * 100:.1f} % of a core; from sending to paint median"
            f" {statistics.median(delays) * 1e3:.1f} ms, 95 % {delays[int(len(delays) * 0.95)] * 1e3:.1f} ms;"
            f" {len(delays)} paints"
        )
    cpu = results["ours"][0] / results["minimal"][0]
    delay = results["ours"][1] / results["minimal"][1]
    print(f"processor time ratio {cpu:.2f}, delay ratio {delay:.2f} (goal {GOAL_RUN})")


if __name__ == "__main__":
    main()
