"""Ten minutes of 8 channels × 100 Hz through a pseudo-terminal: `python tests/benchmarks/bench_capture.py`.

Lines go in as fast as they are taken, so the rate shown is what the reader can keep up with; every value of
every line must come out, once and in order.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchtemp.readings.layout import Channel, Layout, Wire
from benchtemp.readings.reading import Mark, Reading
from benchtemp.readings.serial_source import SerialSource

if sys.platform != "win32":
    import tty

RATE_HZ = 100
CHANNELS = 8
LINES = 10 * 60 * RATE_HZ
LINES_AT_ONCE = 50


def value(line: int, channel: int) -> float:
    return round(80 + channel + (line * 7 + channel) % 2000 / 100, 2)


def send_all(controller: int) -> None:
    os.write(controller, b"\n")
    for start in range(0, LINES, LINES_AT_ONCE):
        raw = b"".join(
            ",".join(f"{value(line, channel):.2f}" for channel in range(CHANNELS)).encode() + b"\r\n"
            for line in range(start, min(start + LINES_AT_ONCE, LINES))
        )
        while raw:
            raw = raw[os.write(controller, raw) :]


def main() -> int:
    if sys.platform == "win32":
        print("Windows has no pseudo-terminals; nothing measured.")
        return 0
    controller, terminal = os.openpty()
    tty.setraw(controller)
    tty.setraw(terminal)
    layout = Layout(
        name="capture",
        channels=tuple(Channel(field=number) for number in range(1, CHANNELS + 1)),
        fields=CHANNELS,
        wire=Wire(baud=921600),
    )
    source = SerialSource(os.ttyname(terminal), layout)
    source.open()
    sender = threading.Thread(target=send_all, args=(controller,), daemon=True)
    begun_s, begun_cpu_s = time.perf_counter(), time.thread_time()
    sender.start()
    got = wrong = gaps = 0
    last_t_s = -1.0
    last_progress_s = time.perf_counter()
    while got < LINES and time.perf_counter() - last_progress_s < 10:
        for item in source.read():
            if isinstance(item, Reading):
                expected = tuple(value(got, channel) for channel in range(CHANNELS))
                wrong += item.temps_degc != expected or item.t_s < last_t_s
                last_t_s = item.t_s
                got += 1
                last_progress_s = time.perf_counter()
            elif isinstance(item, Mark):
                gaps += 1
    took_s = time.perf_counter() - begun_s
    cpu_s = time.thread_time() - begun_cpu_s
    source.close()
    os.close(controller)
    os.close(terminal)
    print(f"{got} of {LINES} lines in {took_s:.1f} s: {got / took_s:.0f} lines/s, {wrong} wrong, {gaps} gaps")
    print(
        f"that is {got / took_s / RATE_HZ:.0f} × the rate of {CHANNELS} channels × {RATE_HZ} Hz; "
        f"reader and check took {cpu_s / max(got, 1) * 1e6:.1f} µs of processor time a line"
    )
    return 0 if got == LINES and not wrong else 1


if __name__ == "__main__":
    sys.exit(main())
