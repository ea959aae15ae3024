"""Memory over eight simulated hours at 10 Hz on four channels, everything kept.

Run: python tests/benchmarks/bench_memory.py

Every quarter of an hour a shot is pulled, as on a busy bench. Printed: resident memory after each hour, as a
ratio to that after the second hour (by then the buffers have their size), and what one reading costs.
"""

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil

from benchtemp.bench.engine import Bench
from benchtemp.bench.keeping import Keeper
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import Reading

RATE_HZ = 10
CHANNELS = ("T1", "T2", "T3", "T4")


def minute_of_readings(minute: int, rng: np.random.Generator) -> list[Reading]:
    t_s = minute * 60 + np.arange(60 * RATE_HZ) / RATE_HZ
    pulled_s = t_s % 900 - 300
    basket_degc = np.full(len(t_s), 70.0)
    brewing = (pulled_s >= 0) & (pulled_s < 26)
    basket_degc[brewing] += 23.0 * (1 - np.exp(-pulled_s[brewing] / 1.5))
    after = pulled_s >= 26
    basket_degc[after] += 23.0 * np.exp(-(pulled_s[after] - 26) / 60.0)
    others = [np.full(len(t_s), degc) for degc in (85.0, 124.0, 22.0)]
    temps = np.column_stack([basket_degc, *others])
    temps = np.round(temps + rng.normal(0, 0.03, temps.shape), 2)
    return [Reading(float(time_s), tuple(row)) for time_s, row in zip(t_s, temps.tolist(), strict=True)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=int, default=8)
    hours = parser.parse_args().hours
    rng = np.random.default_rng(1)
    process = psutil.Process()
    with tempfile.TemporaryDirectory() as folder:
        book = Logbook(Path(folder))
        recorder = book.new_recording(channels=CHANNELS, has_weight=False, meta={})
        keeper = Keeper(book, recorder, {})
        bench = Bench(CHANNELS, keeper=keeper)
        reference_mb = None
        busy_s = 0.0
        for hour in range(hours):
            for minute in range(60 * hour, 60 * hour + 60):
                readings = minute_of_readings(minute, rng)
                begun_s = time.process_time()
                for reading in readings:
                    bench.take(reading)
                    bench.snapshot(reading.t_s)
                busy_s += time.process_time() - begun_s
            resident_mb = process.memory_info().rss / 1e6
            if hour == 1:
                reference_mb = resident_mb
            ratio = f"{resident_mb / reference_mb:5.3f}" if reference_mb else "    -"
            shots = len(bench.snapshot(0.0).shots)
            print(f"after {hour + 1} h: {resident_mb:6.1f} MB, ratio to 2 h {ratio}, {shots} shots kept")
        keeper.close()
    reading_us = busy_s / (hours * 3600 * RATE_HZ) * 1e6
    print(f"one reading of four channels, recorded, stepped and pictured: {reading_us:.1f} µs")


if __name__ == "__main__":
    main()
